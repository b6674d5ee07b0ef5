package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"stepcaller/narrator"
	"stepcaller/narrator/journal"
	"stepcaller/narrator/labour/archive"
	"stepcaller/narrator/pages"
	"stepcaller/procedures/tongue"
)

// pagesOff is the address of pages that nobody wants.
const pagesOff = "off"

func newPages(app *App) *cobra.Command {
	return &cobra.Command{
		Use:   "pages",
		Short: "Serve the pages on what was recorded, while no job runs",
		Long: `Pages serves the pages to this machine's own browser until ended with Ctrl-C or SIGTERM. A session that runs serves them itself, with the bay as it
is now; the address is the same, and the configuration's key pages changes it.`,
		Example: "  stepcaller pages\n  stepcaller pages --pages 127.0.0.1:8080",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if app.Config.Pages == pagesOff {
				return usage("the configuration turns the pages off; `stepcaller pages --pages %s` serves them all the same", defaultConfig().Pages)
			}
			stop, err := servePages(cmd.Context(), app.Config, nil, nil, cmd.OutOrStdout())
			if err != nil {
				return err
			}
			defer stop()
			<-cmd.Context().Done()
			return nil
		},
	}
}

// checkPages says what is wrong with the address of the pages. Until they have a lock they are for this machine alone.
func checkPages(address string) error {
	if address == pagesOff {
		return nil
	}
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return usage("configuration: pages: %q is no address with its port; write one such as %s, or %s", address, defaultConfig().Pages, pagesOff)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return usage("configuration: pages: %q can be reached from other machines, and anybody there could read everyone's times; write a loopback address such as %s",
			address, defaultConfig().Pages)
	}
	return nil
}

// servePages serves the pages of the configured data folder, with what is going on out of the hub, nil where no session runs. It says where.
// The returned function ends it and waits. Where the pages are off it does nothing.
func servePages(ctx context.Context, c Config, hub *pages.Hub, m *metrics, out io.Writer) (stop func(), err error) {
	if c.Pages == pagesOff {
		return func() {}, nil
	}
	t, err := tongue.Named(c.Language)
	if err != nil {
		return nil, err
	}
	return serveOn(ctx, c, out, func() (pages.Config, func() error, error) {
		config := pages.Config{Data: c.Data, Hub: hub, Tongue: t, Invented: journal.Invented(c.Data), Procedures: c.Procedures, Reasons: c.Reasons, Metrics: m.handler(),
			Change: func(ctx context.Context, in narrator.Typed) error { return write(ctx, c, in) }}
		closeRecords, err := openRecords(ctx, &config)
		return config, closeRecords, err
	})
}

// serveOn serves pages at the configured address. What they show is opened once that is free, and closed by the returned function.
func serveOn(ctx context.Context, c Config, out io.Writer, open func() (pages.Config, func() error, error)) (stop func(), err error) {
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", c.Pages)
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("pages: %s is taken: by another session, by `stepcaller pages` or by another program; choose another address with the key pages", c.Pages)
	}
	if err != nil {
		return nil, fmt.Errorf("pages: %w", err)
	}
	config, closeRecords, err := open()
	if err != nil {
		return nil, errors.Join(err, listener.Close())
	}
	handler, err := pages.New(config)
	if err != nil {
		return nil, errors.Join(err, closeRecords(), listener.Close())
	}
	server := &http.Server{Handler: handler, ReadHeaderTimeout: 5 * time.Second, ErrorLog: slog.NewLogLogger(c.logger().Handler(), slog.LevelWarn)}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = server.Serve(listener)
	}()
	fmt.Fprintf(out, "Pages: http://%s/\n", listener.Addr())
	return func() {
		_ = server.Close()
		<-done
		_ = closeRecords()
	}, nil
}

// openRecords opens what was recorded in the pages' data folder, to be read, and begins to work finished jobs into their figures: that goes
// on in the background, however many years there are of them. Nothing there is no mistake.
func openRecords(ctx context.Context, c *pages.Config) (closing func() error, err error) {
	store, err := journal.Open(c.Data, journal.Reader)
	if errors.Is(err, journal.ErrNoJournal) {
		return func() error { return nil }, nil
	}
	if err != nil {
		return nil, err
	}
	figures, err := archive.Open(c.Data, store)
	if err != nil {
		return nil, errors.Join(err, store.Close())
	}
	c.Store, c.Archive = store, figures
	_ = figures.CatchUp(ctx) // what fails here fails again for the page that is asked for, and is told there
	return func() error { return errors.Join(figures.Close(), store.Close()) }, nil
}

// showPages serves the pages beside a session, which goes on without them where that fails.
func showPages(ctx context.Context, c Config, hub *pages.Hub, m *metrics, out io.Writer) (stop func()) {
	stop, err := servePages(ctx, c, hub, m, out)
	if err != nil {
		fmt.Fprintf(out, "%v. The job goes on without them.\n", err)
		return func() {}
	}
	return stop
}
