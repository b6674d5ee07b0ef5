-- +goose Up

-- What was recorded stays.
-- +goose StatementBegin
CREATE FUNCTION stay() RETURNS trigger LANGUAGE plpgsql SET search_path = stepcaller, pg_temp AS $$
BEGIN
	RAISE EXCEPTION 'what is recorded in % is never changed or deleted', TG_TABLE_NAME;
END
$$;
-- +goose StatementEnd
CREATE TRIGGER event_stays BEFORE UPDATE OR DELETE ON event FOR EACH ROW EXECUTE FUNCTION stay();
CREATE TRIGGER event_is_not_emptied BEFORE TRUNCATE ON event FOR EACH STATEMENT EXECUTE FUNCTION stay();
CREATE TRIGGER tenure_stays BEFORE DELETE ON tenure FOR EACH ROW EXECUTE FUNCTION stay();
CREATE TRIGGER tenure_is_not_emptied BEFORE TRUNCATE ON tenure FOR EACH STATEMENT EXECUTE FUNCTION stay();

-- A tenure is closed once.
-- +goose StatementBegin
CREATE FUNCTION close_once() RETURNS trigger LANGUAGE plpgsql SET search_path = stepcaller, pg_temp AS $$
BEGIN
	IF (NEW.shop, NEW.job, NEW.term, NEW.bay, NEW.goes_on, NEW.after, NEW.forced, NEW.aside, NEW.at)
			IS DISTINCT FROM (OLD.shop, OLD.job, OLD.term, OLD.bay, OLD.goes_on, OLD.after, OLD.forced, OLD.aside, OLD.at)
		OR OLD.released IS NOT NULL THEN
		RAISE EXCEPTION 'a tenure is never changed but by its release';
	END IF;
	RETURN NEW;
END
$$;
-- +goose StatementEnd
CREATE TRIGGER tenure_closes_once BEFORE UPDATE ON tenure FOR EACH ROW EXECUTE FUNCTION close_once();

-- Every row is seen by members of its shop alone, whatever role the statement runs under: session_user is who logged in, which neither SET ROLE nor a
-- function changes. Who may act for the keeper, the administrator, sees all.
CREATE POLICY own ON member USING (role = session_user::text OR pg_has_role(session_user, 'stepcaller_keeper', 'MEMBER'));
-- +goose StatementBegin
CREATE PROCEDURE guard(guarded regclass) LANGUAGE plpgsql SET search_path = stepcaller, pg_temp AS $$
BEGIN
	EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', guarded);
	EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', guarded);
	IF guarded <> 'member'::regclass THEN
		EXECUTE format($policy$CREATE POLICY shop ON %s USING (shop = ANY (ARRAY(SELECT m.shop FROM member m WHERE m.role = session_user::text))
			OR (SELECT pg_has_role(session_user, 'stepcaller_keeper', 'MEMBER')))$policy$, guarded);
	END IF;
END
$$;
-- +goose StatementEnd
-- +goose StatementBegin
DO $$
DECLARE name text;
BEGIN
	FOREACH name IN ARRAY ARRAY['shop', 'bay', 'member', 'session', 'journal', 'job', 'tenure', 'event', 'file', 'piece', 'current', 'token'] LOOP
		CALL guard(name::regclass);
	END LOOP;
END
$$;
-- +goose StatementEnd

-- Pages and owners read. Voices are none of their business, nor are tokens.
GRANT SELECT ON shop, bay, member, session, job, tenure, event, file, piece, current TO stepcaller_pages, stepcaller_owner;
CREATE POLICY no_voices ON file AS RESTRICTIVE TO stepcaller_pages, stepcaller_owner USING (kind <> 'voice');
CREATE POLICY no_voices ON current AS RESTRICTIVE TO stepcaller_pages, stepcaller_owner USING (kind <> 'voice');
CREATE POLICY no_voices ON piece AS RESTRICTIVE TO stepcaller_pages, stepcaller_owner USING (kind <> 'voice');

-- A month's partition is made by the first job that begins in it. It is attached, so that nobody who reads or appends waits for it.
-- +goose StatementBegin
CREATE FUNCTION make_partition(month integer) RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
DECLARE
	name text := format('event_%s_%s', 1970 + month / 12, lpad((month % 12 + 1)::text, 2, '0'));
BEGIN
	IF to_regclass(name) IS NOT NULL THEN
		RETURN;
	END IF;
	LOCK TABLE migration IN SHARE UPDATE EXCLUSIVE MODE; -- one at a time; an advisory lock could be taken, and kept, by any bay
	IF EXISTS (SELECT FROM pg_class WHERE relnamespace = 'stepcaller'::regnamespace AND relname = name) THEN -- made while this one waited; a lookup by name may not know
		RETURN;
	END IF;
	EXECUTE format('CREATE TABLE %I (LIKE event INCLUDING ALL)', name);
	EXECUTE format('CREATE TRIGGER event_is_not_emptied BEFORE TRUNCATE ON %I FOR EACH STATEMENT EXECUTE FUNCTION stay()', name);
	EXECUTE format('ALTER TABLE event ATTACH PARTITION %I FOR VALUES FROM (%s) TO (%s)', name, month, month + 1);
	CALL guard(name::regclass);
END
$$;
-- +goose StatementEnd

-- The month of a moment, counted from January 1970. What a wrong clock tells is put into the first or last month that can be.
-- +goose StatementBegin
CREATE FUNCTION month_of(at bigint) RETURNS integer LANGUAGE sql STABLE SET search_path = stepcaller, pg_temp AS $$
	SELECT extract(year FROM day)::integer * 12 - 1970 * 12 + extract(month FROM day)::integer - 1
	FROM (SELECT to_timestamp(greatest(946684800, least(at / 16000, extract(epoch FROM now())::bigint + 31 * 86400))) AT TIME ZONE 'UTC' AS day) clamped
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION moment() RETURNS bigint LANGUAGE sql STABLE SET search_path = stepcaller, pg_temp AS
	$$SELECT (extract(epoch FROM clock_timestamp()) * 16000)::bigint$$;
-- +goose StatementEnd

-- The bay that asks. Who is no bay of any shop is refused.
-- +goose StatementBegin
CREATE FUNCTION me() RETURNS member LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = stepcaller, pg_temp AS $$
DECLARE asking member;
BEGIN
	SELECT * INTO asking FROM member WHERE role = session_user::text AND kind = 'bay';
	IF NOT FOUND THEN
		RAISE EXCEPTION 'no bay' USING ERRCODE = 'SC008';
	END IF;
	RETURN asking;
END
$$;
-- +goose StatementEnd
