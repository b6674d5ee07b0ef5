-- +goose Up

-- What a bay may do, all of it: the functions that are granted to it here and in the files after this. Each of them asks me() first.
-- Faults: SC001 out of sequence (detail: job, seq, the one that comes next), SC002 another bay has the job (its name), SC003 no such job, SC004 not arrived,
-- SC006 another story (job, seq), SC007 a hole (mark up to which the journal arrived), SC008 no bay, SC009 no such file.

-- The story of a tenure: its own events after those that it goes on from.
-- +goose StatementBegin
CREATE FUNCTION story(in_shop integer, in_job text, in_term integer) RETURNS SETOF event LANGUAGE plpgsql STABLE SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE
	in_month smallint := (SELECT month FROM job WHERE shop = in_shop AND job = in_job);
BEGIN
	RETURN QUERY
	WITH RECURSIVE chain (term, upto) AS (
		SELECT in_term, 9223372036854775807
		UNION ALL
		SELECT t.goes_on, least(c.upto, t.after) FROM chain c JOIN tenure t ON t.shop = in_shop AND t.job = in_job AND t.term = c.term WHERE t.goes_on IS NOT NULL
	)
	SELECT e.* FROM chain c JOIN event e ON e.shop = in_shop AND e.job = in_job AND e.month = in_month AND e.term = c.term AND e.seq <= c.upto ORDER BY e.seq;
END
$$;
-- +goose StatementEnd

-- The tenure that has a job, or had it before it was released.
-- +goose StatementBegin
CREATE FUNCTION main(in_shop integer, in_job text) RETURNS tenure LANGUAGE sql STABLE SET search_path = stepcaller, pg_temp AS $$
	SELECT * FROM tenure WHERE shop = in_shop AND job = in_job AND NOT aside ORDER BY term DESC LIMIT 1
$$;
-- +goose StatementEnd

-- A bay's latest tenure in a job.
-- +goose StatementBegin
CREATE FUNCTION latest(in_shop integer, in_job text, in_bay text) RETURNS tenure LANGUAGE sql STABLE SET search_path = stepcaller, pg_temp AS $$
	SELECT * FROM tenure WHERE shop = in_shop AND job = in_job AND bay = in_bay ORDER BY term DESC LIMIT 1
$$;
-- +goose StatementEnd

-- The seq of a tenure's last event.
-- +goose StatementBegin
CREATE FUNCTION last_seq(t tenure) RETURNS bigint LANGUAGE sql STABLE SET search_path = stepcaller, pg_temp AS $$
	SELECT coalesce(max(seq), t.after) FROM event
	WHERE shop = t.shop AND job = t.job AND term = t.term AND month = (SELECT month FROM job WHERE shop = t.shop AND job = t.job)
$$;
-- +goose StatementEnd

-- Whether a bay may take over a job that was released by the tenure that had it.
-- +goose StatementBegin
CREATE FUNCTION offered(t tenure, in_bay text) RETURNS boolean LANGUAGE sql IMMUTABLE SET search_path = stepcaller, pg_temp AS $$
	SELECT t.released IS NOT NULL AND t.to_bay IN ('', in_bay)
$$;
-- +goose StatementEnd

-- Refuses a bay, and says who has the job: the bay in its id where the shop has no such job.
-- +goose StatementBegin
CREATE FUNCTION refuse(in_shop integer, in_job text) RETURNS void LANGUAGE plpgsql SET search_path = stepcaller, pg_temp AS $$
BEGIN
	RAISE EXCEPTION 'another bay has it' USING ERRCODE = 'SC002', DETAIL = coalesce((main(in_shop, in_job)).bay, substr(in_job, position('.' IN in_job) + 1));
END
$$;
-- +goose StatementEnd

-- Brings a job's row up to date with its main story: its heading and end too where they may have changed.
-- +goose StatementBegin
CREATE FUNCTION settle(in_shop integer, in_job text, in_mark bigint, relist boolean) RETURNS void LANGUAGE plpgsql SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE
	t tenure := main(in_shop, in_job);
	top event;
	opened event;
	finished bigint;
	moved event;
BEGIN
	SELECT * INTO top FROM event WHERE shop = in_shop AND job = in_job AND term = t.term
		AND month = (SELECT month FROM job WHERE shop = in_shop AND job = in_job) ORDER BY seq DESC LIMIT 1;
	IF NOT FOUND THEN
		SELECT * INTO top FROM story(in_shop, in_job, t.term) ORDER BY seq DESC LIMIT 1;
	END IF;
	UPDATE job SET mark = in_mark, last = coalesce(top.seq, 0), at = coalesce(top.at, 0) WHERE shop = in_shop AND job = in_job;
	IF relist THEN
		SELECT * INTO opened FROM story(in_shop, in_job, t.term) WHERE kind = 'opened' ORDER BY seq DESC LIMIT 1;
		SELECT f.at INTO finished FROM story(in_shop, in_job, t.term) f WHERE f.kind = 'finished'
			AND f.act NOT IN (SELECT u.ref FROM story(in_shop, in_job, t.term) u WHERE u.kind = 'undone') ORDER BY f.seq DESC LIMIT 1;
		SELECT * INTO moved FROM story(in_shop, in_job, t.term) WHERE kind IN ('handed', 'taken over') ORDER BY seq DESC LIMIT 1;
		UPDATE job SET began = coalesce(opened.at, 0), ended = coalesce(finished, 0), heading = opened.heading,
			handing = CASE moved.kind WHEN 'handed' THEN coalesce(moved.heading, '{}') END WHERE shop = in_shop AND job = in_job;
	END IF;
END
$$;
-- +goose StatementEnd

-- Events of this bay, into its latest tenure of each job. With a journal's name they are a batch of it, where what arrived is passed over; without one each must be
-- the next of its job.
-- +goose StatementBegin
CREATE FUNCTION append(in_journal text, in_after bigint, in_print text, marks bigint[], jobs text[], seqs bigint[], acts bigint[], ats bigint[], noteds bigint[],
	refs bigint[], kinds text[], headings text[], details text[]) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE
	m member := me();
	exact boolean := in_journal IS NULL;
	had bigint := 0;       -- the mark up to which the journal has arrived
	given bigint;          -- the last mark of the shop's
	e record;
	j job;
	t tenure;
	old event;
	last bigint;           -- seq of the last event of the tenure t
	unsettled bigint;      -- mark of the job j's latest event, null when its row is up to date
	relist boolean := false;
BEGIN
	PERFORM make_partition(month) FROM (SELECT DISTINCT month_of(at) AS month FROM unnest(seqs, ats) a(seq, at) WHERE seq = 1) months ORDER BY month;
	SELECT mark INTO given FROM shop WHERE shop = m.shop FOR UPDATE;
	IF NOT exact THEN
		INSERT INTO journal (shop, bay, journal) VALUES (m.shop, m.bay, in_journal) ON CONFLICT DO NOTHING;
		SELECT arrived INTO had FROM journal WHERE shop = m.shop AND bay = m.bay AND journal = in_journal;
		IF in_after > had THEN
			RAISE EXCEPTION 'a hole' USING ERRCODE = 'SC007', DETAIL = had;
		END IF;
	END IF;
	FOR e IN SELECT * FROM unnest(marks, jobs, seqs, acts, ats, noteds, refs, kinds, headings, details) WITH ORDINALITY
		AS a(mark, job, seq, act, at, noted, ref, kind, heading, detail, n) WHERE exact OR mark > had ORDER BY n
	LOOP
		IF e.job IS DISTINCT FROM j.job THEN
			IF unsettled IS NOT NULL THEN
				PERFORM settle(m.shop, j.job, unsettled, relist);
			END IF;
			unsettled := NULL;
			relist := false;
			SELECT * INTO j FROM job WHERE shop = m.shop AND job = e.job;
			IF NOT FOUND THEN
				IF e.job <> '@' || m.bay AND (e.job LIKE '@%' OR position('.' IN e.job) < 2 OR substr(e.job, position('.' IN e.job) + 1) <> m.bay) THEN
					PERFORM refuse(m.shop, e.job);
				ELSIF e.seq = 1 THEN
					INSERT INTO job (shop, job, bay, month) VALUES (m.shop, e.job, m.bay, month_of(e.at)) RETURNING * INTO j;
					INSERT INTO tenure (shop, job, term, bay, after, at) VALUES (m.shop, e.job, 1, m.bay, 0, moment());
				END IF;
			END IF;
			t := latest(m.shop, e.job, m.bay);
			IF j.job IS NOT NULL AND t.term IS NULL THEN
				PERFORM refuse(m.shop, e.job);
			END IF;
			last := coalesce(last_seq(t), 0);
		END IF;
		IF exact AND e.seq <> last + 1 THEN
			RAISE EXCEPTION 'out of sequence' USING ERRCODE = 'SC001', DETAIL = json_build_object('job', e.job, 'seq', e.seq, 'want', last + 1);
		ELSIF e.seq > last + 1 THEN
			RAISE EXCEPTION 'a hole' USING ERRCODE = 'SC007', DETAIL = had;
		ELSIF e.seq <= last THEN
			SELECT * INTO old FROM event WHERE shop = m.shop AND month = j.month AND job = e.job AND term = t.term AND seq = e.seq;
			IF NOT FOUND THEN
				SELECT * INTO old FROM story(m.shop, e.job, t.term) WHERE seq = e.seq;
			END IF;
			IF (old.act, old.at, old.noted, old.kind) IS DISTINCT FROM (e.act, e.at, e.noted, e.kind)
				OR old.bay = m.bay AND old.detail::text IS DISTINCT FROM e.detail THEN
				RAISE EXCEPTION 'another story' USING ERRCODE = 'SC006', DETAIL = json_build_object('job', e.job, 'seq', e.seq);
			END IF;
			CONTINUE;
		ELSIF t.released IS NOT NULL THEN
			RAISE EXCEPTION 'it was given up' USING ERRCODE = 'SC006', DETAIL = json_build_object('job', e.job, 'seq', e.seq);
		END IF;
		given := given + 1;
		INSERT INTO event (shop, month, job, term, seq, bay, mark, act, at, noted, ref, kind, heading, detail)
			VALUES (m.shop, j.month, e.job, t.term, e.seq, m.bay, given, e.act, e.at, e.noted, e.ref, e.kind, e.heading::json, e.detail::json);
		last := e.seq;
		unsettled := given;
		relist := relist OR e.kind IN ('opened', 'finished', 'undone', 'handed', 'taken over');
	END LOOP;
	IF unsettled IS NOT NULL THEN
		PERFORM settle(m.shop, j.job, unsettled, relist);
	END IF;
	UPDATE shop SET mark = given WHERE shop = m.shop AND mark <> given;
	IF marks[cardinality(marks)] > had AND NOT exact THEN
		UPDATE journal SET arrived = marks[cardinality(marks)], print = in_print WHERE shop = m.shop AND bay = m.bay AND journal = in_journal;
	END IF;
END
$$;
-- +goose StatementEnd

-- A job's events for a bay that has or had it, as its own latest tenure tells them, or that may claim it.
-- +goose StatementBegin
CREATE FUNCTION job_log(in_job text) RETURNS SETOF event LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
DECLARE
	m member := me();
	t tenure := latest(m.shop, in_job, m.bay);
BEGIN
	IF t.term IS NULL THEN
		t := main(m.shop, in_job);
		IF NOT coalesce(offered(t, m.bay), false) THEN
			RETURN;
		END IF;
	END IF;
	RETURN QUERY SELECT * FROM story(m.shop, in_job, t.term);
END
$$;
-- +goose StatementEnd

-- The jobs that this bay has or had, or began on a day, that changed after a mark.
-- +goose StatementBegin
CREATE FUNCTION jobs(after bigint, prefix text) RETURNS SETOF job LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	SELECT j.* FROM me() m JOIN job j ON j.shop = m.shop
	WHERE j.mark > $1 AND j.job NOT LIKE '@%' AND starts_with(j.job, prefix)
		AND EXISTS (SELECT FROM tenure t WHERE t.shop = j.shop AND t.job = j.job AND t.bay = m.bay)
	ORDER BY j.mark
$$;
-- +goose StatementEnd

-- What this bay wrote, in order of marks.
-- +goose StatementBegin
CREATE FUNCTION since(after bigint, at_most integer) RETURNS SETOF event LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	SELECT e.* FROM me() m JOIN event e ON e.shop = m.shop AND e.bay = m.bay WHERE e.mark > $1 ORDER BY e.mark LIMIT $2
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION beat(at bigint) RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	UPDATE bay b SET beat = $1, heard = now() FROM me() m WHERE (b.shop, b.bay) = (m.shop, m.bay)
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION last_beat() RETURNS bigint LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	SELECT b.beat FROM me() m JOIN bay b USING (shop, bay)
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION begin_session(boot text, since_boot bigint, opened bigint) RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	INSERT INTO session (shop, bay, boot, since_boot, opened) SELECT m.shop, m.bay, $1, $2, $3 FROM me() m
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION last_session() RETURNS SETOF session LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	SELECT s.* FROM me() m JOIN session s USING (shop, bay) ORDER BY s.id DESC LIMIT 1
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION whoami(OUT bay text, OUT shop text) LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	SELECT m.bay, s.name FROM me() m JOIN shop s USING (shop)
$$;
-- +goose StatementEnd

-- The last migration: for anybody who may come in, so that a program knows whether it understands what is here.
-- +goose StatementBegin
CREATE FUNCTION schema_version() RETURNS bigint LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	SELECT max(version_id) FROM migration WHERE is_applied
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION append, job_log, jobs, since, beat, last_beat, begin_session, last_session, whoami TO stepcaller_bay;
GRANT EXECUTE ON FUNCTION story, main TO stepcaller_pages, stepcaller_owner;
GRANT EXECUTE ON FUNCTION schema_version TO stepcaller_bay, stepcaller_pages, stepcaller_owner;
