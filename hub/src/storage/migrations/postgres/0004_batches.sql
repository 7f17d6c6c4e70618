-- What devices bring is kept as it came: a batch is one row, and its signature stands with it. `place` is that of its
-- first entry. `bytes` are its entries one behind the other, and the truth; before each stands how many bytes it has
-- (4, the highest first) and its hash (32). They are not compressed: a part of them can then be read by itself.
CREATE TABLE batch (
    shop BIGINT NOT NULL DEFAULT shop_now(),
    place BIGINT NOT NULL,
    entries BIGINT NOT NULL CHECK (entries > 0),
    received_ms BIGINT NOT NULL,
    jws TEXT COLLATE "C" NOT NULL,
    bytes BYTEA NOT NULL CHECK (length(bytes) > 36 * entries),
    PRIMARY KEY (shop, place)
);
ALTER TABLE batch ALTER COLUMN bytes SET STORAGE EXTERNAL;

-- Entries in a row within a batch that belong to one job; `job` is empty, and `kind` theirs, where they belong to none.
-- Read from the entries when the batch is written.
CREATE TABLE run (
    shop BIGINT NOT NULL DEFAULT shop_now(),
    job BYTEA NOT NULL CHECK (length(job) IN (0, 16)),
    kind TEXT COLLATE "C" NOT NULL,
    first BIGINT NOT NULL,
    batch BIGINT NOT NULL,
    entries BIGINT NOT NULL CHECK (entries > 0),
    begins BIGINT NOT NULL,
    length BIGINT NOT NULL,
    PRIMARY KEY (shop, job, kind, first)
);

-- Whoever changes tables sees all shops; where a policy hid a row of one, the step stops.
SET LOCAL row_security = off;
ALTER TABLE entry NO FORCE ROW LEVEL SECURITY;
ALTER TABLE push_head NO FORCE ROW LEVEL SECURITY;

INSERT INTO batch (shop, place, entries, received_ms, jws, bytes)
SELECT entry.shop, min(entry.place), count(*), received_ms, jws,
    string_agg(int4send(length(bytes)) || hash || bytes, ''::bytea ORDER BY entry.place)
FROM entry JOIN push_head ON push_head.shop = entry.shop AND push_head.place = (SELECT min(later.place)
    FROM push_head AS later WHERE later.shop = entry.shop AND later.place >= entry.place)
GROUP BY entry.shop, push_head.place, received_ms, jws;

WITH placed AS (
    SELECT entry.shop, entry.place, coalesce(job, ''::bytea) AS job, CASE WHEN job IS NULL THEN kind ELSE '' END AS kind,
        batch.place AS batch, 36 + length(entry.bytes) AS length
    FROM entry JOIN batch ON batch.shop = entry.shop AND batch.place = (SELECT max(before.place)
        FROM batch AS before WHERE before.shop = entry.shop AND before.place <= entry.place)
), told AS (
    SELECT *, sum(length) OVER (PARTITION BY shop, batch ORDER BY place) - length AS begins,
        place - row_number() OVER (PARTITION BY shop, batch, job, kind ORDER BY place) AS beside
    FROM placed
)
INSERT INTO run (shop, job, kind, first, batch, entries, begins, length)
SELECT shop, job, kind, min(place), batch, count(*), min(begins), sum(length)
FROM told GROUP BY shop, batch, job, kind, beside;

-- Nothing goes before all of it is there: an entry without a batch stops the step, and everything stays as it was.
DO $$
BEGIN
    IF (SELECT count(*) FROM entry) IS DISTINCT FROM (SELECT coalesce(sum(entries), 0) FROM batch)
        OR (SELECT count(*) FROM entry) IS DISTINCT FROM (SELECT coalesce(sum(entries), 0) FROM run) THEN
        RAISE EXCEPTION 'an entry has no signed end';
    END IF;
END $$;

DROP TABLE entry;
DROP TABLE push_head;
DROP FUNCTION entries_follow();
ALTER TABLE run ADD FOREIGN KEY (shop, batch) REFERENCES batch (shop, place);

-- Entries are numbered without gaps, and none stands twice: a batch begins where the one before it ends.
-- 1099511627776 is 2^40; a place that is taken the key refuses.
CREATE FUNCTION batches_follow() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.place % 1099511627776 <> 1 AND NEW.place IS DISTINCT FROM (
        SELECT place + entries FROM batch WHERE shop = NEW.shop AND place < NEW.place ORDER BY place DESC LIMIT 1
    ) THEN
        RAISE EXCEPTION 'entries are numbered without gaps';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER batches_follow BEFORE INSERT ON batch FOR EACH ROW EXECUTE FUNCTION batches_follow();
CREATE TRIGGER batch_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON batch EXECUTE FUNCTION stays();
CREATE TRIGGER run_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON run EXECUTE FUNCTION stays();
