-- A lesson book of version 1, as the program of that time wrote it.

-- Version 1 of the lesson book.
-- Moments (_us) are microseconds on the host's own clock, as the lesson counts
-- them; `sitting` ties them to the calendar. Times of day (_ms) are UTC, in
-- milliseconds since 1970. `seq` counts the events of a lesson from 0, so that
-- (lesson, seq) names one event in every copy of the book.

CREATE TABLE class (
    key    INTEGER PRIMARY KEY,
    name   TEXT NOT NULL,
    folded TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE person (
    key    INTEGER PRIMARY KEY,
    id     BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    class  INTEGER NOT NULL REFERENCES class,
    name   TEXT NOT NULL,
    folded TEXT NOT NULL,
    UNIQUE (class, folded)
) STRICT;

-- Ids that a person had before: of people merged into one, and of the same
-- person in another teacher's book.
CREATE TABLE alias (
    id     BLOB PRIMARY KEY CHECK (length(id) = 16),
    person INTEGER NOT NULL REFERENCES person ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE INDEX alias_person ON alias (person);

-- People removed wholly: a random number is all that stays, so that merging an
-- old copy does not bring them back.
CREATE TABLE removed (
    id BLOB PRIMARY KEY CHECK (length(id) = 16)
) STRICT, WITHOUT ROWID;

CREATE TABLE neck (
    key  INTEGER PRIMARY KEY,
    neck TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE lesson (
    key        INTEGER PRIMARY KEY,
    id         BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    class      INTEGER NOT NULL REFERENCES class,
    neck       INTEGER NOT NULL REFERENCES neck,
    name       TEXT NOT NULL,
    seed       INTEGER NOT NULL,
    began_us   INTEGER NOT NULL,
    started_ms INTEGER NOT NULL,
    -- NULL while the lesson is open.
    ended_ms   INTEGER
) STRICT;
CREATE INDEX lesson_class ON lesson (class, started_ms);

-- What an open lesson is made again from; gone once it has ended.
CREATE TABLE log (
    lesson  INTEGER PRIMARY KEY REFERENCES lesson ON DELETE CASCADE,
    format  INTEGER NOT NULL,
    setup   TEXT NOT NULL,
    -- Of all events so far: their number, and a digest of them in order.
    events  INTEGER NOT NULL,
    digest  INTEGER NOT NULL,
    last_us INTEGER NOT NULL
) STRICT;

CREATE TABLE input (
    lesson INTEGER NOT NULL REFERENCES log ON DELETE CASCADE,
    number INTEGER NOT NULL,
    at_us  INTEGER NOT NULL,
    input  TEXT NOT NULL,
    PRIMARY KEY (lesson, number)
) STRICT, WITHOUT ROWID;

-- From `from_us` on, the host's clock and the calendar agree like this.
CREATE TABLE sitting (
    lesson  INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    from_us INTEGER NOT NULL,
    unix_ms INTEGER NOT NULL,
    PRIMARY KEY (lesson, from_us)
) STRICT, WITHOUT ROWID;

CREATE TABLE seat (
    lesson  INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    student INTEGER NOT NULL CHECK (student BETWEEN 0 AND 4294967295),
    person  INTEGER NOT NULL REFERENCES person ON DELETE CASCADE,
    PRIMARY KEY (lesson, student)
) STRICT, WITHOUT ROWID;
CREATE INDEX seat_person ON seat (person);

-- The rules a lesson began with, and each change: the reach above all.
CREATE TABLE rules (
    lesson INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    seq    INTEGER NOT NULL,
    at_us  INTEGER NOT NULL,
    reach  TEXT NOT NULL,
    rules  TEXT NOT NULL,
    PRIMARY KEY (lesson, seq)
) STRICT, WITHOUT ROWID;

-- Comings and goings.
CREATE TABLE presence (
    lesson  INTEGER NOT NULL,
    seq     INTEGER NOT NULL,
    at_us   INTEGER NOT NULL,
    student INTEGER NOT NULL,
    what    TEXT NOT NULL CHECK (what IN ('joined', 'returned', 'lost', 'left', 'removed',
                                          'fell-behind', 'made-room')),
    PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

CREATE TABLE turn (
    lesson  INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    seq     INTEGER NOT NULL,
    at_us   INTEGER NOT NULL,
    student INTEGER,
    PRIMARY KEY (lesson, seq)
) STRICT, WITHOUT ROWID;

CREATE TABLE call (
    lesson       INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    call         INTEGER NOT NULL CHECK (call BETWEEN 0 AND 4294967295),
    seq          INTEGER NOT NULL,
    at_us        INTEGER NOT NULL,
    pitch        INTEGER NOT NULL CHECK (pitch BETWEEN 0 AND 127),
    string       INTEGER CHECK (string BETWEEN 0 AND 255),
    fret         INTEGER CHECK (fret BETWEEN 0 AND 255),
    marking      TEXT NOT NULL CHECK (marking IN ('same-pitch', 'exact-place', 'any-octave')),
    frequency_hz REAL NOT NULL,
    voice        TEXT NOT NULL CHECK (voice IN ('banjo', 'guitar', 'plain')),
    pluck_seed   INTEGER NOT NULL CHECK (pluck_seed BETWEEN 0 AND 4294967295),
    start_us     INTEGER NOT NULL,
    caller       INTEGER,
    PRIMARY KEY (lesson, call),
    UNIQUE (lesson, seq),
    CHECK ((string IS NULL) = (fret IS NULL))
) STRICT, WITHOUT ROWID;

-- Who was there to answer a call; late for one who came in while it was open.
CREATE TABLE part (
    lesson  INTEGER NOT NULL,
    call    INTEGER NOT NULL,
    student INTEGER NOT NULL,
    late    INTEGER NOT NULL CHECK (late IN (0, 1)),
    PRIMARY KEY (lesson, call, student),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE INDEX part_student ON part (lesson, student);

-- How far a call, or the lesson, has come.
CREATE TABLE stage (
    lesson INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    seq    INTEGER NOT NULL,
    at_us  INTEGER NOT NULL,
    call   INTEGER,
    what   TEXT NOT NULL CHECK (what IN ('revealed', 'closed', 'ended')),
    PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    CHECK ((call IS NULL) = (what = 'ended'))
) STRICT, WITHOUT ROWID;
CREATE INDEX stage_call ON stage (lesson, call);

-- Soundings of the target: for everyone (again, or by the host's speakers), and
-- a student's own (free, or asked for beyond that; sounded: the terminal's word
-- that the first one left its output).
CREATE TABLE hearing (
    lesson   INTEGER NOT NULL,
    seq      INTEGER NOT NULL,
    at_us    INTEGER NOT NULL,
    call     INTEGER NOT NULL,
    student  INTEGER,
    what     TEXT NOT NULL CHECK (what IN ('again', 'speakers', 'sounded', 'free', 'asked')),
    start_us INTEGER,
    PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE,
    CHECK ((student IS NULL) = (what IN ('again', 'speakers'))),
    CHECK ((start_us IS NOT NULL) = (what IN ('again', 'speakers')))
) STRICT, WITHOUT ROWID;
CREATE INDEX hearing_student ON hearing (lesson, student, call, what);

-- A try or answer is a place (string and fret), a pitch, or a note name.
CREATE TABLE try (
    lesson  INTEGER NOT NULL,
    seq     INTEGER NOT NULL,
    at_us   INTEGER NOT NULL,
    call    INTEGER NOT NULL,
    student INTEGER NOT NULL,
    string  INTEGER CHECK (string BETWEEN 0 AND 255),
    fret    INTEGER CHECK (fret BETWEEN 0 AND 255),
    pitch   INTEGER CHECK (pitch BETWEEN 0 AND 127),
    name    INTEGER CHECK (name BETWEEN 0 AND 11),
    PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE,
    CHECK ((string IS NULL) = (fret IS NULL)),
    CHECK ((string IS NOT NULL) + (pitch IS NOT NULL) + (name IS NOT NULL) = 1)
) STRICT, WITHOUT ROWID;
CREATE INDEX try_student ON try (lesson, student, call);

CREATE TABLE answer (
    lesson         INTEGER NOT NULL,
    seq            INTEGER NOT NULL,
    at_us          INTEGER NOT NULL,
    call           INTEGER NOT NULL,
    student        INTEGER NOT NULL,
    serial         INTEGER NOT NULL CHECK (serial BETWEEN 0 AND 4294967295),
    string         INTEGER CHECK (string BETWEEN 0 AND 255),
    fret           INTEGER CHECK (fret BETWEEN 0 AND 255),
    pitch          INTEGER CHECK (pitch BETWEEN 0 AND 127),
    name           INTEGER CHECK (name BETWEEN 0 AND 11),
    correct        INTEGER NOT NULL CHECK (correct IN (0, 1)),
    -- Of a miss: its kind, its size in octaves or semitones, and the side.
    miss           TEXT CHECK (miss IN ('octave', 'neighbour', 'whole-tone', 'other-place',
                                        'other-place-octave', 'interval', 'further')),
    miss_size      INTEGER CHECK (miss_size BETWEEN 0 AND 255),
    miss_side      TEXT CHECK (miss_side IN ('low', 'high')),
    response_us    INTEGER,
    uncertainty_us INTEGER NOT NULL,
    PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE,
    CHECK ((string IS NULL) = (fret IS NULL)),
    CHECK ((string IS NOT NULL) + (pitch IS NOT NULL) + (name IS NOT NULL) = 1),
    CHECK (correct = 0 OR (miss IS NULL AND miss_size IS NULL AND miss_side IS NULL))
) STRICT, WITHOUT ROWID;
-- An answer counts once, however often it was sent.
CREATE UNIQUE INDEX answer_student ON answer (lesson, student, call, serial);

-- A lesson of two students and one call, begun on 13 October 2026, 18:00 UTC,
-- and one that had not ended.
INSERT INTO class VALUES (1, 'Tuesday', 'tuesday');
INSERT INTO person VALUES (1, X'00000000000000000000000000000A01', 1, 'Mia', 'mia'),
                          (2, X'00000000000000000000000000000A02', 1, 'Ruth', 'ruth');
INSERT INTO neck VALUES (1, '{"name":"banjo-open-g","strings":[{"open":62,"first_fret":0,"last_fret":22,"course":[]},{"open":59,"first_fret":0,"last_fret":22,"course":[]},{"open":55,"first_fret":0,"last_fret":22,"course":[]},{"open":50,"first_fret":0,"last_fret":22,"course":[]},{"open":67,"first_fret":5,"last_fret":22,"course":[]}],"scale_length_mm":670.0,"capo":null}');
INSERT INTO lesson VALUES
    (1, X'00000000000000000000000000000B01', 1, 1, 'Village hall, Tuesday', 7, 3600000000, 1791914400000, 1791914460000),
    (2, X'00000000000000000000000000000B02', 1, 1, 'Village hall, Tuesday', 8, 3600000000, 1792519200000, NULL);
INSERT INTO log VALUES (2, 0, '{}', 1, 0, 3600000000);
INSERT INTO input VALUES (2, 0, 3600000001, '{}');
INSERT INTO sitting VALUES (1, 3600000000, 1791914400000), (2, 3600000000, 1792519200000);
INSERT INTO seat VALUES (1, 1, 1), (1, 2, 2);
INSERT INTO rules VALUES (1, 0, 3600000000, 'octave', '{"lesson":"Village hall, Tuesday","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"octave"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false}');
INSERT INTO presence VALUES (1, 1, 3601000000, 1, 'joined'), (1, 2, 3602000000, 2, 'joined');
INSERT INTO call VALUES (1, 1, 3, 3610000000, 57, NULL, NULL, 'same-pitch', 220.0, 'banjo', 99, 3610250000, NULL);
INSERT INTO part VALUES (1, 1, 1, 0), (1, 1, 2, 0);
INSERT INTO hearing VALUES (1, 4, 3611000000, 1, 1, 'asked', NULL);
INSERT INTO try VALUES (1, 5, 3612000000, 1, 1, 3, 2, NULL, NULL);
INSERT INTO answer VALUES
    (1, 6, 3613000000, 1, 1, 1, 3, 1, NULL, NULL, 0, 'neighbour', NULL, 'low', 2500000, 4000),
    (1, 7, 3615000000, 1, 1, 2, 3, 2, NULL, NULL, 1, NULL, NULL, NULL, 4500000, 4000);
INSERT INTO stage VALUES (1, 8, 3620000000, 1, 'closed'), (1, 9, 3660000000, NULL, 'ended');
PRAGMA application_id = 896558439;
PRAGMA user_version = 1;
