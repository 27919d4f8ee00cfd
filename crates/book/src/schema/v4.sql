-- Version 4: what a file is known by, what ended lessons came to, and class keys.

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

-- The public halves of class keys: who comes in by them, and since when. Nobody
-- gets in with what stands here. Never in copies, exports or what is taken in.
CREATE TABLE class_key (
    public     BLOB PRIMARY KEY CHECK (length(public) = 32),
    person     INTEGER NOT NULL REFERENCES person ON DELETE CASCADE,
    granted_ms INTEGER NOT NULL,
    used_ms    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX class_key_person ON class_key (person);
