-- +goose Up
PRAGMA application_id = 1400136556; -- "Stcl"

-- One row an event, in the order in which they became durable. What the columns mean is said at narrator.Event.
CREATE TABLE event (
	id     INTEGER PRIMARY KEY,
	job    TEXT    NOT NULL,                            -- '' is the bay
	seq    INTEGER NOT NULL CHECK (seq > 0),
	act    INTEGER NOT NULL,
	at     INTEGER NOT NULL,                            -- 1/16 000 s since 1970-01-01T00:00:00Z, as all moments
	noted  INTEGER NOT NULL,
	kind   TEXT    NOT NULL,
	detail TEXT    NOT NULL CHECK (json_valid(detail)), -- narrator.Detail
	UNIQUE (job, seq)
) STRICT;

-- The few events that a list of jobs is made from.
CREATE INDEX event_of_entry ON event (job, seq) WHERE seq = 1 OR kind IN ('opened', 'finished', 'undone');

-- +goose StatementBegin
CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
BEGIN
	SELECT RAISE(ABORT, 'an event is never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER event_is_not_deleted BEFORE DELETE ON event
BEGIN
	SELECT RAISE(ABORT, 'an event is never deleted');
END;
-- +goose StatementEnd

-- One row a run of the program.
CREATE TABLE session (
	id         INTEGER PRIMARY KEY,
	boot       TEXT    NOT NULL,
	since_boot INTEGER NOT NULL, -- nanoseconds of CLOCK_BOOTTIME
	opened     INTEGER NOT NULL
) STRICT;

-- The one row says when the program ran last.
CREATE TABLE beat (
	id INTEGER PRIMARY KEY CHECK (id = 1),
	at INTEGER NOT NULL
) STRICT;
INSERT INTO beat (id, at) VALUES (1, 0);
