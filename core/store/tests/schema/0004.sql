CREATE TABLE chunk (
    number INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    job BLOB CHECK (length(job) = 16),
    session BLOB NOT NULL CHECK (length(session) = 16),
    generation INTEGER NOT NULL,
    closed INTEGER NOT NULL CHECK (closed IN (0, 1)),
    samples INTEGER NOT NULL,
    first_at_ms INTEGER NOT NULL,
    last_at_ms INTEGER NOT NULL,
    min_digits INTEGER,
    max_digits INTEGER,
    first_digits INTEGER,
    last_digits INTEGER,
    places INTEGER NOT NULL,
    codec INTEGER NOT NULL,
    sum INTEGER NOT NULL,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    payload BLOB NOT NULL
) STRICT;
CREATE TABLE details (
    job BLOB PRIMARY KEY CHECK (length(job) = 16),
    salt BLOB NOT NULL CHECK (length(salt) = 32),
    sum INTEGER NOT NULL,
    text TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE entry (
    sequence INTEGER PRIMARY KEY CHECK (sequence >= 1),
    job BLOB CHECK (length(job) = 16),
    kind TEXT NOT NULL,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    bytes BLOB NOT NULL
) STRICT;
CREATE TABLE head (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
    device BLOB NOT NULL CHECK (length(device) = 16),
    sequence INTEGER NOT NULL CHECK (sequence >= 0),
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
CREATE TABLE line (
    opened_by INTEGER PRIMARY KEY CHECK (opened_by >= 1),
    job BLOB NOT NULL UNIQUE CHECK (length(job) = 16),
    search TEXT NOT NULL,
    order_name TEXT NOT NULL,
    vehicle TEXT NOT NULL,
    customer TEXT NOT NULL,
    opened TEXT NOT NULL,
    stage TEXT NOT NULL,
    verdict TEXT NOT NULL,
    condemned_by TEXT NOT NULL,
    taken INTEGER NOT NULL,
    wanted INTEGER NOT NULL,
    sum INTEGER NOT NULL
) STRICT;
CREATE TABLE person (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    salt BLOB NOT NULL CHECK (length(salt) = 32),
    sum INTEGER NOT NULL,
    text TEXT NOT NULL,
    pin TEXT NOT NULL,
    wrong INTEGER NOT NULL CHECK (wrong >= 0),
    wrong_at_ms INTEGER NOT NULL,
    wrong_boot TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE picture (
    job BLOB NOT NULL CHECK (length(job) = 16),
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    bytes BLOB NOT NULL,
    PRIMARY KEY (job, hash)
) STRICT;
CREATE TABLE signed_head (
    number INTEGER PRIMARY KEY,
    sequence INTEGER NOT NULL CHECK (sequence >= 1),
    job BLOB CHECK (length(job) = 16),
    jws TEXT NOT NULL
) STRICT;
CREATE INDEX chunk_by_hash ON chunk (hash) WHERE closed = 1;
CREATE INDEX chunk_by_job ON chunk (job) WHERE job IS NOT NULL;
CREATE INDEX entry_by_job ON entry (job);
CREATE INDEX signed_head_by_job ON signed_head (job) WHERE job IS NOT NULL;
CREATE TRIGGER chunk_is_not_replaced BEFORE INSERT ON chunk
WHEN EXISTS (SELECT 1 FROM chunk WHERE id = NEW.id AND closed = 1)
    OR EXISTS (SELECT 1 FROM chunk WHERE number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'a closed chunk never changes'); END;
CREATE TRIGGER chunk_never_changes BEFORE UPDATE ON chunk WHEN OLD.closed = 1
BEGIN SELECT RAISE(ABORT, 'a closed chunk never changes'); END;
CREATE TRIGGER chunk_stays BEFORE DELETE ON chunk
BEGIN SELECT RAISE(ABORT, 'a chunk stays'); END;
CREATE TRIGGER entry_follows BEFORE INSERT ON entry
WHEN NEW.sequence IS NOT (SELECT coalesce(max(sequence), 0) + 1 FROM entry)
BEGIN SELECT RAISE(ABORT, 'entries are numbered without gaps'); END;
CREATE TRIGGER entry_never_changes BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry never changes'); END;
CREATE TRIGGER entry_stays BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry stays'); END;
CREATE TRIGGER head_is_one BEFORE INSERT ON head WHEN EXISTS (SELECT 1 FROM head)
BEGIN SELECT RAISE(ABORT, 'a file holds one ledger'); END;
CREATE TRIGGER head_moves_forward BEFORE UPDATE ON head
WHEN NEW.sequence < OLD.sequence OR (NEW.device IS NOT OLD.device AND NOT EXISTS (
    SELECT 1 FROM entry WHERE sequence > OLD.sequence AND sequence <= NEW.sequence AND kind = 'identity-renewed'))
BEGIN SELECT RAISE(ABORT, 'the head only moves forward'); END;
CREATE TRIGGER head_stays BEFORE DELETE ON head
BEGIN SELECT RAISE(ABORT, 'the head stays'); END;
CREATE TRIGGER person_stays BEFORE DELETE ON person
BEGIN SELECT RAISE(ABORT, 'a person stays; what is personal is blanked'); END;
CREATE TRIGGER signed_head_is_of_the_end BEFORE INSERT ON signed_head
WHEN NEW.sequence IS NOT (SELECT sequence FROM head) OR EXISTS (SELECT 1 FROM signed_head WHERE number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'what is signed is the end of the ledger'); END;
CREATE TRIGGER signed_head_never_changes BEFORE UPDATE ON signed_head
BEGIN SELECT RAISE(ABORT, 'a signature never changes'); END;
CREATE TRIGGER signed_head_stays BEFORE DELETE ON signed_head
BEGIN SELECT RAISE(ABORT, 'a signature stays'); END;
