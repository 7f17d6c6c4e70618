-- Whoever serves is this role: it owns nothing, may not pass by a policy, and nobody can sign in as it. A login of its own
-- for the hub is made a member (CREATE ROLE … LOGIN IN ROLE evenwire_hub) and needs no other right. Roles belong to the
-- whole server, so that another database may have made it, or be making it now.
DO $$
BEGIN
    IF NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = 'evenwire_hub') THEN
        BEGIN
            CREATE ROLE evenwire_hub NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS;
        EXCEPTION WHEN duplicate_object OR unique_violation THEN
            NULL;
        END;
    END IF;
    IF NOT pg_has_role(current_user, 'evenwire_hub', 'MEMBER') THEN
        EXECUTE format('GRANT evenwire_hub TO %I', current_user);
    END IF;
END $$;
