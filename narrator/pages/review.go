package pages

import "net/http"

// reviewPages are those on which one looks back.
func (s *server) reviewPages(mux *http.ServeMux) {
	mux.HandleFunc("GET /today", s.today)
	mux.HandleFunc("GET /export.json", s.exportJSON)
	mux.HandleFunc("GET /export.csv.zip", s.exportCSV)
	mux.HandleFunc("GET /jobs", s.history)
	mux.HandleFunc("GET /procedures", s.procedureList)
	mux.HandleFunc("GET /procedures/new", s.draft)
	mux.HandleFunc("POST /procedures/new", s.keep)
	mux.HandleFunc("GET /procedures/{procedure}", s.procedure)
	mux.HandleFunc("GET /procedures/{procedure}/figure/{file...}", s.figure)
	mux.HandleFunc("GET /procedures/{procedure}/edit", s.edit)
	mux.HandleFunc("POST /procedures/{procedure}/edit", s.keep)
	mux.HandleFunc("GET /jobs/{job}", s.jobPage)
	mux.HandleFunc("GET /jobs/{job}/sheet", s.record)
	mux.HandleFunc("GET /jobs/{job}/memos/{memo}", s.memo)
	mux.HandleFunc("POST /jobs/{job}/correct", s.correct)
	mux.HandleFunc("POST /jobs/{job}/remark", s.remark)
	mux.HandleFunc("POST /jobs/{job}/withdraw", s.withdraw)
	mux.HandleFunc("POST /jobs/{job}/enter", s.enter)
}
