-- Links by which somebody chooses a password: who was added, or whose password is to be another one. One each.
CREATE TABLE link (
    shop BIGINT NOT NULL DEFAULT shop_now(),
    person BYTEA NOT NULL,
    token BYTEA NOT NULL CHECK (length(token) = 32),
    ends_ms BIGINT NOT NULL,
    PRIMARY KEY (shop, person),
    FOREIGN KEY (shop, person) REFERENCES person (shop, id),
    UNIQUE (shop, token)
);

-- What it was about where that is no job and no device: a procedure, a person of the office. Nothing of a customer.
ALTER TABLE access ADD COLUMN about TEXT COLLATE "C" NOT NULL DEFAULT '';
CREATE INDEX access_by_person ON access (shop, person, what, at_ms);

-- What a device's ledger says of no job, by kind: the shop's head, the people on the roster.
CREATE INDEX entry_of_device ON entry (shop, kind, place) WHERE job IS NULL;

-- Jobs that were handed over, and who was the first to say that it takes them over. `version`: the hash of all that was
-- handed over, so that the same job can go on from hand to hand.
CREATE TABLE handover (
    shop BIGINT NOT NULL DEFAULT shop_now(),
    job BYTEA NOT NULL CHECK (length(job) = 16),
    version BYTEA NOT NULL CHECK (length(version) = 32),
    device BIGINT NOT NULL,
    at_ms BIGINT NOT NULL,
    PRIMARY KEY (shop, job, version),
    FOREIGN KEY (shop, device) REFERENCES device (shop, number)
);
