-- Whoever numbers a row holds the numbers of its table and shop until the row stands: several write for one shop at once
-- now, and a number is never seen before a smaller one.
CREATE OR REPLACE FUNCTION numbered() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.number IS NULL THEN
        PERFORM pg_advisory_xact_lock(TG_RELID::integer, NEW.shop::integer);
        EXECUTE format('SELECT coalesce(max(number), 0) + 1 FROM %I.%I WHERE shop = $1', TG_TABLE_SCHEMA,
            TG_TABLE_NAME) INTO NEW.number USING NEW.shop;
    END IF;
    RETURN NEW;
END $$;
