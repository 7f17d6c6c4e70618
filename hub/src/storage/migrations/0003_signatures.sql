-- Second signatures that were given at the office. What became of one is not noted here: it stands in its job, or its
-- device says in its ledger why not. `salt`: what the name of its person is committed to with, for all they sign.
CREATE TABLE signature (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    job BLOB NOT NULL CHECK (length(job) = 16),
    device INTEGER NOT NULL REFERENCES device (number),
    step TEXT NOT NULL,
    doing INTEGER NOT NULL,
    person BLOB NOT NULL REFERENCES person (id),
    salt BLOB NOT NULL CHECK (length(salt) = 32),
    at_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX signature_by_job ON signature (job);
CREATE INDEX signature_by_person ON signature (person);
CREATE TRIGGER signature_never_changes BEFORE UPDATE ON signature
BEGIN SELECT RAISE(ABORT, 'what was signed stays signed'); END;
CREATE TRIGGER signature_stays BEFORE DELETE ON signature
BEGIN SELECT RAISE(ABORT, 'what was signed stays signed'); END;
