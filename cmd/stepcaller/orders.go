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
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
)

// order is what a terminal asks of the daemon that runs on a data folder. Exactly one of its fields is set.
type order struct {
	Start  *startOrder `json:"start,omitempty"`
	TakeUp string      `json:"take_up,omitempty"` // job id
}

// startOrder opens a job.
type startOrder struct {
	Procedure  string `json:"procedure"` // name for messages
	Text       string `json:"text"`      // the whole file
	Order      string `json:"order"`
	Odometer   string `json:"odometer"`
	Technician string `json:"technician"`
}

type orderReply struct {
	Job   string `json:"job,omitempty"`
	Error string `json:"error,omitempty"`
}

func socketPath(data string) string { return filepath.Join(data, "orders.sock") }

// input turns the order into what the narrator takes, and tells the job that it is about. The session calls it, so that two
// terminals never get one id.
func (o order) input(ctx context.Context, store journal.Store, at narrator.Moment) (in narrator.Input, id string, err error) {
	if o.TakeUp != "" {
		return narrator.TakeUp{At: at, Job: o.TakeUp}, o.TakeUp, nil
	}
	if o.Start == nil {
		return nil, "", errors.New("the order says nothing")
	}
	id, err = store.NextJob(ctx, time.Now())
	if err != nil {
		return nil, "", err
	}
	s := o.Start
	return narrator.Start{At: at, Job: id, Procedure: s.Procedure, Text: s.Text, Order: s.Order, Odometer: s.Odometer, Technician: s.Technician}, id, nil
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
	input := func(ctx context.Context, at narrator.Moment) (in narrator.Input, err error) {
		in, id, err = o.input(ctx, store, at)
		return in, err
	}
	select {
	case orders <- Order{Input: input, Reply: reply}:
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
