-- Version 2: what is played and sung, and the host's notes.

-- What was kept before came from the screen.
ALTER TABLE try ADD COLUMN source TEXT NOT NULL DEFAULT 'screen'
    CHECK (source IN ('screen', 'instrument'));
ALTER TABLE answer ADD COLUMN source TEXT NOT NULL DEFAULT 'screen'
    CHECK (source IN ('screen', 'instrument'));

CREATE TABLE sung (
    lesson       INTEGER NOT NULL,
    seq          INTEGER NOT NULL,
    at_us        INTEGER NOT NULL,
    call         INTEGER NOT NULL,
    student      INTEGER NOT NULL,
    frequency_hz REAL NOT NULL,
    spread_cents REAL,
    -- From the target: octaves, and cents from the nearest of them.
    octaves      INTEGER NOT NULL CHECK (octaves BETWEEN -128 AND 127),
    cents        REAL NOT NULL,
    exact        INTEGER NOT NULL CHECK (exact IN (0, 1)),
    PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE INDEX sung_student ON sung (lesson, student, call);

CREATE TABLE note (
    id      BLOB PRIMARY KEY CHECK (length(id) = 16),
    class   INTEGER NOT NULL REFERENCES class,
    -- Set for a note on one lesson, one call of it, or one person.
    lesson  INTEGER REFERENCES lesson ON DELETE CASCADE,
    call    INTEGER,
    person  INTEGER REFERENCES person ON DELETE CASCADE,
    unix_ms INTEGER NOT NULL,
    text    TEXT NOT NULL,
    CHECK (call IS NULL OR lesson IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX note_class ON note (class, unix_ms);
CREATE INDEX note_lesson ON note (lesson);
CREATE INDEX note_person ON note (person);
