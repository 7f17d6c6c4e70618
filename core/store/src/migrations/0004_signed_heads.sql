-- Ends of the ledger as its device signed them: JWS of the compact form. `job` is the job that is proved by it.
CREATE TABLE signed_head (
    number INTEGER PRIMARY KEY,
    sequence INTEGER NOT NULL CHECK (sequence >= 1),
    job BLOB CHECK (length(job) = 16),
    jws TEXT NOT NULL
) STRICT;
CREATE INDEX signed_head_by_job ON signed_head (job) WHERE job IS NOT NULL;

CREATE TRIGGER signed_head_is_of_the_end BEFORE INSERT ON signed_head
WHEN NEW.sequence IS NOT (SELECT sequence FROM head) OR EXISTS (SELECT 1 FROM signed_head WHERE number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'what is signed is the end of the ledger'); END;
CREATE TRIGGER signed_head_never_changes BEFORE UPDATE ON signed_head
BEGIN SELECT RAISE(ABORT, 'a signature never changes'); END;
CREATE TRIGGER signed_head_stays BEFORE DELETE ON signed_head
BEGIN SELECT RAISE(ABORT, 'a signature stays'); END;

-- The ledger goes on under another device only by an entry that says so.
DROP TRIGGER head_moves_forward;
CREATE TRIGGER head_moves_forward BEFORE UPDATE ON head
WHEN NEW.sequence < OLD.sequence OR (NEW.device IS NOT OLD.device AND NOT EXISTS (
    SELECT 1 FROM entry WHERE sequence > OLD.sequence AND sequence <= NEW.sequence AND kind = 'identity-renewed'))
BEGIN SELECT RAISE(ABORT, 'the head only moves forward'); END;
