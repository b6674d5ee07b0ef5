-- A cache of the journal: thrown away and worked out anew whenever its version changes. Moments are 1/16 000 s since
-- 1970-01-01T00:00:00Z, times milliseconds.

-- One row a procedure file that jobs were done by.
CREATE TABLE edition (
	id        INTEGER PRIMARY KEY,
	hash      BLOB    NOT NULL UNIQUE,   -- SHA-256 of the file's text
	procedure TEXT    NOT NULL,
	title     TEXT    NOT NULL,
	machine   TEXT    NOT NULL,
	outline   TEXT    NOT NULL,          -- figures.Edition as JSON
	changed   INTEGER NOT NULL DEFAULT 0 -- state.change when one of its jobs changed last
) STRICT;
CREATE INDEX edition_by_procedure ON edition (procedure, changed);

-- One row a finished job. Its number is when it began and, in the last 6 bits, which of those that began at that moment it is: newest first
-- is by falling numbers, in every index.
CREATE TABLE job (
	id        INTEGER PRIMARY KEY,
	job       TEXT    NOT NULL UNIQUE,
	bay       TEXT    NOT NULL, -- that began it, '' where there is one alone
	edition   INTEGER NOT NULL REFERENCES edition,
	procedure TEXT    NOT NULL,
	crew      TEXT    NOT NULL, -- names in the order of joining, a line feed before and after each
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
	comebacks INTEGER NOT NULL  -- worked by everybody in the jobs that came back from it, at once or by way of another
) STRICT;
CREATE INDEX job_in_order ON job (id, ended);
CREATE INDEX job_by_procedure ON job (procedure, id, kind, bay);
CREATE INDEX job_by_kind ON job (kind, id, bay);
CREATE INDEX job_by_bay ON job (bay, id, ended);
CREATE INDEX sample_by_procedure ON job (procedure, id, worked) WHERE why = '';
CREATE INDEX job_by_earlier ON job (earlier, job, person) WHERE earlier <> '';

-- Who was on which job, with what a list of jobs is filtered by.
CREATE TABLE crew (
	name      TEXT    NOT NULL,
	id        INTEGER NOT NULL, -- of the job
	procedure TEXT    NOT NULL,
	kind      TEXT    NOT NULL,
	bay       TEXT    NOT NULL,
	PRIMARY KEY (name, id)
) STRICT, WITHOUT ROWID;

-- What is not needed to list a job, by its number.
CREATE TABLE packed (
	id    INTEGER PRIMARY KEY,
	steps BLOB NOT NULL, -- by packSteps
	line  BLOB NOT NULL  -- by packLine
) STRICT;

-- What a search looks through, in lower case, by the job's number; and the places of all three letters in a row of it.
CREATE TABLE said (
	id   INTEGER PRIMARY KEY,
	text TEXT NOT NULL
) STRICT;
CREATE VIRTUAL TABLE letters USING fts5(text, content = '', contentless_delete = 1, detail = none, tokenize = 'trigram case_sensitive 1');

CREATE VIRTUAL TABLE letter USING fts5vocab(letters, row);

-- What the jobs of an edition add up to, by why they are no samples; the triggers keep it.
CREATE TABLE tally (
	edition   INTEGER NOT NULL REFERENCES edition,
	why       TEXT    NOT NULL,
	jobs      INTEGER NOT NULL,
	worked    INTEGER NOT NULL,
	person    INTEGER NOT NULL,
	book      INTEGER NOT NULL,
	came_back INTEGER NOT NULL,
	comebacks INTEGER NOT NULL,
	PRIMARY KEY (edition, why)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER job_added AFTER INSERT ON job BEGIN
	INSERT INTO tally VALUES (new.edition, new.why, 1, new.worked, new.person, new.book, new.comebacks > 0, new.comebacks)
		ON CONFLICT DO UPDATE SET jobs = jobs + 1, worked = worked + new.worked, person = person + new.person, book = book + new.book,
			came_back = came_back + (new.comebacks > 0), comebacks = comebacks + new.comebacks;
	UPDATE edition SET changed = (SELECT change FROM state) WHERE id = new.edition;
END;
CREATE TRIGGER job_removed AFTER DELETE ON job BEGIN
	UPDATE tally SET jobs = jobs - 1, worked = worked - old.worked, person = person - old.person, book = book - old.book,
		came_back = came_back - (old.comebacks > 0), comebacks = comebacks - old.comebacks WHERE edition = old.edition AND why = old.why;
	UPDATE edition SET changed = (SELECT change FROM state) WHERE id = old.edition;
END;
CREATE TRIGGER job_came_back AFTER UPDATE OF comebacks ON job WHEN new.comebacks <> old.comebacks BEGIN
	UPDATE tally SET came_back = came_back + (new.comebacks > 0) - (old.comebacks > 0), comebacks = comebacks + new.comebacks - old.comebacks
		WHERE edition = new.edition AND why = new.why;
	UPDATE edition SET changed = (SELECT change FROM state) WHERE id = new.edition;
END;

-- Jobs that are not finished.
CREATE TABLE open_job (
	job        TEXT PRIMARY KEY,
	bay        TEXT    NOT NULL,
	file       TEXT    NOT NULL, -- of its procedure, as named when it began
	order_no   TEXT    NOT NULL,
	technician TEXT    NOT NULL, -- who began it
	started    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Jobs that could not be read, and why.
CREATE TABLE passed_over (
	job TEXT PRIMARY KEY,
	why TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Every bay that began a job.
CREATE TABLE bay (
	name TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

-- How far the journal has been read, whether it has ever been read to its end, and how often something changed here.
CREATE TABLE state (
	id     INTEGER PRIMARY KEY CHECK (id = 1),
	mark   INTEGER NOT NULL,
	last   TEXT    NOT NULL, -- the job that got an event there
	filled INTEGER NOT NULL,
	change INTEGER NOT NULL
) STRICT;
INSERT INTO state (id, mark, last, filled, change) VALUES (1, 0, '', 0, 0);
