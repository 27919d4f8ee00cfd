-- Version 4: what a file is known by, and what ended lessons came to.

-- A random number that no other file has, a copy of it neither: whoever writes
-- knows by it that the file was not written over.
CREATE TABLE mark (
    one  INTEGER PRIMARY KEY CHECK (one = 1),
    mark BLOB NOT NULL CHECK (length(mark) = 16)
) STRICT;
INSERT INTO mark (one, mark) VALUES (1, randomblob(16));

-- Of each lesson that nothing more is written of: how many rows it has in all
-- tables, and a digest of them, so that what is damaged or lost is noticed.
CREATE TABLE seal (
    lesson INTEGER PRIMARY KEY REFERENCES lesson ON DELETE CASCADE,
    rows   INTEGER NOT NULL,
    digest INTEGER NOT NULL
) STRICT;
