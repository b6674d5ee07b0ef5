package pages_test

import (
	"net/http"
	"os"
	"testing"
	"time"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/pages"
	"stepcaller/procedures/tongue"
)

// TestLook serves the pages on the tests' shop, or on what is in a folder, until it is ended:
// STEPCALLER_LOOK=127.0.0.1:7801 STEPCALLER_LOOK_DATA=FOLDER go test -run TestLook -timeout 0 ./narrator/pages.
func TestLook(t *testing.T) {
	address := os.Getenv("STEPCALLER_LOOK")
	if address == "" {
		t.Skip("only to look; see above")
	}
	language, err := tongue.Named(os.Getenv("STEPCALLER_LOOK_LANGUAGE"))
	if err != nil {
		t.Fatal(err)
	}
	c := pages.Config{Tongue: language, Procedures: t.TempDir(), Now: func() time.Time { return evening }}
	if c.Data = os.Getenv("STEPCALLER_LOOK_DATA"); c.Data != "" {
		store, err := journal.Open(c.Data, journal.Reader)
		if err != nil {
			t.Fatal(err)
		}
		defer store.Close()
		c.Store, c.Now, c.Invented = store, time.Now, journal.Invented(c.Data)
	} else {
		c.Store, c.Data = keep(t, append(months(60)(t), day(t)...)...)
	}
	c.Archive, c.Change = figuresOf(t, c.Data, c.Store), writing(c.Store)
	t.Log(http.ListenAndServe(address, h(t, c)))
}

func h(t *testing.T, c pages.Config) http.Handler {
	t.Helper()
	handler, err := pages.New(c)
	if err != nil {
		t.Fatal(err)
	}
	return handler
}
