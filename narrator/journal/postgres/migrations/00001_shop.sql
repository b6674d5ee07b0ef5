-- +goose Up
ALTER DEFAULT PRIVILEGES REVOKE EXECUTE ON ROUTINES FROM PUBLIC; -- who may call what is granted, one by one

-- A moment is 1/16 000 s since 1970-01-01T00:00:00Z, as in the journal. Text for which the shop only keeps the bytes is json: it may hold what text cannot.

-- One row a shop. Appends of a shop lock it, and so get marks that rise in the order in which they are committed.
CREATE TABLE shop (
	shop integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
	name text    NOT NULL UNIQUE CHECK (name ~ '^[a-z0-9][a-z0-9-]{0,23}$'),
	mark bigint  NOT NULL DEFAULT 0, -- the last one given out
	channel text NOT NULL DEFAULT 'shop_' || replace(gen_random_uuid()::text, '-', '') -- on which news are told; members alone know it
) WITH (fillfactor = 20);

CREATE TABLE bay (
	shop   integer NOT NULL REFERENCES shop,
	bay    text    NOT NULL CHECK (bay ~ '^[a-z0-9][a-z0-9-]{0,23}$'),
	open   boolean NOT NULL DEFAULT true, -- it has a role
	heard  timestamptz,                -- when it spoke to the shop last
	events bigint  NOT NULL DEFAULT 0, -- that it had still to send, as last told
	jobs   bigint  NOT NULL DEFAULT 0,
	notes  bigint  NOT NULL DEFAULT 0,
	beat   bigint  NOT NULL DEFAULT 0, -- moment
	PRIMARY KEY (shop, bay)
) WITH (fillfactor = 50);

-- Who may see which shop: a bay one, pages and owners any number.
CREATE TABLE member (
	shop integer NOT NULL REFERENCES shop,
	role text    NOT NULL,             -- login role
	kind text    NOT NULL CHECK (kind IN ('bay', 'pages', 'owner')),
	bay  text    CHECK ((bay IS NOT NULL) = (kind = 'bay')),
	PRIMARY KEY (role, shop),
	FOREIGN KEY (shop, bay) REFERENCES bay
);
CREATE UNIQUE INDEX member_of_one_bay ON member (role) WHERE kind = 'bay';

CREATE TABLE session (
	shop       integer NOT NULL,
	bay        text    NOT NULL,
	id         bigint  GENERATED ALWAYS AS IDENTITY,
	boot       text    NOT NULL,
	since_boot bigint  NOT NULL,       -- nanoseconds of CLOCK_BOOTTIME
	opened     bigint  NOT NULL,       -- moment
	PRIMARY KEY (shop, bay, id),
	FOREIGN KEY (shop, bay) REFERENCES bay
);

-- Up to which mark of a bay's journal all events have arrived.
CREATE TABLE journal (
	shop    integer NOT NULL,
	bay     text    NOT NULL,
	journal text    NOT NULL CHECK (length(journal) <= 100),
	arrived bigint  NOT NULL DEFAULT 0,
	print   text    NOT NULL DEFAULT '', -- of the event at that mark
	PRIMARY KEY (shop, bay, journal),
	FOREIGN KEY (shop, bay) REFERENCES bay
) WITH (fillfactor = 50);

-- One row a job, and one a bay's own log: where its events lie, and what a list of jobs shows. All but the first four columns follows from the events and
-- tenures, and is brought up to date with them.
CREATE TABLE job (
	shop    integer  NOT NULL REFERENCES shop,
	job     text     COLLATE "C" NOT NULL CHECK (length(job) <= 100),
	bay     text     NOT NULL,            -- that began it
	month   smallint NOT NULL,            -- in which it began, counted from January 1970
	mark    bigint   NOT NULL DEFAULT 0,  -- of its latest event, in any story
	last    bigint   NOT NULL DEFAULT 0,  -- seq of the last event of the main story
	began   bigint   NOT NULL DEFAULT 0,  -- moment
	ended   bigint   NOT NULL DEFAULT 0,  -- moment, 0 while it is open
	at      bigint   NOT NULL DEFAULT 0,  -- moment of the last event of the main story
	heading json,                         -- of the event that opened it
	handing json,                         -- of the event by which it was given to another bay and is gone, null where it is not
	PRIMARY KEY (shop, job),
	FOREIGN KEY (shop, bay) REFERENCES bay
) WITH (fillfactor = 70);
CREATE INDEX job_by_mark ON job (shop, mark);
CREATE INDEX job_open ON job (shop) WHERE ended = 0;

-- The time in which a bay writes a job's story. The highest term that is not aside has the job. A release ends it, and the next claim opens another; a job taken by
-- force needs none. The bay that lost it may write on, and its story stays aside; so does what it wrote before a backup was put back, when it branches off.
CREATE TABLE tenure (
	shop     integer NOT NULL,
	job      text    COLLATE "C" NOT NULL,
	term     integer NOT NULL CHECK (term > 0),
	bay      text    NOT NULL,
	goes_on  integer CHECK (goes_on < term), -- the term from whose story it goes on, null for the first
	after    bigint  NOT NULL,               -- seq of the last event that it takes over from there
	released bigint  CHECK (released >= after),
	to_bay   text    CHECK ((to_bay IS NULL) = (released IS NULL)), -- '' is any
	forced   boolean NOT NULL DEFAULT false, -- without a release
	aside    boolean NOT NULL DEFAULT false, -- another bay has the job
	at       bigint  NOT NULL,               -- moment, by the server's clock
	PRIMARY KEY (shop, job, term),
	FOREIGN KEY (shop, job) REFERENCES job,
	FOREIGN KEY (shop, bay) REFERENCES bay
);
CREATE INDEX tenure_of_bay ON tenure (shop, bay, job, term);

-- One row an event, written under the term of the bay that sent it. What the columns mean is said at narrator.Event.
CREATE TABLE event (
	shop   integer  NOT NULL,
	month  smallint NOT NULL,             -- of its job
	job    text     COLLATE "C" NOT NULL,
	term   integer  NOT NULL,
	seq    bigint   NOT NULL CHECK (seq > 0),
	bay    text     NOT NULL,
	mark   bigint   NOT NULL,
	act    bigint   NOT NULL,
	at     bigint   NOT NULL,
	noted  bigint   NOT NULL,
	ref    bigint   NOT NULL,             -- as in the detail: an act that was taken back
	kind   text     NOT NULL,
	heading json,                         -- of one that opens a job or hands it over: its detail without the procedure's text
	detail json     NOT NULL,             -- narrator.Detail, byte for byte as the bay wrote it
	PRIMARY KEY (shop, job, term, seq, month)
) PARTITION BY RANGE (month);
CREATE UNIQUE INDEX event_by_mark ON event (shop, mark, month);

-- What is sent besides events. A version of a file is its sum.
CREATE TABLE file (
	shop    integer NOT NULL REFERENCES shop,
	kind    text    NOT NULL CHECK (kind IN ('memo', 'procedure', 'voice')),
	name    text    COLLATE "C" NOT NULL CHECK (length(name) <= 300),
	sum     text    COLLATE "C" NOT NULL CHECK (sum ~ '^[0-9a-f]{64}$'), -- SHA-256 of the whole
	size    bigint  NOT NULL CHECK (size BETWEEN 0 AND 1000000000),
	parent  text    NOT NULL DEFAULT '',           -- sum of the version that was edited
	bay     text    NOT NULL,                      -- that sent it
	job     text    COLLATE "C",                   -- of a memo
	arrived bigint  NOT NULL DEFAULT 0 CHECK (arrived <= size),
	whole   boolean NOT NULL DEFAULT false,        -- all has arrived, and has that sum
	PRIMARY KEY (shop, kind, name, sum),
	FOREIGN KEY (shop, bay) REFERENCES bay
);

CREATE TABLE piece (
	shop  integer NOT NULL,
	kind  text    NOT NULL,
	name  text    COLLATE "C" NOT NULL,
	sum   text    COLLATE "C" NOT NULL,
	start bigint  NOT NULL,               -- of its first byte in the file
	bytes bytea   NOT NULL,
	PRIMARY KEY (shop, kind, name, sum, start),
	FOREIGN KEY (shop, kind, name, sum) REFERENCES file ON DELETE CASCADE
);
ALTER TABLE piece ALTER bytes SET STORAGE EXTERNAL; -- sound does not shrink

-- The version of a procedure or voice that counts. Its others stay: jobs stand on them.
CREATE TABLE current (
	shop integer NOT NULL,
	kind text    NOT NULL CHECK (kind <> 'memo'),
	name text    COLLATE "C" NOT NULL,
	sum  text    COLLATE "C" NOT NULL,
	PRIMARY KEY (shop, kind, name),
	FOREIGN KEY (shop, kind, name, sum) REFERENCES file ON DELETE CASCADE
);

-- With which a technician opens the pages about themselves. The token itself is known to them alone.
CREATE TABLE token (
	shop       integer NOT NULL REFERENCES shop,
	technician text    NOT NULL,
	sum        bytea   NOT NULL CHECK (length(sum) = 32), -- SHA-256
	PRIMARY KEY (shop, technician)
);
