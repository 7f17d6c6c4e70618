-- What devices bring is kept as it came: a batch is one row, and its signature stands with it. `place` is that of its
-- first entry. `bytes` are its entries one behind the other, and the truth; before each stands how many bytes it has
-- (4, the highest first) and its hash (32).
CREATE TABLE batch (
    place INTEGER PRIMARY KEY,
    entries INTEGER NOT NULL CHECK (entries > 0),
    received_ms INTEGER NOT NULL,
    jws TEXT NOT NULL,
    bytes BLOB NOT NULL CHECK (length(bytes) > 36 * entries)
) STRICT;

-- Entries in a row within a batch that belong to one job; `job` is empty, and `kind` theirs, where they belong to none.
-- Read from the entries when the batch is written.
CREATE TABLE run (
    job BLOB NOT NULL CHECK (length(job) IN (0, 16)),
    kind TEXT NOT NULL,
    first INTEGER NOT NULL,
    batch INTEGER NOT NULL REFERENCES batch (place),
    entries INTEGER NOT NULL CHECK (entries > 0),
    begins INTEGER NOT NULL,
    length INTEGER NOT NULL,
    PRIMARY KEY (job, kind, first)
) STRICT, WITHOUT ROWID;

-- A batch at a time: the entries behind the end of the one before it, up to its own end.
INSERT INTO batch (place, entries, received_ms, jws, bytes)
SELECT (SELECT min(place) FROM entry WHERE place > before AND place <= until),
    (SELECT count(*) FROM entry WHERE place > before AND place <= until), received_ms, jws,
    (SELECT CAST(group_concat(CAST(unhex(printf('%08x', length(bytes))) || hash || bytes AS TEXT), '' ORDER BY place) AS BLOB)
        FROM entry WHERE place > before AND place <= until)
FROM (SELECT place AS until, coalesce(lag(place) OVER (ORDER BY place), 0) AS before, received_ms, jws FROM push_head);

WITH placed AS (
    SELECT entry.place, coalesce(job, x'') AS job, CASE WHEN job IS NULL THEN kind ELSE '' END AS kind,
        batch.place AS batch, 36 + length(entry.bytes) AS length
    FROM entry JOIN batch ON batch.place = (SELECT max(place) FROM batch AS before WHERE before.place <= entry.place)
), told AS (
    SELECT *, sum(length) OVER (PARTITION BY batch ORDER BY place) - length AS begins,
        place - row_number() OVER (PARTITION BY batch, job, kind ORDER BY place) AS beside
    FROM placed
)
INSERT INTO run (job, kind, first, batch, entries, begins, length)
SELECT job, kind, min(place), batch, count(*), min(begins), sum(length) FROM told GROUP BY batch, job, kind, beside;

-- Nothing goes before all of it is there: an entry without a batch stops the step, and everything stays as it was.
CREATE TABLE whole (entries INTEGER CHECK (entries = 0), runs INTEGER CHECK (runs = 0));
INSERT INTO whole SELECT count(*) - (SELECT coalesce(sum(entries), 0) FROM batch),
    count(*) - (SELECT coalesce(sum(entries), 0) FROM run) FROM entry;
DROP TABLE whole;

DROP TRIGGER tail_is_reached;
DROP TABLE entry;
DROP TABLE push_head;

-- Entries are numbered without gaps, and none stands twice: a batch begins where the one before it ends.
-- 1099511627776 is 2^40.
CREATE TRIGGER batches_follow BEFORE INSERT ON batch
WHEN NEW.place % 1099511627776 <> 1 AND NEW.place IS NOT (
    SELECT place + entries FROM batch WHERE place < NEW.place ORDER BY place DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'entries are numbered without gaps'); END;
-- The tail is moved once a batch, after it: to its end.
CREATE TRIGGER tail_is_reached BEFORE UPDATE ON device
WHEN NEW.tail_sequence <> OLD.tail_sequence AND NEW.number * 1099511627776 + NEW.tail_sequence + 1 IS NOT (
    SELECT place + entries FROM batch WHERE place > NEW.number * 1099511627776
        AND place <= NEW.number * 1099511627776 + NEW.tail_sequence ORDER BY place DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'a ledger ends where its last batch ends'); END;
CREATE TRIGGER batch_never_changes BEFORE UPDATE ON batch
BEGIN SELECT RAISE(ABORT, 'an entry never changes'); END;
CREATE TRIGGER batch_stays BEFORE DELETE ON batch
BEGIN SELECT RAISE(ABORT, 'an entry stays'); END;
CREATE TRIGGER run_never_changes BEFORE UPDATE ON run
BEGIN SELECT RAISE(ABORT, 'where entries stand never changes'); END;
CREATE TRIGGER run_stays BEFORE DELETE ON run
BEGIN SELECT RAISE(ABORT, 'where entries stand stays noted'); END;
