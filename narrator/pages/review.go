package pages

import "net/http"

// reviewPages are those on which one looks back.
func (s *server) reviewPages(mux *http.ServeMux) {
	mux.HandleFunc("GET /jobs/{job}", s.jobPage)
	mux.HandleFunc("GET /jobs/{job}/memos/{memo}", s.memo)
}
