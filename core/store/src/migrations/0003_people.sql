-- People of the shop, beside the ledger: entries name them by id and hold a commitment to `text` (name and role).
-- Whether somebody may sign is told by the entries. `pin` is what a PIN is checked against, never the PIN; empty: none
-- fits. The wrong tries in a row, the newest with the boot clock and the run of the machine it was made in.
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

-- Whoever could take a row away could begin with no wrong try.
CREATE TRIGGER person_stays BEFORE DELETE ON person
BEGIN SELECT RAISE(ABORT, 'a person stays; what is personal is blanked'); END;
