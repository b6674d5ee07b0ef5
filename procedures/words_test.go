package procedures_test

import (
	"slices"
	"strings"
	"testing"

	"stepcaller/procedures"
)

func override(c string, say ...string) procedures.Override {
	return procedures.Override{Command: c, Say: say}
}

func TestDefaultWords(t *testing.T) {
	w := procedures.DefaultWords()
	for _, m := range procedures.Meanings() {
		if got, ok := w.Command(string(m.Command)); !ok || got != m.Command {
			t.Errorf("%q gives %q, %v", m.Command, got, ok)
		}
		if w.Phrase(m.Command) != string(m.Command) {
			t.Errorf("%q is said %q", m.Command, w.Phrase(m.Command))
		}
		if m.Does == "" || strings.HasSuffix(m.Does, ".") {
			t.Errorf("%q means %q", m.Command, m.Does)
		}
	}
	for _, phrase := range []string{"left", "right", "off", "clear", "down", "back", "", "Next"} {
		if c, ok := w.Command(phrase); ok {
			t.Errorf("%q gives %q", phrase, c)
		}
	}
}

// Every phrase is written as the ears' labels are, and spoken as it is written.
func TestTrainedPhrases(t *testing.T) {
	phrases := procedures.TrainedPhrases()
	if want := 38 + 11 + 13 + 10 + 3; len(phrases) != want {
		t.Errorf("%d phrases, want %d", len(phrases), want)
	}
	for i, phrase := range phrases {
		if slices.Contains(phrases[:i], phrase) {
			t.Errorf("%q stands twice", phrase)
		}
		if phrase != strings.ToLower(phrase) || procedures.Speakable(phrase) != phrase {
			t.Errorf("%q is said %q", phrase, procedures.Speakable(phrase))
		}
	}
}

func TestNewWords(t *testing.T) {
	w, err := procedures.NewWords([]procedures.Override{
		override("Next", "carry  on"), override("carry on", "start listening"), override("start listening", "joining in"),
		override("joining in"), override("what’s left", "what's left", "help"), override("help"),
	})
	if err != nil {
		t.Fatal(err)
	}
	for phrase, want := range map[string]procedures.Command{
		"carry on": procedures.Next, "start listening": procedures.CarryOn, "joining in": procedures.StartListening,
		"what's left": procedures.WhatsLeft, "help": procedures.WhatsLeft, "repeat": procedures.Repeat,
	} {
		if got, _ := w.Command(phrase); got != want {
			t.Errorf("%q gives %q, want %q", phrase, got, want)
		}
	}
	if _, ok := w.Command("next"); ok {
		t.Error("the phrase that was replaced is still obeyed")
	}
	if got := w.Live(procedures.Next, procedures.WhatsLeft, procedures.Help); !slices.Equal(got, []string{"carry on", "what's left", "help"}) {
		t.Errorf("live are %q", got)
	}
	if w.Phrase(procedures.Help) != "" {
		t.Errorf("help is said %q, want no phrase", w.Phrase(procedures.Help))
	}
}

func TestNewWords_refuses(t *testing.T) {
	for _, c := range []struct {
		name      string
		overrides []procedures.Override
		want      string
	}{
		{"unknown command", []procedures.Override{override("nxt", "yes")}, `words: unknown command "nxt"; did you mean "next"?`},
		{"untrained phrase", []procedures.Override{override("next", "repaet")}, `words: command "next": the ears do not know "repaet"; did you mean "repeat"?`},
		{"nothing like it", []procedures.Override{override("next", "abracadabra now")}, `words: command "next": the ears do not know "abracadabra now"; choose from: next, repeat,`},
		{"two commands on one phrase", []procedures.Override{override("next", "repeat")}, `words: "repeat" would give both "next" and "repeat"; give one of them another phrase with an entry of its own`},
		{"a word of every sentence", []procedures.Override{override("previous step", "back")}, `words: command "previous step": "back" is said too often in a workshop to be a command; use two words`},
		{"a command twice", []procedures.Override{override("next", "next"), override("next", "repeat")}, `words: command "next" is given twice; put all its phrases in one entry`},
		{"deaf for good", []procedures.Override{override("start listening")}, `words: command "start listening" has no phrase; after "stop listening" nothing would be heard again`},
		{"empty phrase", []procedures.Override{override("next", "")}, `words: command "next": the ears do not know ""`},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := procedures.NewWords(c.overrides); err == nil || !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("error %v, want %s", err, c.want)
			}
		})
	}
}

func TestWordsWith(t *testing.T) {
	words, err := procedures.DefaultWords().With(" Weiter ", procedures.Next)
	if err != nil {
		t.Fatal(err)
	}
	if c, ok := words.Command("weiter"); !ok || c != procedures.Next {
		t.Errorf("weiter gives %q, %v", c, ok)
	}
	if got := words.Live(procedures.Next); !slices.Equal(got, []string{"next", "weiter"}) {
		t.Errorf("live %q", got)
	}
	if _, ok := procedures.DefaultWords().Command("weiter"); ok {
		t.Error("the words that it was made from changed")
	}
	if again, err := words.With("weiter", procedures.Next); err != nil || len(again.Phrases(procedures.Next)) != 2 {
		t.Errorf("given twice: %q, %v", again.Phrases(procedures.Next), err)
	}
	for phrase, want := range map[string]string{"repeat": `"repeat" gives "repeat" already`, "": "needs a name", "left": "said too often"} {
		if _, err := words.With(phrase, procedures.Next); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", phrase, err, want)
		}
	}
	if _, err := words.With("weiter", procedures.Repeat); err == nil || !strings.Contains(err.Error(), `gives "next" already`) {
		t.Errorf("two commands: %v", err)
	}
	if _, err := words.With("los", "nxt"); err == nil || !strings.Contains(err.Error(), `did you mean "next"`) {
		t.Errorf("no command: %v", err)
	}
}

func TestInGroup(t *testing.T) {
	seen := 0
	for _, g := range []procedures.Group{procedures.Always, procedures.Answers, procedures.Reasons, procedures.Numbers, procedures.Cautions, procedures.Dictation} {
		if g.String() == "" || len(procedures.InGroup(g)) == 0 {
			t.Errorf("group %d: %q, %v", g, g, procedures.InGroup(g))
		}
		seen += len(procedures.InGroup(g))
	}
	if seen != len(procedures.Meanings()) {
		t.Errorf("the groups hold %d commands of %d", seen, len(procedures.Meanings()))
	}
	for _, c := range procedures.DefaultReasons() {
		if m, ok := procedures.MeaningOf(c); !ok || m.Group != procedures.Reasons && c != procedures.OtherJob {
			t.Errorf("reason %q is %+v", c, m)
		}
	}
}
