package journal

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"strings"

	"stepcaller/narrator"
)

// The layout of a database file, https://www.sqlite.org/fileformat2.html: pages, of which ours all have the usual size, and the
// write-ahead log, in which each page has a header in front.
const (
	pageSize    = 4096
	walHead     = 32
	frameHead   = 24
	mostLocal   = pageSize - 35             // bytes of a row that a leaf page takes in
	leastLocal  = (pageSize-12)*32/255 - 23 // of one that goes on elsewhere
	perOverflow = pageSize - 4              // bytes of a row on each page on which it goes on
	rowMost     = 64 << 20                  // no event is longer
	plainCols   = 8                         // of an event without a sum
	summedCols  = plainCols + 1
)

// remains are the pages of a database and its log, however damaged. Events are never changed, so that an event found on any of them,
// however old the page, is true where its sum is.
type remains struct {
	db, wal *os.File // nil for one that is not there
	pages   int64
	frames  int64
	logged  map[uint32][]int64 // frames that hold a page
}

func openRemains(path string) (*remains, error) {
	r := &remains{logged: map[uint32][]int64{}}
	var err error
	if r.db, r.pages, err = openPages(path, 0, pageSize); err != nil {
		return nil, err
	}
	if r.wal, r.frames, err = openPages(path+"-wal", walHead, frameHead+pageSize); err != nil {
		return nil, errors.Join(err, r.close())
	}
	for frame := range r.frames {
		var head [4]byte
		if _, err := r.wal.ReadAt(head[:], walHead+frame*(frameHead+pageSize)); err == nil {
			page := binary.BigEndian.Uint32(head[:])
			r.logged[page] = append(r.logged[page], frame)
		}
	}
	return r, nil
}

// openPages opens a file and counts its units, the last of which may be cut short.
func openPages(path string, head, unit int64) (*os.File, int64, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, 0, errors.Join(err, f.Close())
	}
	return f, max(0, info.Size()-head+unit-1) / unit, nil
}

func (r *remains) close() error {
	var errs []error
	for _, f := range []*os.File{r.db, r.wal} {
		if f != nil {
			errs = append(errs, f.Close())
		}
	}
	return errors.Join(errs...)
}

// page reads a page of the database, and frame one of the log. What is cut off or cannot be read is zeros.
func (r *remains) page(n int64) []byte { return readPage(r.db, n*pageSize) }
func (r *remains) frame(n int64) []byte {
	return readPage(r.wal, walHead+n*(frameHead+pageSize)+frameHead)
}

func readPage(f *os.File, at int64) []byte {
	p := make([]byte, pageSize)
	if f != nil {
		_, _ = io.ReadFull(io.NewSectionReader(f, at, pageSize), p)
	}
	return p
}

// each visits every event that can be found: those of the log first, and there the latest.
func (r *remains) each(visit func(row)) {
	for n := r.frames - 1; n >= 0; n-- {
		r.scan(r.frame(n), visit)
	}
	for n := range r.pages {
		r.scan(r.page(n), visit)
	}
}

// scan takes every byte of a page for the beginning of an event, as what says where they begin may be what is damaged.
func (r *remains) scan(page []byte, visit func(row)) {
	for at := range page {
		size, n := varint(page[at:])
		id, m := varint(page[at+n:])
		if n == 0 || m == 0 || size < plainCols || size > rowMost || id <= 0 {
			continue
		}
		local := page[at+n+m:]
		if len(local) == 0 || local[0] <= plainCols || local[0] > 6*summedCols { // the length of a row's head
			continue
		}
		for _, logFirst := range []bool{true, false} {
			payload, whole := r.payload(local, size, logFirst)
			if !whole {
				break
			}
			if found, ok := parseRow(id, payload); ok {
				visit(found)
				break
			}
			if size <= mostLocal {
				break
			}
		}
	}
}

// payload gathers a row that goes on on other pages.
func (r *remains) payload(local []byte, size int64, logFirst bool) (payload []byte, whole bool) {
	if size <= mostLocal {
		if int64(len(local)) < size {
			return nil, false
		}
		return local[:size], true
	}
	here := leastLocal + (size-leastLocal)%perOverflow
	if here > mostLocal {
		here = leastLocal
	}
	if int64(len(local)) < here+4 {
		return nil, false
	}
	payload = append(payload, local[:here]...)
	next := binary.BigEndian.Uint32(local[here:])
	for int64(len(payload)) < size {
		frames := r.logged[next]
		var page []byte
		switch {
		case next == 0:
			return nil, false
		case len(frames) > 0 && (logFirst || int64(next) > r.pages):
			page = r.frame(frames[len(frames)-1])
		case int64(next) <= r.pages:
			page = r.page(int64(next) - 1)
		default:
			return nil, false
		}
		next = binary.BigEndian.Uint32(page)
		payload = append(payload, page[4:4+min(perOverflow, size-int64(len(payload)))]...)
	}
	return payload, true
}

// parseRow reads a row of the table of events. One without a sum must at least look like an event in every part.
func parseRow(id int64, payload []byte) (r row, ok bool) {
	headSize, n := varint(payload)
	if n == 0 || headSize > int64(len(payload)) {
		return row{}, false
	}
	var types []int64
	for at := int64(n); at < headSize; {
		t, n := varint(payload[at:headSize])
		if n == 0 || len(types) == summedCols {
			return row{}, false
		}
		types, at = append(types, t), at+int64(n)
	}
	if len(types) < plainCols || types[0] != 0 {
		return row{}, false
	}
	body := payload[headSize:]
	cell := func(i int) (number int64, text string) {
		if !ok {
			return 0, ""
		}
		size, isText := cellSize(types[i])
		wantText := i == 1 || i == 6 || i == 7
		if ok = size >= 0 && size <= int64(len(body)) && isText == wantText; !ok {
			return 0, ""
		}
		here := body[:size]
		body = body[size:]
		if isText {
			return 0, string(here)
		}
		if types[i] == 9 {
			return 1, ""
		}
		if len(here) > 0 && here[0] >= 0x80 {
			number = -1
		}
		for _, b := range here {
			number = number<<8 | int64(b)
		}
		return number, ""
	}
	ok, r.id = true, id
	_, r.Job = cell(1)
	r.Seq, _ = cell(2)
	r.Act, _ = cell(3)
	at, _ := cell(4)
	noted, _ := cell(5)
	_, kind := cell(6)
	_, r.detail = cell(7)
	r.At, r.Noted, r.Kind = narrator.Moment(at), narrator.Moment(noted), narrator.Kind(kind)
	if len(types) == summedCols && types[plainCols] != 0 {
		r.sum.Int64, _ = cell(plainCols)
		r.sum.Valid = true
	}
	if !ok || len(body) != 0 || r.Seq <= 0 {
		return row{}, false
	}
	if r.sum.Valid {
		return r, r.sum.Int64 == sumOf(r.Event, r.detail)
	}
	return r, len(types) == plainCols && kind != "" && strings.HasPrefix(r.detail, "{") && json.Valid([]byte(r.detail))
}

// cellSize is the size of a column's value by its type; negative for one that no event has.
func cellSize(t int64) (size int64, text bool) {
	switch {
	case t >= 13 && t%2 == 1:
		return (t - 13) / 2, true
	case t >= 1 && t <= 4:
		return t, false
	case t == 5:
		return 6, false
	case t == 6:
		return 8, false
	case t == 8, t == 9:
		return 0, false
	}
	return -1, false
}

// varint reads a number of SQLite's, of 1 to 9 bytes; its length is 0 where there is none.
func varint(b []byte) (value int64, n int) {
	for n < len(b) && n < 8 {
		value = value<<7 | int64(b[n]&0x7f)
		n++
		if b[n-1] < 0x80 {
			return value, n
		}
	}
	if n < len(b) && n == 8 {
		return value<<8 | int64(b[n]), 9
	}
	return 0, 0
}
