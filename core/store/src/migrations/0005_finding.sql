-- The job list knows what is open and what was erased. Derived, so it is made anew: its lines come from the entries.
DROP TABLE line;
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
    open_items TEXT NOT NULL,
    erased INTEGER NOT NULL CHECK (erased IN (0, 1)),
    sum INTEGER NOT NULL
) STRICT;

-- `lines_whole`: no job lacks its line, so nobody has to look. `indexed`: lines that are written are indexed; off while
-- the table is written anew. One row.
CREATE TABLE shelf (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
    lines_whole INTEGER NOT NULL CHECK (lines_whole IN (0, 1)),
    indexed INTEGER NOT NULL CHECK (indexed IN (0, 1))
) STRICT;
INSERT INTO shelf (only_row, lines_whole, indexed) VALUES (1, 0, 1);

-- Every three characters that follow each other in a line's search text. Its rows are numbered as lines are, in the
-- order in which jobs were opened: the newest come first without sorting. What is deleted leaves it at once.
CREATE VIRTUAL TABLE found USING fts5(
    search, content='line', content_rowid='opened_by', columnsize=0, tokenize='trigram case_sensitive 1'
);
INSERT INTO found (found, rank) VALUES ('secure-delete', 1);
-- Which three characters there are: what is shorter than three is looked up by what begins with it.
CREATE VIRTUAL TABLE found_term USING fts5vocab('found', 'row');

CREATE TRIGGER line_is_indexed AFTER INSERT ON line WHEN (SELECT indexed FROM shelf)
BEGIN INSERT INTO found (rowid, search) VALUES (NEW.opened_by, NEW.search); END;
CREATE TRIGGER line_is_indexed_anew AFTER UPDATE ON line
WHEN (SELECT indexed FROM shelf) AND (OLD.opened_by IS NOT NEW.opened_by OR OLD.search IS NOT NEW.search)
BEGIN
    INSERT INTO found (found, rowid, search) VALUES ('delete', OLD.opened_by, OLD.search);
    INSERT INTO found (rowid, search) VALUES (NEW.opened_by, NEW.search);
END;
CREATE TRIGGER line_leaves_the_index AFTER DELETE ON line WHEN (SELECT indexed FROM shelf)
BEGIN INSERT INTO found (found, rowid, search) VALUES ('delete', OLD.opened_by, OLD.search); END;
CREATE TRIGGER line_is_missed AFTER DELETE ON line WHEN (SELECT indexed FROM shelf)
BEGIN UPDATE shelf SET lines_whole = 0; END;
