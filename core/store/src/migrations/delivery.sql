-- What a device knows of the shop's hub. Beside the ledger, and of no worth without it: all but the pairing and the notes
-- can be found out again. Ids are 16 bytes, hashes 32.

-- With whom, under which of the device's own ids, and how far it came. At most one row.
CREATE TABLE pairing (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
    hub BLOB NOT NULL CHECK (length(hub) = 16),
    shop TEXT NOT NULL,
    device_name TEXT NOT NULL,
    addresses TEXT NOT NULL,
    authority BLOB NOT NULL,
    device BLOB NOT NULL CHECK (length(device) = 16),
    stored_through INTEGER NOT NULL DEFAULT 0 CHECK (stored_through >= 0),
    looked INTEGER NOT NULL DEFAULT 0 CHECK (looked >= 0),
    heads INTEGER NOT NULL DEFAULT 0 CHECK (heads >= 0),
    change INTEGER NOT NULL DEFAULT 0 CHECK (change >= 0),
    again INTEGER NOT NULL DEFAULT 0 CHECK (again IN (0, 1)),
    complete TEXT
) STRICT;

-- What entries name. A thing of the device has the job 0. `there`: 0 nobody knows, 1 it is, 2 the hub lacks it, 3 it is not
-- on this device any more.
CREATE TABLE named (
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    job BLOB NOT NULL CHECK (length(job) = 16),
    kind INTEGER NOT NULL CHECK (kind BETWEEN 0 AND 3),
    sequence INTEGER NOT NULL,
    there INTEGER NOT NULL DEFAULT 0 CHECK (there BETWEEN 0 AND 3),
    PRIMARY KEY (job, hash)
) STRICT, WITHOUT ROWID;
CREATE INDEX named_by_there ON named (there, sequence);
CREATE INDEX named_by_hash ON named (hash);

CREATE TABLE job (
    job BLOB PRIMARY KEY CHECK (length(job) = 16),
    newest INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE note (
    number INTEGER PRIMARY KEY,
    job BLOB CHECK (length(job) = 16),
    text TEXT NOT NULL
) STRICT;

-- Details the office erased and that are still here: their job is not closed yet.
CREATE TABLE to_erase (
    job BLOB PRIMARY KEY CHECK (length(job) = 16)
) STRICT, WITHOUT ROWID;
