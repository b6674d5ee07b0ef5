package postgres

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"

	"stepcaller/narrator/journal"
	"stepcaller/narrator/journal/courier"
)

// What else than in a journal and between a bay and its shop can be wrong, for errors.Is. The errors returned add where, and what to do.
var (
	ErrPlain     = errors.New("what is sent could be read on the way")
	ErrUntrusted = errors.New("the server's certificate is not trusted")
	ErrOlder     = errors.New("the shop's database was made by an older program")
	ErrReader    = errors.New("the shop is open to be read only")
)

// What to do about a fault.
const (
	mendReach   = "see whether the server runs and the cable is in; what happens in the bay is kept, and sent when it answers"
	mendRefused = "ask the shop for a new address: `stepcaller shop bay NAME`, then `stepcaller shop join URL` here"
	mendTrust   = "name the file of the certificate that the shop trusts with sslrootcert=FILE in the address, and the host by the name that is in it"
	mendForeign = "name the shop's database in the address, or have `stepcaller shop create NAME` run with its administrator's"
	mendNewer   = "install the newer program here"
	mendOlder   = "whoever runs the shop's server runs `stepcaller shop create` of this program there, with the administrator's address, which brings it up to date"
	mendFull    = "whoever runs the shop's server frees space there; what happens in the bay is kept, and sent then"
)

func compareSchema(version, newest int64) error {
	switch {
	case version > newest:
		return fmt.Errorf("%w (schema %d, this program knows %d); %s", journal.ErrNewer, version, newest, mendNewer)
	case version < newest:
		return fmt.Errorf("%w (schema %d, this program needs %d); %s", ErrOlder, version, newest, mendOlder)
	}
	return nil
}

// fault says what the driver or the database reports in the words of the person who has to mend it.
func (d *database) fault(deed string, err error) error {
	if err == nil {
		return nil
	}
	mend, what := diagnose(err)
	switch {
	case what == nil:
		return fmt.Errorf("%s the shop at %s: %w", deed, d.where, err)
	case mend == "":
		return fmt.Errorf("%s the shop at %s: %w", deed, d.where, what)
	}
	return fmt.Errorf("%s the shop at %s: %w; %s (%w)", deed, d.where, what, mend, err)
}

// diagnose names the fault; nil for an error that speaks for itself. Without a mend the fault says all there is to say.
func diagnose(err error) (mend string, what error) {
	var db *pgconn.PgError
	var stranger x509.UnknownAuthorityError
	var name x509.HostnameError
	var invalid x509.CertificateInvalidError
	var handshake *tls.CertificateVerificationError
	var network net.Error
	var connect *pgconn.ConnectError
	switch {
	case errors.Is(err, journal.ErrNewer), errors.Is(err, ErrOlder), errors.Is(err, context.Canceled):
		return "", nil
	case errors.As(err, &db):
		return diagnoseServer(db)
	case errors.As(err, &stranger), errors.As(err, &name), errors.As(err, &invalid), errors.As(err, &handshake):
		return mendTrust, ErrUntrusted
	case strings.Contains(err.Error(), "refused TLS"): // the driver has no name for it
		return "let the server speak TLS: ssl=on, with a certificate", ErrPlain
	case errors.As(err, &network), errors.As(err, &connect), errors.Is(err, context.DeadlineExceeded), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF),
		errors.Is(err, net.ErrClosed), pgconn.SafeToRetry(err), strings.Contains(err.Error(), "conn closed"):
		return mendReach, courier.ErrUnreachable
	}
	return "", nil
}

// diagnoseServer names what the server reports, by SQLSTATE. SC... are of the functions in our own migrations.
func diagnoseServer(db *pgconn.PgError) (mend string, what error) {
	switch db.Code {
	case "SC001":
		return "", sequenceError(db.Detail)
	case "SC002":
		return "", fmt.Errorf("%w: bay %s; ask there to hand it over, or take it with force", courier.ErrNotOwner, db.Detail)
	case "SC003":
		return "", fmt.Errorf("%w: %q; see the jobs on offer", courier.ErrNoSuchJob, db.Detail)
	case "SC004":
		return "", fmt.Errorf("%w: %s; send what is missing first", courier.ErrNotArrived, db.Detail)
	case "SC006":
		return "", conflictError(db.Detail)
	case "SC007":
		return "", holeError(db.Detail)
	case "SC009":
		return "", fmt.Errorf("%w: %q; it may have been withdrawn, or the job is another bay's", courier.ErrNoSuchFile, db.Detail)
	case "SC010":
		return "", fmt.Errorf("%w: %q; name one of the shop's bays, or none", ErrNoBay, db.Detail)
	case "SC008":
		return mendRefused, fmt.Errorf("%w: the address is not a bay's", courier.ErrRefused)
	case "28P01", "28000", "42501":
		return mendRefused, courier.ErrRefused
	case "3F000", "42883", "3D000":
		return mendForeign, fmt.Errorf("%w: there is no shop in it", journal.ErrForeign)
	case "53100":
		return mendFull, journal.ErrDiskFull
	case "25006":
		return "let the address lead to the server that may be written to", journal.ErrReadOnly
	}
	switch db.Code[:2] {
	case "08", "53", "57": // connection, resources, shutting down or starting up
		return mendReach, courier.ErrUnreachable
	}
	return "", nil
}

func sequenceError(detail string) error {
	var d struct {
		Job       string
		Seq, Want int64
	}
	if err := json.Unmarshal([]byte(detail), &d); err != nil {
		return err
	}
	return &journal.SequenceError{Job: d.Job, Seq: d.Seq, Want: d.Want}
}

func conflictError(detail string) error {
	var d courier.ConflictError
	if err := json.Unmarshal([]byte(detail), &d); err != nil {
		return err
	}
	return &d
}

func holeError(detail string) error {
	var d courier.HoleError
	if err := json.Unmarshal([]byte(detail), &d.Arrived); err != nil {
		return err
	}
	return &d
}
