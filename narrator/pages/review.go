package pages

import "net/http"

// reviewPages are those on which one looks back.
func (s *server) reviewPages(mux *http.ServeMux) {
	mux.HandleFunc("GET /jobs/{job}", s.jobPage)
	mux.HandleFunc("GET /jobs/{job}/sheet", s.record)
	mux.HandleFunc("GET /jobs/{job}/memos/{memo}", s.memo)
	mux.HandleFunc("POST /jobs/{job}/correct", s.correct)
	mux.HandleFunc("POST /jobs/{job}/remark", s.remark)
	mux.HandleFunc("POST /jobs/{job}/withdraw", s.withdraw)
	mux.HandleFunc("POST /jobs/{job}/enter", s.enter)
}
