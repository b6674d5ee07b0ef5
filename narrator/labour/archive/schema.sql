-- A cache of the journal: thrown away and worked out anew whenever its version changes. Moments are 1/16 000 s since
-- 1970-01-01T00:00:00Z, times milliseconds.

-- One row a procedure file that jobs were done by.
CREATE TABLE edition (
	id        INTEGER PRIMARY KEY,
	hash      BLOB NOT NULL UNIQUE, -- SHA-256 of the file's text
	procedure TEXT NOT NULL,
	title     TEXT NOT NULL,
	machine   TEXT NOT NULL,
	outline   TEXT NOT NULL         -- figures.Edition as JSON
) STRICT;

-- One row a finished job.
CREATE TABLE job (
	id        INTEGER PRIMARY KEY,
	job       TEXT    NOT NULL UNIQUE,
	edition   INTEGER NOT NULL REFERENCES edition,
	procedure TEXT    NOT NULL,
	crew      TEXT    NOT NULL, -- names, a line feed before and after each
	alone     TEXT    NOT NULL, -- who did all of it
	order_no  TEXT    NOT NULL,
	kind      TEXT    NOT NULL,
	earlier   TEXT    NOT NULL,
	started   INTEGER NOT NULL,
	ended     INTEGER NOT NULL,
	worked    INTEGER NOT NULL,
	paused    INTEGER NOT NULL,
	unsure    INTEGER NOT NULL,
	gap       INTEGER NOT NULL,
	person    INTEGER NOT NULL, -- worked by everybody together
	book      INTEGER NOT NULL, -- hundredths of an hour
	why       TEXT    NOT NULL, -- figures.Why
	corrected INTEGER NOT NULL,
	search    TEXT    NOT NULL  -- what a search looks through, in lower case
) STRICT;
CREATE INDEX job_by_time ON job (started, job);
CREATE INDEX job_by_procedure ON job (procedure, started, job);
CREATE INDEX job_by_earlier ON job (earlier, job, started, person) WHERE earlier <> '';

-- The steps of a job, apart from it, so that lists of jobs need not read them.
CREATE TABLE steps (
	job   INTEGER PRIMARY KEY REFERENCES job ON DELETE CASCADE,
	times BLOB NOT NULL -- by pack
) STRICT;

-- Jobs that are not finished.
CREATE TABLE open_job (
	job TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

-- Jobs that could not be read, and why.
CREATE TABLE passed_over (
	job TEXT PRIMARY KEY,
	why TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- How far the journal has been read, and how often something changed here.
CREATE TABLE state (
	id     INTEGER PRIMARY KEY CHECK (id = 1),
	mark   INTEGER NOT NULL,
	last   TEXT    NOT NULL, -- the job that got an event there
	change INTEGER NOT NULL
) STRICT;
INSERT INTO state (id, mark, last, change) VALUES (1, 0, '', 0);
