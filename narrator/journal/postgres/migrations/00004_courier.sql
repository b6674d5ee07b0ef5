-- +goose Up

-- What a bay's courier asks besides sending events (append): handing over, files, news.

-- This bay's latest tenure in a job. A bay's own log is no job.
-- +goose StatementBegin
CREATE FUNCTION mine(m member, in_job text, logs boolean) RETURNS tenure LANGUAGE plpgsql SET search_path = stepcaller, pg_temp AS $$
DECLARE t tenure := latest(m.shop, in_job, m.bay);
BEGIN
	IF (main(m.shop, in_job)).term IS NULL OR in_job LIKE '@%' AND NOT logs THEN
		RAISE EXCEPTION 'no such job' USING ERRCODE = 'SC003', DETAIL = in_job;
	ELSIF t.term IS NULL THEN
		PERFORM refuse(m.shop, in_job);
	END IF;
	RETURN t;
END
$$;
-- +goose StatementEnd

-- The next mark of a shop, which it locks.
-- +goose StatementBegin
CREATE FUNCTION next_mark(in_shop integer) RETURNS bigint LANGUAGE sql SET search_path = stepcaller, pg_temp AS
	$$UPDATE shop SET mark = mark + 1 WHERE shop = in_shop RETURNING mark$$;
-- +goose StatementEnd

-- Wakes who waits for news of a shop.
-- +goose StatementBegin
CREATE FUNCTION tell(in_shop integer) RETURNS void LANGUAGE sql SET search_path = stepcaller, pg_temp AS
	$$SELECT pg_notify(channel, '') FROM shop WHERE shop = in_shop$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION channel() RETURNS text LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS
	$$SELECT s.channel FROM me() m JOIN shop s USING (shop)$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION arrived(in_journal text, OUT mark bigint, OUT print text) LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS
	$$SELECT coalesce(max(j.arrived), 0), coalesce(max(j.print), '') FROM me() m JOIN journal j USING (shop, bay) WHERE j.journal = in_journal$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION told(in_events bigint, in_jobs bigint, in_notes bigint) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
DECLARE m member := me();
BEGIN
	UPDATE bay SET heard = now(), events = in_events, jobs = in_jobs, notes = in_notes WHERE shop = m.shop AND bay = m.bay;
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION release(in_job text, in_seq bigint, in_to text) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE
	m member := me();
	t tenure;
	last bigint;
BEGIN
	PERFORM FROM shop WHERE shop = m.shop FOR UPDATE;
	t := mine(m, in_job, false);
	last := last_seq(t);
	IF in_seq <= t.after AND (SELECT count(*) FROM tenure WHERE shop = m.shop AND job = in_job) > 1 OR t.released IS NOT NULL THEN
		RETURN;
	ELSIF t.term <> (main(m.shop, in_job)).term THEN
		PERFORM refuse(m.shop, in_job);
	ELSIF in_seq > last THEN
		RAISE EXCEPTION 'not arrived' USING ERRCODE = 'SC004', DETAIL = format('job %s has %s events there', in_job, last);
	ELSIF in_to <> '' AND NOT EXISTS (SELECT FROM bay WHERE shop = m.shop AND bay = in_to) THEN
		RAISE EXCEPTION 'no such bay' USING ERRCODE = 'SC010', DETAIL = in_to;
	ELSIF in_seq = last THEN
		UPDATE tenure SET released = in_seq, to_bay = in_to WHERE shop = m.shop AND job = in_job AND term = t.term;
		PERFORM tell(m.shop);
	END IF;
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION offers(everything boolean, OUT job text, OUT bay text, OUT to_bay text, OUT released boolean, OUT heading text, OUT seq bigint, OUT at bigint)
	RETURNS SETOF record LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	SELECT j.job, t.bay, coalesce(t.to_bay, ''), t.released IS NOT NULL, coalesce(j.heading, '{}')::text, j.last, j.at
	FROM me() m JOIN job j ON j.shop = m.shop
	CROSS JOIN LATERAL main(j.shop, j.job) t
	CROSS JOIN LATERAL (SELECT t.bay = m.bay AND t.released IS NULL AS had) h
	WHERE j.ended = 0 AND j.last > 0 AND j.job NOT LIKE '@%'
		AND (offered(t, m.bay) OR h.had AND t.term > 1 AND j.last = t.after OR everything AND NOT h.had)
	ORDER BY j.at DESC, j.job DESC
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION claim(in_job text, force boolean) RETURNS SETOF event LANGUAGE plpgsql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE
	m member := me();
	t tenure;
BEGIN
	PERFORM FROM shop WHERE shop = m.shop FOR UPDATE;
	t := main(m.shop, in_job);
	IF t.term IS NULL OR in_job LIKE '@%' THEN
		RAISE EXCEPTION 'no such job' USING ERRCODE = 'SC003', DETAIL = in_job;
	ELSIF t.bay <> m.bay OR t.released IS NOT NULL THEN
		IF NOT offered(t, m.bay) AND NOT force THEN
			RAISE EXCEPTION 'another bay has it' USING ERRCODE = 'SC002', DETAIL = coalesce(nullif(t.to_bay, ''), t.bay);
		END IF;
		INSERT INTO tenure (shop, job, term, bay, goes_on, after, forced, at)
			SELECT m.shop, in_job, max(term) + 1, m.bay, t.term, last_seq(t), NOT offered(t, m.bay), moment() FROM tenure WHERE shop = m.shop AND job = in_job
			RETURNING * INTO t;
		PERFORM settle(m.shop, in_job, next_mark(m.shop), false);
		PERFORM tell(m.shop);
	END IF;
	RETURN QUERY SELECT * FROM story(m.shop, in_job, t.term);
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION branch(in_job text, in_after bigint) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE
	m member := me();
	t tenure;
	owner tenure;
	last bigint;
BEGIN
	PERFORM FROM shop WHERE shop = m.shop FOR UPDATE;
	t := mine(m, in_job, true);
	last := last_seq(t);
	owner := main(m.shop, in_job);
	IF in_after > last OR in_after < 0 THEN
		RAISE EXCEPTION 'not arrived' USING ERRCODE = 'SC004', DETAIL = format('event %s of job %s', in_after, in_job);
	ELSIF t.after = in_after AND last = in_after AND t.term > 1 THEN
		RETURN; -- branched there already
	END IF;
	INSERT INTO tenure (shop, job, term, bay, goes_on, after, forced, aside, at)
		SELECT m.shop, in_job, max(term) + 1, m.bay, CASE WHEN owner.bay = m.bay THEN owner.term ELSE t.term END, in_after, true, owner.bay <> m.bay, moment()
		FROM tenure WHERE shop = m.shop AND job = in_job;
	PERFORM settle(m.shop, in_job, next_mark(m.shop), true);
	PERFORM tell(m.shop);
END
$$;
-- +goose StatementEnd

-- Jobs of which the tenure after this bay's last one was opened by force.
-- +goose StatementBegin
CREATE FUNCTION lost(OUT job text, OUT bay text, OUT after bigint, OUT at bigint) RETURNS SETOF record LANGUAGE sql STABLE SECURITY DEFINER
	SET search_path = stepcaller, pg_temp AS $$
	SELECT t.job, n.bay, n.after, n.at
	FROM me() m
	JOIN (SELECT DISTINCT ON (shop, bay, job) * FROM tenure WHERE NOT aside ORDER BY shop, bay, job, term DESC) t ON t.shop = m.shop AND t.bay = m.bay
	CROSS JOIN LATERAL (SELECT * FROM tenure n WHERE n.shop = t.shop AND n.job = t.job AND n.term > t.term AND NOT n.aside ORDER BY n.term LIMIT 1) n
	WHERE n.forced AND t.released IS NULL
	ORDER BY t.job
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION channel, arrived, told, release, offers, claim, branch, lost TO stepcaller_bay;

-- Whether a bay may read a file: a whole one, and of memos those that it sent and those of jobs that it has or may claim.
-- +goose StatementBegin
CREATE FUNCTION readable(f file, in_bay text) RETURNS boolean LANGUAGE sql STABLE SET search_path = stepcaller, pg_temp AS $$
	SELECT f.whole AND (f.kind <> 'memo' OR f.bay = in_bay OR coalesce((SELECT t.bay = in_bay OR offered(t, in_bay) FROM main(f.shop, f.job) t), false))
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION has(in_kind text, in_name text, in_sum text, OUT bytes bigint, OUT all_of_it boolean) LANGUAGE sql STABLE SECURITY DEFINER
	SET search_path = stepcaller, pg_temp AS $$
	SELECT coalesce(max(f.arrived), 0), coalesce(bool_or(f.whole), false)
	FROM me() m JOIN file f ON f.shop = m.shop AND f.kind = in_kind AND f.name = in_name AND f.sum = in_sum
$$;
-- +goose StatementEnd

-- Adds a piece. What it returns says what is wrong, "" for nothing: what was thrown away must stay so, which an error would take back.
-- +goose StatementBegin
CREATE FUNCTION put(in_kind text, in_name text, in_sum text, in_size bigint, in_parent text, in_start bigint, in_bytes bytea) RETURNS text
	LANGUAGE plpgsql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE
	m member := me();
	of_job text := CASE WHEN in_kind = 'memo' THEN substring(in_name FROM '^memos/([^/]+)-[1-9][0-9]*\.wav$') END;
	upto bigint := in_start + length(in_bytes);
	f file;
BEGIN
	IF in_kind = 'memo' AND (latest(m.shop, of_job, m.bay)).term IS NULL THEN
		PERFORM refuse(m.shop, coalesce(of_job, in_name));
	END IF;
	INSERT INTO file (shop, kind, name, sum, size, parent, bay, job) VALUES (m.shop, in_kind, in_name, in_sum, in_size, in_parent, m.bay, of_job)
		ON CONFLICT DO NOTHING;
	SELECT * INTO f FROM file WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum FOR UPDATE;
	IF upto > f.size OR in_size <> f.size OR in_start < 0 THEN
		DELETE FROM file WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum AND arrived = 0 AND NOT whole;
		RETURN 'it is not as long as was said';
	ELSIF in_start > f.arrived THEN
		RAISE EXCEPTION 'a hole' USING ERRCODE = 'SC004', DETAIL = format('%s bytes of file %s have', f.arrived, in_name);
	ELSIF upto > f.arrived THEN
		INSERT INTO piece (shop, kind, name, sum, start, bytes)
			VALUES (m.shop, in_kind, in_name, in_sum, f.arrived, substr(in_bytes, (f.arrived - in_start + 1)::integer));
		UPDATE file SET arrived = upto WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum;
	END IF;
	IF upto < f.size THEN
		RETURN '';
	ELSIF NOT f.whole THEN
		IF in_sum <> encode(sha256(coalesce((SELECT string_agg(bytes, '' ORDER BY start) FROM piece
				WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum), '')), 'hex') THEN
			DELETE FROM file WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum;
			RETURN 'its sum is another';
		END IF;
		UPDATE file SET whole = true WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum;
	END IF;
	IF in_kind <> 'memo' THEN
		IF in_parent = '' THEN
			INSERT INTO current (shop, kind, name, sum) VALUES (m.shop, in_kind, in_name, in_sum) ON CONFLICT DO NOTHING;
		ELSE
			UPDATE current SET sum = in_sum WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_parent;
		END IF;
		IF FOUND THEN
			UPDATE file SET parent = in_parent, bay = m.bay WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum;
		END IF;
	END IF;
	PERFORM tell(m.shop);
	RETURN '';
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION files(in_kind text) RETURNS SETOF file LANGUAGE sql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
	SELECT f.* FROM me() m JOIN file f ON f.shop = m.shop AND f.kind = in_kind
	WHERE readable(f, m.bay) AND (f.kind = 'memo' OR EXISTS (SELECT FROM current c WHERE (c.shop, c.kind, c.name, c.sum) = (f.shop, f.kind, f.name, f.sum)))
	ORDER BY f.name, f.sum
$$;
-- +goose StatementEnd

-- At most so many bytes of a file from a place on.
-- +goose StatementBegin
CREATE FUNCTION get(in_kind text, in_name text, in_sum text, in_start bigint, at_most integer) RETURNS bytea LANGUAGE plpgsql STABLE SECURITY DEFINER
	SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE
	m member := me();
	f file;
	first bigint;
	found_bytes bytea;
BEGIN
	SELECT * INTO f FROM file WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum;
	IF NOT coalesce(readable(f, m.bay), false) THEN
		RAISE EXCEPTION 'no such file' USING ERRCODE = 'SC009', DETAIL = in_name;
	END IF;
	SELECT coalesce(max(start), 0) INTO first FROM piece WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum AND start <= greatest(in_start, 0);
	SELECT string_agg(bytes, '' ORDER BY start) INTO found_bytes FROM piece
		WHERE shop = m.shop AND kind = in_kind AND name = in_name AND sum = in_sum AND start >= first AND start < in_start + at_most;
	RETURN coalesce(substr(found_bytes, (greatest(in_start, 0) - first + 1)::integer, at_most), '');
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION withdraw(technician text) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
#variable_conflict use_column
DECLARE m member := me();
BEGIN
	DELETE FROM file WHERE shop = m.shop AND kind = 'voice' AND starts_with(name, technician || '/');
	PERFORM tell(m.shop);
END
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION has, put, files, get, withdraw TO stepcaller_bay;
