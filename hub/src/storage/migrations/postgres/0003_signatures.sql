-- Second signatures that were given at the office. What became of one is not noted here: it stands in its job, or its
-- device says in its ledger why not. `salt`: what the name of its person is committed to with, for all they sign.
CREATE TABLE signature (
    shop BIGINT NOT NULL DEFAULT shop_now(),
    id BYTEA NOT NULL CHECK (length(id) = 16),
    job BYTEA NOT NULL CHECK (length(job) = 16),
    device BIGINT NOT NULL,
    step TEXT COLLATE "C" NOT NULL,
    doing BIGINT NOT NULL,
    person BYTEA NOT NULL,
    salt BYTEA NOT NULL CHECK (length(salt) = 32),
    at_ms BIGINT NOT NULL,
    PRIMARY KEY (shop, id),
    FOREIGN KEY (shop, device) REFERENCES device (shop, number),
    FOREIGN KEY (shop, person) REFERENCES person (shop, id)
);
CREATE INDEX signature_by_job ON signature (shop, job);
CREATE INDEX signature_by_person ON signature (shop, person);
CREATE TRIGGER signature_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON signature EXECUTE FUNCTION stays();
