package procedures

// Load reads a procedure file. It returns every mistake at once; the procedure
// is nil when one of them is an Error. The name stands in the mistakes only.
func Load(name string, data []byte) (*Procedure, []Mistake) {
	return nil, []Mistake{{File: name, What: "reading is not written yet", Mend: "wait"}}
}
