-- +goose Up

-- Whether a token opens the pages about a technician. Who asks sees no sums.
-- +goose StatementBegin
CREATE FUNCTION check_token(in_shop integer, in_technician text, in_sum bytea) RETURNS boolean LANGUAGE sql STABLE SECURITY DEFINER
	SET search_path = stepcaller, pg_temp AS $$
	SELECT EXISTS (SELECT FROM member m JOIN token t USING (shop)
		WHERE m.role = session_user::text AND m.kind <> 'bay' AND t.shop = in_shop AND t.technician = in_technician AND t.sum = in_sum)
$$;
-- +goose StatementEnd

GRANT EXECUTE ON FUNCTION check_token TO stepcaller_pages, stepcaller_owner;
