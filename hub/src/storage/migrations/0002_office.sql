-- Links by which somebody chooses a password: who was added, or whose password is to be another one. One each.
CREATE TABLE link (
    person BLOB PRIMARY KEY REFERENCES person (id),
    token BLOB NOT NULL UNIQUE CHECK (length(token) = 32),
    ends_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- What it was about where that is no job and no device: a procedure, a person of the office. Nothing of a customer.
ALTER TABLE access ADD COLUMN about TEXT NOT NULL DEFAULT '';
CREATE INDEX access_by_person ON access (person, what, at_ms);

-- What a device's ledger says of no job, by kind: the shop's head, the people on the roster.
CREATE INDEX entry_of_device ON entry (kind, place) WHERE job IS NULL;

-- Jobs that were handed over, and who was the first to say that it takes them over. `version`: the hash of all that was
-- handed over, so that the same job can go on from hand to hand.
CREATE TABLE handover (
    job BLOB NOT NULL CHECK (length(job) = 16),
    version BLOB NOT NULL CHECK (length(version) = 32),
    device INTEGER NOT NULL REFERENCES device (number),
    at_ms INTEGER NOT NULL,
    PRIMARY KEY (job, version)
) STRICT, WITHOUT ROWID;
