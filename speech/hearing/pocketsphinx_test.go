//go:build pocketsphinx

package hearing_test

import (
	"testing"

	"stepcaller/speech/hearing"
)

func TestPocketSphinxStandsBesideOurs(t *testing.T) {
	clips, live := spokenClips(t)
	r := measure(t, hearing.Test{Engines: append([]hearing.Engine{realEars}, hearing.Peers()...), Live: live, Clips: clips})
	if len(r.Engines) != 2 || r.Engines[1].Name != "pocketsphinx" {
		t.Fatalf("%+v", r.Engines)
	}
	if c := r.Engines[1].Conditions[0]; c.N != 6 || c.Counts.Forced < 4 || c.Counts.AcceptedRight < 3 {
		t.Errorf("clean: %+v", c)
	}
	if _, err := hearing.Peers()[0].Listen([]string{"next", "xqzzt"}); err == nil {
		t.Error("a word that its dictionary lacks is no mistake")
	}
}
