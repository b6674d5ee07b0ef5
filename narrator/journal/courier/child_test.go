package courier_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
	"stepcaller/narrator/journal/postgres"
	"stepcaller/narrator/journal/storetest"
)

// worker is a bay as a process of its own: it appends jobs, hands them over and takes them, until it is killed.
type worker struct {
	name    string
	random  *rand.Rand
	disk    *journal.SQLite
	store   journal.Store
	courier *courier.Courier
	last    map[string]narrator.Event // of each job that is here, and of the bay
	worst   time.Duration             // append
}

// startWorker opens a bay's folder and sets its courier to work. It was joined by the test.
func startWorker(dir string, seed uint64, repeat bool, patience time.Duration) (*worker, error) {
	disk, err := journal.Open(dir, journal.Writer)
	if err != nil {
		return nil, err
	}
	joined, err := courier.ReadJoined(dir)
	if err != nil {
		return nil, err
	}
	open := func(context.Context) (courier.Shop, error) {
		s, err := postgres.OpenBay(joined.URL)
		if err != nil || !repeat {
			return s, err
		}
		return &repeating{Shop: s, random: rand.New(rand.NewPCG(seed, 2))}, nil
	}
	c, err := courier.New(courier.Config{Store: disk, Memos: disk.Memos(), Data: dir, Open: open, Procedures: filepath.Join(dir, "procedures")})
	if err != nil {
		return nil, err
	}
	courier.Impatient(c, patience)
	w := &worker{name: filepath.Base(dir), random: rand.New(rand.NewPCG(seed, 1)), disk: disk, store: courier.Waking(disk, c.Wake), courier: c,
		last: map[string]narrator.Event{}}
	go func() {
		if err := c.Run(context.Background()); err != nil {
			panic(err)
		}
	}()
	return w, nil
}

// workForEver is the child "work": folder, seed.
func workForEver(args []string) error {
	seed, err := strconv.ParseUint(args[1], 10, 64)
	if err != nil {
		return err
	}
	w, err := startWorker(args[0], seed, true, 15*time.Second)
	if err != nil {
		return err
	}
	if err := w.remember(); err != nil {
		return err
	}
	for n := 0; ; n++ {
		if err := w.step(); err != nil {
			return err
		}
		if n%20 == 0 {
			s, err := w.courier.State(context.Background())
			fmt.Println("state:", s, err)
		}
		time.Sleep(time.Duration(2+w.random.IntN(30)) * time.Millisecond) // the pace of the work
	}
}

// drain is the child "drain": folder. It ends when all of the bay is in the shop, or when there is no progress any more.
func drain(args []string) error {
	w, err := startWorker(args[0], 0, false, 20*time.Second)
	if err != nil {
		return err
	}
	var rest courier.Rest
	for limit := time.Now().Add(30 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		s, err := w.courier.State(context.Background())
		if err != nil || s.Reached && s.AllSent() {
			return err
		}
		if s.Rest != rest {
			rest, limit = s.Rest, time.Now().Add(30*time.Second)
		}
		if time.Now().After(limit) {
			return fmt.Errorf("%s: 30 s, and no more is sent: %+v", w.name, s)
		}
	}
}

// remember finds where the jobs of an earlier run stand.
func (w *worker) remember() error {
	jobs, err := w.store.Jobs(context.Background(), journal.Filter{State: journal.JobsHere})
	for _, j := range append(jobs, journal.Entry{}) {
		if err != nil {
			return err
		}
		var log []narrator.Event
		if log, err = w.store.Log(context.Background(), j.ID); len(log) > 0 {
			w.last[j.ID] = log[len(log)-1]
		}
	}
	return err
}

// step does something that happens in a bay.
func (w *worker) step() error {
	select {
	case n := <-w.courier.News():
		return w.hear(n)
	default:
	}
	switch n := w.random.IntN(100); {
	case len(w.last) < 3 || n < 3:
		return w.begin()
	case n < 10:
		return w.add("", narrator.Voiced, narrator.Detail{Volume: 10 + w.random.IntN(90)})
	case n < 12:
		return w.note(w.any())
	case n < 17:
		return w.end(w.any(), narrator.Handed, narrator.Detail{To: []string{"", "lift-2", "pit", "lift-3"}[w.random.IntN(4)]})
	case n < 18:
		return w.end(w.any(), narrator.Finished, narrator.Detail{})
	default:
		return w.add(w.any(), narrator.Remarked, narrator.Detail{Value: w.text(), Score: w.random.Float64()})
	}
}

// text is anything that somebody may write.
func (w *worker) text() string {
	signs := []rune("abc äöü ß € \u2028 <&> \"\\ 😀 0123456789 \n\t")
	text := make([]rune, w.random.IntN(200))
	for i := range text {
		text[i] = signs[w.random.IntN(len(signs))]
	}
	return string(text)
}

// any is a job that is here.
func (w *worker) any() string {
	var jobs []string
	for job := range w.last {
		if job != "" {
			jobs = append(jobs, job)
		}
	}
	if len(jobs) == 0 {
		return ""
	}
	slices.Sort(jobs)
	return jobs[w.random.IntN(len(jobs))]
}

// hear does what a session does with news.
func (w *worker) hear(n courier.News) error {
	switch n.Kind {
	case courier.Offered:
		for _, o := range n.Offers {
			if w.random.IntN(3) > 0 {
				w.courier.Take(o.Job, false)
			}
		}
	case courier.Claimed:
		err := courier.TakeIn(context.Background(), w.store, w.disk.Memos(), w.name, n.Log)
		if errors.Is(err, courier.ErrOwnStory) {
			fmt.Println("refused:", err)
			return nil
		}
		if err != nil {
			return err
		}
		log, err := w.store.Log(context.Background(), n.Job)
		if err != nil {
			return err
		}
		if last := log[len(log)-1]; last.Kind == narrator.Handed {
			w.last[n.Job] = last
			return w.add(n.Job, narrator.TakenOver, narrator.Detail{To: w.name})
		}
	}
	return nil
}

func (w *worker) begin() error {
	id, err := w.store.NextJob(context.Background(), storetest.Dawn.Add(narrator.Span(w.random.IntN(3))*24*narrator.Hour).Time())
	if err != nil {
		return err
	}
	if err := w.add(id, narrator.Opened, narrator.Detail{Procedure: "fan-belt", Text: storetest.Procedure, Technician: "Ines"}); err != nil {
		return err
	}
	return w.add("", narrator.Switched, narrator.Detail{Work: id})
}

func (w *worker) note(job string) error {
	if job == "" {
		return nil
	}
	memos := w.disk.Memos()
	part, err := memos.Begin(job)
	if err == nil {
		err = os.WriteFile(part, bytes.Repeat([]byte(w.text()+"."), 1+w.random.IntN(1000)), 0o600)
	}
	if err != nil {
		return err
	}
	file, err := memos.Keep(part)
	if err != nil {
		return err
	}
	return w.add(job, narrator.Recorded, narrator.Detail{File: file, Length: narrator.Second})
}

// end adds an event after which this bay has no more to do with a job.
func (w *worker) end(job string, kind narrator.Kind, d narrator.Detail) error {
	if job == "" || d.To == w.name {
		return nil
	}
	err := w.add(job, kind, d)
	delete(w.last, job)
	return err
}

// add appends an event to a job, or to the bay's log.
func (w *worker) add(job string, kind narrator.Kind, d narrator.Detail) error {
	now := narrator.MomentOf(time.Now())
	e := narrator.Event{Job: job, Seq: w.last[job].Seq + 1, Act: int64(now), At: now, Noted: now, Kind: kind, Detail: d}
	start := time.Now()
	if err := w.store.Append(context.Background(), []narrator.Event{e}); err != nil {
		return err
	}
	if took := time.Since(start); took > w.worst {
		w.worst = took
		fmt.Printf("worst append %v\n", took)
	}
	w.last[job] = e
	return nil
}

// repeating is a shop to which batches are sent more than once, old ones after new ones.
type repeating struct {
	courier.Shop
	mu     sync.Mutex
	random *rand.Rand
	sent   []courier.Batch
}

// Send implements [courier.Shop].
func (r *repeating) Send(ctx context.Context, b courier.Batch) error {
	err := r.Shop.Send(ctx, b)
	if err != nil {
		return err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.sent = append(r.sent, b); len(r.sent) > 5 {
		r.sent = r.sent[1:]
	}
	if r.random.IntN(4) == 0 {
		go r.Shop.Send(context.Background(), r.sent[r.random.IntN(len(r.sent))])
	}
	return nil
}
