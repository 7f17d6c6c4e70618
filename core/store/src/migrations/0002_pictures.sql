-- Photos by the hash that entries of their job name. Personal: they go when the details of the job are erased.
CREATE TABLE picture (
    job BLOB NOT NULL CHECK (length(job) = 16),
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    bytes BLOB NOT NULL,
    PRIMARY KEY (job, hash)
) STRICT;
