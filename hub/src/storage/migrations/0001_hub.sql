-- What devices brought, who may come, and what the office is shown.
-- Ids are 16 bytes, hashes 32, times milliseconds since 1970 (UTC) by the hub's clock. Secrets are kept as SHA-256 of
-- them, passwords as argon2. `place` is a device's number times 2^40 plus the number of the entry: one key, in order.

-- One row. `setup`: hash of the one-time link by which the first owner comes in; none once it was used.
CREATE TABLE hub (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
    id BLOB NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL,
    begun_ms INTEGER NOT NULL,
    setup BLOB CHECK (length(setup) = 32)
) STRICT;

-- The tail is where its ledger ends here: the device that wrote the last entry, its number and hash.
CREATE TABLE device (
    number INTEGER PRIMARY KEY CHECK (number BETWEEN 1 AND 4194303),
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    name TEXT NOT NULL,
    key BLOB NOT NULL CHECK (length(key) = 32),
    paired_ms INTEGER NOT NULL,
    seen_ms INTEGER,
    revoked_ms INTEGER,
    tail_device BLOB NOT NULL CHECK (length(tail_device) = 16),
    tail_sequence INTEGER NOT NULL CHECK (tail_sequence >= 0),
    tail_hash BLOB NOT NULL CHECK (length(tail_hash) = 32)
) STRICT;

-- `bytes` is the truth; the columns before it are read from it when the row is written.
CREATE TABLE entry (
    place INTEGER PRIMARY KEY,
    job BLOB CHECK (length(job) = 16),
    kind TEXT NOT NULL,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    bytes BLOB NOT NULL
) STRICT;
CREATE INDEX entry_by_job ON entry (job) WHERE job IS NOT NULL;

-- The end of every batch as its device signed it.
CREATE TABLE push_head (
    place INTEGER PRIMARY KEY,
    received_ms INTEGER NOT NULL,
    jws TEXT NOT NULL
) STRICT;

-- Jobs that were closed, as the device that closed them signed them.
CREATE TABLE job_head (
    device INTEGER NOT NULL REFERENCES device (number),
    job BLOB NOT NULL CHECK (length(job) = 16),
    sequence INTEGER NOT NULL,
    jws TEXT NOT NULL,
    PRIMARY KEY (device, job, sequence)
) STRICT, WITHOUT ROWID;

-- A batch that parts from what is here: the first entry that differs, as it came, with the signature of its batch.
CREATE TABLE fork (
    number INTEGER PRIMARY KEY,
    device INTEGER NOT NULL REFERENCES device (number),
    sequence INTEGER NOT NULL,
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    bytes BLOB NOT NULL,
    jws TEXT NOT NULL,
    seen_ms INTEGER NOT NULL,
    UNIQUE (device, sequence, hash)
) STRICT;

-- Entries that are here and that this program does not understand. They stop nothing.
CREATE TABLE quarantine (
    place INTEGER PRIMARY KEY,
    job BLOB CHECK (length(job) = 16),
    why TEXT NOT NULL
) STRICT;

-- What stands beside the entries, as they name it. `job` is empty where it belongs to the device. `wanted`: it should
-- be here; not where newer details or an erasure came after it.
CREATE TABLE beside (
    device INTEGER NOT NULL REFERENCES device (number),
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    job BLOB NOT NULL,
    kind TEXT NOT NULL,
    named_by INTEGER NOT NULL,
    wanted INTEGER NOT NULL CHECK (wanted IN (0, 1)),
    present INTEGER NOT NULL CHECK (present IN (0, 1)),
    PRIMARY KEY (device, hash, job, kind)
) STRICT, WITHOUT ROWID;
CREATE INDEX beside_missing ON beside (device) WHERE wanted = 1 AND present = 0;
CREATE INDEX beside_by_hash ON beside (hash);
CREATE INDEX beside_by_job ON beside (job, device);

-- Files that are in the folder of blobs, and those that have to leave it.
CREATE TABLE blob (
    hash BLOB PRIMARY KEY CHECK (length(hash) = 32),
    bytes INTEGER NOT NULL,
    stored_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE doomed (
    hash BLOB PRIMARY KEY CHECK (length(hash) = 32)
) STRICT, WITHOUT ROWID;

-- Jobs whose personal details and photos were erased, by an entry or by the office. For good.
CREATE TABLE erased (
    job BLOB PRIMARY KEY CHECK (length(job) = 16),
    at_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Jobs whose line is not as their entries are. Written with the entries, worked off beside them. `marks` grows with
-- each change, so that whoever made a line can tell whether something came in the meantime.
CREATE TABLE stale (
    device INTEGER NOT NULL REFERENCES device (number),
    job BLOB NOT NULL CHECK (length(job) = 16),
    marks INTEGER NOT NULL,
    PRIMARY KEY (device, job)
) STRICT, WITHOUT ROWID;

-- Derived from the entries; may be dropped and built anew. One for each job in each device's ledger, numbered by when
-- it was opened. `counts`: no longer version of the same job is in another ledger; `versions`: how many count.
CREATE TABLE line (
    number INTEGER PRIMARY KEY,
    device INTEGER NOT NULL REFERENCES device (number),
    job BLOB NOT NULL CHECK (length(job) = 16),
    search TEXT NOT NULL,
    opened_by INTEGER NOT NULL,
    order_name TEXT NOT NULL,
    vehicle TEXT NOT NULL,
    customer TEXT NOT NULL,
    opened TEXT NOT NULL,
    stage TEXT NOT NULL,
    verdict TEXT NOT NULL,
    condemned_by TEXT NOT NULL,
    taken INTEGER NOT NULL,
    wanted INTEGER NOT NULL,
    open_items TEXT NOT NULL,
    erased INTEGER NOT NULL CHECK (erased IN (0, 1)),
    newer INTEGER NOT NULL CHECK (newer IN (0, 1)),
    entries INTEGER NOT NULL,
    entries_hash BLOB NOT NULL CHECK (length(entries_hash) = 32),
    counts INTEGER NOT NULL CHECK (counts IN (0, 1)),
    versions INTEGER NOT NULL,
    UNIQUE (device, job)
) STRICT;
CREATE INDEX line_by_job ON line (job);
CREATE INDEX line_open ON line (number) WHERE counts = 1 AND open_items <> '';

-- Every three characters that follow each other in a line's search text; its rows are numbered as lines are, so that
-- the newest come first without sorting. What is deleted leaves it at once.
CREATE VIRTUAL TABLE found USING fts5(
    search, content='line', content_rowid='number', columnsize=0, tokenize='trigram case_sensitive 1'
);
INSERT INTO found (found, rank) VALUES ('secure-delete', 1);
-- Which three characters there are: what is shorter than three is looked up by what begins with it.
CREATE VIRTUAL TABLE found_term USING fts5vocab('found', 'row');
CREATE TRIGGER line_is_indexed AFTER INSERT ON line
BEGIN INSERT INTO found (rowid, search) VALUES (NEW.number, NEW.search); END;
CREATE TRIGGER line_is_indexed_anew AFTER UPDATE ON line
WHEN OLD.number IS NOT NEW.number OR OLD.search IS NOT NEW.search
BEGIN
    INSERT INTO found (found, rowid, search) VALUES ('delete', OLD.number, OLD.search);
    INSERT INTO found (rowid, search) VALUES (NEW.number, NEW.search);
END;
CREATE TRIGGER line_leaves_the_index AFTER DELETE ON line
BEGIN INSERT INTO found (found, rowid, search) VALUES ('delete', OLD.number, OLD.search); END;

-- One-time codes, for a few minutes. `pairing`: the one it was used for.
CREATE TABLE invitation (
    code BLOB PRIMARY KEY CHECK (length(code) = 32),
    made_by BLOB CHECK (length(made_by) = 16),
    made_ms INTEGER NOT NULL,
    ends_ms INTEGER NOT NULL,
    pairing BLOB CHECK (length(pairing) = 16)
) STRICT, WITHOUT ROWID;
CREATE TABLE pairing (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    device BLOB NOT NULL CHECK (length(device) = 16),
    name TEXT NOT NULL,
    key BLOB NOT NULL CHECK (length(key) = 32),
    asked_ms INTEGER NOT NULL,
    ends_ms INTEGER NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('waiting', 'accepted', 'refused')),
    decided_by BLOB CHECK (length(decided_by) = 16),
    decided_ms INTEGER
) STRICT, WITHOUT ROWID;

-- Bearer tokens by their hash, and assertions that were taken once.
CREATE TABLE token (
    hash BLOB PRIMARY KEY CHECK (length(hash) = 32),
    device INTEGER NOT NULL REFERENCES device (number),
    ends_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX token_by_end ON token (ends_ms);
CREATE TABLE assertion (
    jti BLOB PRIMARY KEY CHECK (length(jti) = 16),
    ends_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX assertion_by_end ON assertion (ends_ms);

-- What the office has for one device, or for all (none). `body` is JSON.
CREATE TABLE change (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    device INTEGER REFERENCES device (number),
    made_ms INTEGER NOT NULL,
    body TEXT NOT NULL
) STRICT;

-- People of the office. `folded`: the name in lower case, so that nobody signs in by a name that looks like another's.
CREATE TABLE person (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    name TEXT NOT NULL,
    folded TEXT NOT NULL UNIQUE,
    role TEXT NOT NULL CHECK (role IN ('owner', 'office', 'technician')),
    password TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    ended_ms INTEGER
) STRICT, WITHOUT ROWID;
CREATE TABLE session (
    token BLOB PRIMARY KEY CHECK (length(token) = 32),
    person BLOB NOT NULL REFERENCES person (id),
    csrf TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    seen_ms INTEGER NOT NULL,
    ends_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX session_by_end ON session (ends_ms);

-- Who looked at or did what. Never what was seen there.
CREATE TABLE access (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    at_ms INTEGER NOT NULL,
    person BLOB CHECK (length(person) = 16),
    device INTEGER REFERENCES device (number),
    job BLOB CHECK (length(job) = 16),
    what TEXT NOT NULL
) STRICT;
CREATE INDEX access_by_job ON access (job) WHERE job IS NOT NULL;

CREATE TRIGGER hub_stays BEFORE DELETE ON hub
BEGIN SELECT RAISE(ABORT, 'the hub stays'); END;
CREATE TRIGGER device_stays BEFORE DELETE ON device
BEGIN SELECT RAISE(ABORT, 'a device stays'); END;
CREATE TRIGGER tail_moves_forward BEFORE UPDATE ON device WHEN NEW.tail_sequence < OLD.tail_sequence
BEGIN SELECT RAISE(ABORT, 'the end of a ledger only moves forward'); END;

-- The tail is moved once a batch, after its entries: up to it there is one of each number. What stands beyond it the
-- database does not look at, and the doctor tells of. Whoever looked at each row by
-- itself, in a trigger of the entries, would take a third of the writer's time. 1099511627776 is 2^40.
CREATE TRIGGER tail_is_reached BEFORE UPDATE ON device
WHEN NEW.tail_sequence - OLD.tail_sequence <> (
    SELECT count(*) FROM entry WHERE place > NEW.number * 1099511627776 + OLD.tail_sequence
        AND place <= NEW.number * 1099511627776 + NEW.tail_sequence)
BEGIN SELECT RAISE(ABORT, 'entries are numbered without gaps'); END;
CREATE TRIGGER entry_never_changes BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry never changes'); END;
CREATE TRIGGER entry_stays BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry stays'); END;
CREATE TRIGGER push_head_never_changes BEFORE UPDATE ON push_head
BEGIN SELECT RAISE(ABORT, 'a signature never changes'); END;
CREATE TRIGGER push_head_stays BEFORE DELETE ON push_head
BEGIN SELECT RAISE(ABORT, 'a signature stays'); END;
CREATE TRIGGER job_head_never_changes BEFORE UPDATE ON job_head
BEGIN SELECT RAISE(ABORT, 'a signature never changes'); END;
CREATE TRIGGER job_head_stays BEFORE DELETE ON job_head
BEGIN SELECT RAISE(ABORT, 'a signature stays'); END;
CREATE TRIGGER fork_never_changes BEFORE UPDATE ON fork
BEGIN SELECT RAISE(ABORT, 'evidence never changes'); END;
CREATE TRIGGER fork_stays BEFORE DELETE ON fork
BEGIN SELECT RAISE(ABORT, 'evidence stays'); END;
CREATE TRIGGER access_never_changes BEFORE UPDATE ON access
BEGIN SELECT RAISE(ABORT, 'what was done stays written'); END;
