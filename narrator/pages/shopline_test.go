package pages_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/pages"
	"stepcaller/procedures"
)

func TestTheGlanceSaysWhatTheShopHas(t *testing.T) {
	zone := time.Local
	time.Local = time.UTC
	defer func() { time.Local = zone }()
	offer := narrator.Offered{Offers: []narrator.Offer{{Job: "2023-11-14-1.lift-2", Bay: "lift-2", Title: "Front brakes", Machine: "Ostwick Pony", Step: 7}}}
	for name, c := range map[string]struct {
		told   []narrator.Input
		want   []string
		absent string
	}{
		"on its own":   {nil, nil, `class="unsent"`},
		"all sent":     {[]narrator.Input{narrator.Sending{Joined: true, Reached: true}}, []string{"All sent"}, "not sent"},
		"not sent":     {[]narrator.Input{narrator.Sending{Joined: true, Events: 11, Notes: 1, Jobs: 2, Last: dawn}}, []string{"12 not sent", "the shop was last reached at 22:13"}, "All sent"},
		"being sent":   {[]narrator.Input{narrator.Sending{Joined: true, Events: 3, Jobs: 1, Reached: true, Last: dawn}}, []string{"3 not sent"}, "last reached"},
		"job on offer": {[]narrator.Input{narrator.Sending{Joined: true, Reached: true}, offer}, []string{"On offer", "Ostwick Pony, Front brakes, from bay lift-2"}, "not sent"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBay(t, "valve-cover", nil)
			idle := &bay{narrator.NewBay(narrator.DefaultSettings()), t, dawn}
			for _, in := range c.told {
				b.take(in)
				idle.take(in)
			}
			for _, bay := range []*bay{b, idle} {
				hub := pages.NewHub()
				hub.Publish(pages.GlanceAt(bay.Bay, bay.at, procedures.DefaultWords()))
				status, body := get(t, request(t, http.MethodGet, serve(t, pages.Config{Hub: hub}).URL))
				for _, want := range c.want {
					if want != "On offer" && !strings.Contains(body, want) || status != http.StatusOK {
						t.Errorf("%d, without %q: %s", status, want, body)
					}
				}
				if strings.Contains(body, c.absent) {
					t.Errorf("with %q", c.absent)
				}
			}
		})
	}
}
