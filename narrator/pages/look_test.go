package pages_test

import (
	"net/http"
	"os"
	"testing"
	"time"

	"stepcaller/narrator/pages"
	"stepcaller/procedures/tongue"
)

// TestLook serves the pages on what is in a folder, until it is ended: STEPCALLER_LOOK=ADDRESS go test -run TestLook.
func TestLook(t *testing.T) {
	address := os.Getenv("STEPCALLER_LOOK")
	if address == "" {
		t.Skip("only to look")
	}
	de, _ := tongue.Named(os.Getenv("STEPCALLER_TONGUE"))
	store, data := keep(t, append(months(60)(t), day(t)...)...)
	h, err := pages.New(pages.Config{Store: store, Data: data, Tongue: de, Change: writing(store), Procedures: t.TempDir(), Archive: figuresOf(t, data, store), Now: func() time.Time { return evening }})
	if err != nil {
		t.Fatal(err)
	}
	t.Log(http.ListenAndServe(address, h))
}
