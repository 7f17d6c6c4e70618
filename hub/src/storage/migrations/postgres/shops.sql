-- Done again after every change of the tables: each of them belongs to the shops, whoever made it. A table without the
-- column, or with a key that does not begin with it, is a mistake of this program and stops it.
GRANT USAGE ON SCHEMA evenwire TO evenwire_hub;
GRANT SELECT ON format, shop TO evenwire_hub;
DO $$
DECLARE
    of_shops RECORD;
BEGIN
    FOR of_shops IN
        SELECT c.oid, c.relname FROM pg_class AS c
        WHERE c.relnamespace = 'evenwire'::regnamespace AND c.relkind IN ('r', 'p') AND c.relname NOT IN ('format', 'shop')
    LOOP
        IF EXISTS (
            SELECT 1 FROM pg_index AS i WHERE i.indrelid = of_shops.oid AND i.indisunique AND NOT EXISTS (
                SELECT 1 FROM pg_attribute AS a
                WHERE a.attrelid = of_shops.oid AND a.attnum = i.indkey[0] AND a.attname = 'shop' AND a.attnotnull)
        ) THEN
            RAISE EXCEPTION 'a key of % does not begin with the shop', of_shops.relname;
        END IF;
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY', of_shops.relname);
        CONTINUE WHEN of_shops.relname = 'line_of_shops';
        EXECUTE format('DROP POLICY IF EXISTS its_own_shop ON %I', of_shops.relname);
        EXECUTE format('CREATE POLICY its_own_shop ON %I USING (shop = shop_now()) WITH CHECK (shop = shop_now())',
            of_shops.relname);
        EXECUTE format('GRANT SELECT, INSERT, UPDATE, DELETE ON %I TO evenwire_hub', of_shops.relname);
    END LOOP;
END $$;
-- What is compared by a policy is compared before all else, and the index of words answers only to whoever may look first:
-- a search under a policy reads every line of the shop. So nobody but the owner may ask for lines, and the role asks
-- through a view that shows those of its shop. A role that can write SQL of its own can tell another shop's number as well:
-- a policy would hold no more than this does.
DROP VIEW IF EXISTS line;
DROP POLICY IF EXISTS through_the_view ON line_of_shops;
CREATE POLICY through_the_view ON line_of_shops TO CURRENT_USER USING (true);
CREATE VIEW line AS SELECT * FROM line_of_shops WHERE shop = shop_now() WITH CASCADED CHECK OPTION;
GRANT SELECT, INSERT, UPDATE, DELETE ON line TO evenwire_hub;

-- What stays as it is: the triggers say so, and the role has no right to try.
REVOKE UPDATE, DELETE ON batch, run, job_head, fork, signature FROM evenwire_hub;
REVOKE UPDATE ON access FROM evenwire_hub;
REVOKE DELETE ON hub, device FROM evenwire_hub;
