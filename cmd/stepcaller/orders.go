package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// order is what a terminal asks of the daemon that runs on a data folder. Exactly one of its fields is set.
type order struct {
	Start  *startOrder `json:"start,omitempty"`
	TakeUp string      `json:"take_up,omitempty"` // job id
	Enter  *fact       `json:"enter,omitempty"`

	HandOver *narrator.HandOver `json:"hand_over,omitempty"`
	Claim    *narrator.Claim    `json:"claim,omitempty"`

	Correct  *narrator.Correct  `json:"correct,omitempty"`
	Annotate *narrator.Annotate `json:"annotate,omitempty"`
	Withdraw *narrator.Withdraw `json:"withdraw,omitempty"`
}

// startOrder opens a job.
type startOrder struct {
	Procedure  string `json:"procedure"` // name for messages
	Text       string `json:"text"`      // the whole file
	Order      string `json:"order"`
	Odometer   string `json:"odometer"`
	Technician string `json:"technician"`
	Kind       string `json:"kind"`      // one of narrator.JobKinds, "" for the first
	Earlier    string `json:"earlier"`   // id of the job that a comeback comes back from
	Complaint  string `json:"complaint"` // what the customer said, "" for nothing
	Dictate    bool   `json:"dictate"`   // there is no procedure
}

type orderReply struct {
	Job   string `json:"job,omitempty"`
	Error string `json:"error,omitempty"`
}

// check says what is wrong with the kind of job and the complaint.
func (o *startOrder) check() error {
	if err := narrator.CheckJobKind(o.Kind, o.Earlier); err != nil {
		return usage("--kind, --earlier: %v", err)
	}
	if err := narrator.CheckFact("complaint", o.Complaint); err != nil {
		return usage("--complaint: %v", err)
	}
	return nil
}

// flags are those of every command that opens a job.
func (o *startOrder) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.Order, "order", "", "work-order number")
	f.StringVar(&o.Odometer, "odometer", "", "odometer reading, with its unit")
	f.StringVar(&o.Kind, "kind", "", "who pays: "+strings.Join(narrator.JobKinds(), ", ")+" (default: the first)")
	f.StringVar(&o.Earlier, "earlier", "", "job that a comeback comes back from")
	f.StringVar(&o.Complaint, "complaint", "", "what the customer said is wrong")
}

func socketPath(data string) string { return filepath.Join(data, "orders.sock") }

// inputs turns the order into what the narrator takes, and tells the job that it is about. The session calls it, so that two
// terminals never get one id.
func (o order) inputs(ctx context.Context, store journal.Store, at narrator.Moment) (in []narrator.Input, id string, err error) {
	switch {
	case o.TakeUp != "":
		return []narrator.Input{narrator.TakeUp{At: at, Job: o.TakeUp}}, o.TakeUp, nil
	case o.typed() != nil:
		return []narrator.Input{stamp(o.typed(), at)}, o.typed().About(), nil
	case o.HandOver != nil:
		in := *o.HandOver
		in.At = at
		return []narrator.Input{in}, in.Job, nil
	case o.Claim != nil:
		in := *o.Claim
		in.At = at
		return []narrator.Input{in}, in.Job, nil
	case o.Start == nil:
		return nil, "", errors.New("the order says nothing")
	}
	id, err = store.NextJob(ctx, time.Now())
	if err != nil {
		return nil, "", err
	}
	s := o.Start
	in = append(in, narrator.Start{At: at, Job: id, Procedure: s.Procedure, Text: s.Text, Order: s.Order, Odometer: s.Odometer, Technician: s.Technician,
		JobKind: s.Kind, Earlier: s.Earlier, Dictate: s.Dictate})
	if s.Complaint != "" {
		in = append(in, narrator.Enter{At: at, Job: id, Field: "complaint", Value: s.Complaint})
	}
	return in, id, s.check()
}

// serveOrders takes orders from terminals on a socket in the data folder, which only its owner can reach. The returned function
// ends it and waits.
func serveOrders(data string, store journal.Store) (<-chan Order, func(), error) {
	path := socketPath(data)
	_ = os.Remove(path) // left by a crash; the folder's lock says that nobody serves it
	listener, err := net.Listen("unix", path)
	if err != nil {
		return nil, nil, fmt.Errorf("orders from other terminals: %w", err)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		listener.Close()
		return nil, nil, fmt.Errorf("orders from other terminals: %w", err)
	}
	orders := make(chan Order)
	server := &http.Server{ReadHeaderTimeout: 5 * time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		job, err := takeOrder(w, r, store, orders)
		reply := orderReply{Job: job}
		if err != nil {
			reply.Error = err.Error()
			w.WriteHeader(http.StatusBadRequest)
		}
		_ = json.NewEncoder(w).Encode(reply)
	})}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = server.Serve(listener)
	}()
	return orders, func() {
		_ = server.Close()
		<-done
	}, nil
}

func takeOrder(w http.ResponseWriter, r *http.Request, store journal.Store, orders chan<- Order) (string, error) {
	var o order
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 16<<20)).Decode(&o); err != nil {
		return "", fmt.Errorf("the order cannot be read: %w", err)
	}
	id, reply := "", make(chan error, 1)
	inputs := func(ctx context.Context, at narrator.Moment) (in []narrator.Input, err error) {
		in, id, err = o.inputs(ctx, store, at)
		return in, err
	}
	select {
	case orders <- Order{Inputs: inputs, Reply: reply}:
		err := <-reply
		return id, err
	case <-r.Context().Done():
		return "", r.Context().Err()
	}
}

// sendOrder gives an order to the daemon on a data folder. Without one it returns errNoDaemon.
func sendOrder(ctx context.Context, data string, o order) (job string, err error) {
	path := socketPath(data)
	client := http.Client{Timeout: 10 * time.Second, Transport: &http.Transport{
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, "unix", path)
		},
	}}
	body, err := json.Marshal(o)
	if err != nil {
		return "", err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://daemon/", bytes.NewReader(body))
	if err != nil {
		return "", err
	}
	response, err := client.Do(request)
	if err != nil {
		var op *net.OpError
		if errors.As(err, &op) && op.Op == "dial" {
			return "", errNoDaemon
		}
		return "", fmt.Errorf("the running daemon does not answer: %w", err)
	}
	defer response.Body.Close()
	var reply orderReply
	if err := json.NewDecoder(response.Body).Decode(&reply); err != nil {
		return "", fmt.Errorf("the running daemon's answer cannot be read: %w", err)
	}
	if reply.Error != "" {
		return "", errors.New(reply.Error)
	}
	return reply.Job, nil
}

var errNoDaemon = errors.New("no daemon runs on the data folder")
