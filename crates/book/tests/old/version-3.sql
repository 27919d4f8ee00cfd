-- A book of version 3: that of version 2, brought up to date by the program of then; an
-- ended lesson and an open one.
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE alias (
    id     BLOB PRIMARY KEY CHECK (length(id) = 16),
    person INTEGER NOT NULL REFERENCES person ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
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
    uncertainty_us INTEGER NOT NULL, source TEXT NOT NULL DEFAULT 'screen'
    CHECK (source IN ('screen', 'instrument')),
    PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE,
    CHECK ((string IS NULL) = (fret IS NULL)),
    CHECK ((string IS NOT NULL) + (pitch IS NOT NULL) + (name IS NOT NULL) = 1),
    CHECK (correct = 0 OR (miss IS NULL AND miss_size IS NULL AND miss_side IS NULL))
) STRICT, WITHOUT ROWID;
INSERT INTO "answer" VALUES(1,6,3603891584,1,1,1,2,0,NULL,NULL,0,'interval',4,'high',NULL,0,'screen');
INSERT INTO "answer" VALUES(1,7,3604391869,1,1,2,3,0,NULL,NULL,1,NULL,NULL,NULL,NULL,0,'screen');
INSERT INTO "answer" VALUES(1,8,3604891975,1,2,1,3,0,NULL,NULL,1,NULL,NULL,NULL,NULL,0,'screen');
INSERT INTO "answer" VALUES(2,5,3603899106,1,1,1,1,0,NULL,NULL,0,'interval',5,'low',NULL,0,'screen');
INSERT INTO "answer" VALUES(2,9,3605400763,2,2,1,4,0,NULL,NULL,1,NULL,NULL,NULL,NULL,0,'screen');
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
    caller       INTEGER, picked TEXT
    CHECK (picked IN ('random', 'teaching', 'hand', 'instrument', 'friend')),
    PRIMARY KEY (lesson, call),
    UNIQUE (lesson, seq),
    CHECK ((string IS NULL) = (fret IS NULL))
) STRICT, WITHOUT ROWID;
INSERT INTO "call" VALUES(1,1,4,3602889368,55,3,0,'same-pitch',1.95997717990874633642e+02,'banjo',601310139,3603139368,NULL,NULL);
INSERT INTO "call" VALUES(1,2,11,3606392589,59,NULL,NULL,'same-pitch',2.46941650628062063792e+02,'banjo',721508819,3606642589,NULL,NULL);
INSERT INTO "call" VALUES(2,1,4,3603397275,67,NULL,NULL,'same-pitch',3.91995435981749267284e+02,'banjo',781920570,3603647275,NULL,NULL);
INSERT INTO "call" VALUES(2,2,8,3604899473,50,4,0,'same-pitch',1.46832383958703786676e+02,'banjo',721508819,3605149473,NULL,NULL);
CREATE TABLE class (
    key    INTEGER PRIMARY KEY,
    name   TEXT NOT NULL,
    folded TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO "class" VALUES(1,'Tuesday','tuesday');
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
INSERT INTO "hearing" VALUES(1,12,3606893793,2,2,'asked',NULL);
CREATE TABLE input (
    lesson INTEGER NOT NULL REFERENCES log ON DELETE CASCADE,
    number INTEGER NOT NULL,
    at_us  INTEGER NOT NULL,
    input  TEXT NOT NULL,
    PRIMARY KEY (lesson, number)
) STRICT, WITHOUT ROWID;
INSERT INTO "input" VALUES(2,0,3601001010,'{"join":{"name":"Mia","key":null,"new_key":"015b2e68ed5240c4dd6cbde78031ae0b"}}');
INSERT INTO "input" VALUES(2,1,3601702922,'{"join":{"name":"Ivo","key":null,"new_key":"89cd4508b190cc382ceb376fbcfc29ce"}}');
INSERT INTO "input" VALUES(2,2,3602396529,'{"order":{"set-reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"open"}}}');
INSERT INTO "input" VALUES(2,3,3602896865,'{"order":{"set-picking":"teaching"}}');
INSERT INTO "input" VALUES(2,4,3603397275,'{"order":"call-random"}');
INSERT INTO "input" VALUES(2,5,3603899106,'{"message":{"student":1,"message":{"answer":{"call":1,"serial":1,"answer":{"place":[1,0]},"source":"screen","response":null,"uncertainty":{"secs":0,"nanos":73000000}}}}}');
INSERT INTO "input" VALUES(2,6,3604398579,'{"order":"reveal"}');
INSERT INTO "input" VALUES(2,7,3604899473,'{"order":{"call-at":{"place":[4,0]}}}');
INSERT INTO "input" VALUES(2,8,3605400763,'{"message":{"student":2,"message":{"answer":{"call":2,"serial":1,"answer":{"place":[4,0]},"source":"screen","response":null,"uncertainty":{"secs":0,"nanos":73000000}}}}}');
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
INSERT INTO "lesson" VALUES(1,X'D192D182F3E393D0B8B82DAB10951220',1,1,'Hall one',7,3600000000,1795624118678,1795624126573);
INSERT INTO "lesson" VALUES(2,X'C8912CFE434F43AA2A4FA1745A9BB2F1',1,1,'Hall two',7,3600000000,1795624127081,NULL);
CREATE TABLE log (
    lesson  INTEGER PRIMARY KEY REFERENCES lesson ON DELETE CASCADE,
    format  INTEGER NOT NULL,
    setup   TEXT NOT NULL,
    -- Of all events so far: their number, and a digest of them in order.
    events  INTEGER NOT NULL,
    digest  INTEGER NOT NULL,
    last_us INTEGER NOT NULL
) STRICT;
INSERT INTO "log" VALUES(2,1,'{"rules":{"lesson":"Hall two","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"two-open"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":false},"neck":{"name":"five-string banjo, open G (gDGBD)","strings":[{"open":62,"first_fret":0,"last_fret":22,"course":[]},{"open":59,"first_fret":0,"last_fret":22,"course":[]},{"open":55,"first_fret":0,"last_fret":22,"course":[]},{"open":50,"first_fret":0,"last_fret":22,"course":[]},{"open":67,"first_fret":5,"last_fret":22,"course":[]}],"scale_length_mm":670.0,"capo":null},"seed":7,"max_students":100,"max_answers":50,"lead":{"secs":0,"nanos":250000000},"speakers_among_friends":false,"picking":"random"}',10,-6590421028825960146,3605400763);
CREATE TABLE neck (
    key  INTEGER PRIMARY KEY,
    neck TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO "neck" VALUES(1,'{"name":"five-string banjo, open G (gDGBD)","strings":[{"open":62,"first_fret":0,"last_fret":22,"course":[]},{"open":59,"first_fret":0,"last_fret":22,"course":[]},{"open":55,"first_fret":0,"last_fret":22,"course":[]},{"open":50,"first_fret":0,"last_fret":22,"course":[]},{"open":67,"first_fret":5,"last_fret":22,"course":[]}],"scale_length_mm":670.0,"capo":null}');
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
CREATE TABLE part (
    lesson  INTEGER NOT NULL,
    call    INTEGER NOT NULL,
    student INTEGER NOT NULL,
    late    INTEGER NOT NULL CHECK (late IN (0, 1)),
    PRIMARY KEY (lesson, call, student),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
INSERT INTO "part" VALUES(1,1,1,0);
INSERT INTO "part" VALUES(1,1,2,0);
INSERT INTO "part" VALUES(1,2,1,0);
INSERT INTO "part" VALUES(1,2,2,0);
INSERT INTO "part" VALUES(2,1,1,0);
INSERT INTO "part" VALUES(2,1,2,0);
INSERT INTO "part" VALUES(2,2,1,0);
INSERT INTO "part" VALUES(2,2,2,0);
CREATE TABLE person (
    key    INTEGER PRIMARY KEY,
    id     BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    class  INTEGER NOT NULL REFERENCES class,
    name   TEXT NOT NULL,
    folded TEXT NOT NULL,
    UNIQUE (class, folded)
) STRICT;
INSERT INTO "person" VALUES(1,X'063A9A39B1C753E835167B2A524EF223',1,'Mia','mia');
INSERT INTO "person" VALUES(2,X'6B543B44385A8F381FB0CD70731E1AC5',1,'Ivo','ivo');
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
INSERT INTO "presence" VALUES(1,1,3600995471,1,'joined');
INSERT INTO "presence" VALUES(1,2,3601695825,2,'joined');
INSERT INTO "presence" VALUES(2,1,3601001010,1,'joined');
INSERT INTO "presence" VALUES(2,2,3601702922,2,'joined');
CREATE TABLE removed (
    id BLOB PRIMARY KEY CHECK (length(id) = 16)
) STRICT, WITHOUT ROWID;
CREATE TABLE rules (
    lesson INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    seq    INTEGER NOT NULL,
    at_us  INTEGER NOT NULL,
    reach  TEXT NOT NULL,
    rules  TEXT NOT NULL,
    PRIMARY KEY (lesson, seq)
) STRICT, WITHOUT ROWID;
INSERT INTO "rules" VALUES(1,0,3600000000,'two-open','{"lesson":"Hall one","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"two-open"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":false}');
INSERT INTO "rules" VALUES(1,3,3602389040,'open','{"lesson":"Hall one","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"open"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":false}');
INSERT INTO "rules" VALUES(2,0,3600000000,'two-open','{"lesson":"Hall two","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"two-open"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":false}');
INSERT INTO "rules" VALUES(2,3,3602396529,'open','{"lesson":"Hall two","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"open"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":false}');
CREATE TABLE seat (
    lesson  INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    student INTEGER NOT NULL CHECK (student BETWEEN 0 AND 4294967295),
    person  INTEGER NOT NULL REFERENCES person ON DELETE CASCADE,
    PRIMARY KEY (lesson, student)
) STRICT, WITHOUT ROWID;
INSERT INTO "seat" VALUES(1,1,1);
INSERT INTO "seat" VALUES(2,1,1);
INSERT INTO "seat" VALUES(1,2,2);
INSERT INTO "seat" VALUES(2,2,2);
CREATE TABLE sitting (
    lesson  INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    from_us INTEGER NOT NULL,
    unix_ms INTEGER NOT NULL,
    PRIMARY KEY (lesson, from_us)
) STRICT, WITHOUT ROWID;
INSERT INTO "sitting" VALUES(1,3600000000,1795624118678);
INSERT INTO "sitting" VALUES(2,3600000000,1795624127081);
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
INSERT INTO "stage" VALUES(1,9,3605391798,1,'revealed');
INSERT INTO "stage" VALUES(1,10,3605892348,1,'closed');
INSERT INTO "stage" VALUES(1,13,3607396234,2,'revealed');
INSERT INTO "stage" VALUES(1,14,3607895137,2,'closed');
INSERT INTO "stage" VALUES(1,15,3607895137,NULL,'ended');
INSERT INTO "stage" VALUES(2,6,3604398579,1,'revealed');
INSERT INTO "stage" VALUES(2,7,3604899473,1,'closed');
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
CREATE TABLE try (
    lesson  INTEGER NOT NULL,
    seq     INTEGER NOT NULL,
    at_us   INTEGER NOT NULL,
    call    INTEGER NOT NULL,
    student INTEGER NOT NULL,
    string  INTEGER CHECK (string BETWEEN 0 AND 255),
    fret    INTEGER CHECK (fret BETWEEN 0 AND 255),
    pitch   INTEGER CHECK (pitch BETWEEN 0 AND 127),
    name    INTEGER CHECK (name BETWEEN 0 AND 11), source TEXT NOT NULL DEFAULT 'screen'
    CHECK (source IN ('screen', 'instrument')),
    PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE,
    CHECK ((string IS NULL) = (fret IS NULL)),
    CHECK ((string IS NOT NULL) + (pitch IS NOT NULL) + (name IS NOT NULL) = 1)
) STRICT, WITHOUT ROWID;
INSERT INTO "try" VALUES(1,5,3603390583,1,1,2,0,NULL,NULL,'screen');
CREATE TABLE turn (
    lesson  INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    seq     INTEGER NOT NULL,
    at_us   INTEGER NOT NULL,
    student INTEGER,
    PRIMARY KEY (lesson, seq)
) STRICT, WITHOUT ROWID;
CREATE INDEX alias_person ON alias (person);
CREATE INDEX lesson_class ON lesson (class, started_ms);
CREATE INDEX seat_person ON seat (person);
CREATE INDEX part_student ON part (lesson, student);
CREATE INDEX stage_call ON stage (lesson, call);
CREATE INDEX hearing_student ON hearing (lesson, student, call, what);
CREATE INDEX try_student ON try (lesson, student, call);
CREATE UNIQUE INDEX answer_student ON answer (lesson, student, call, serial);
CREATE INDEX sung_student ON sung (lesson, student, call);
CREATE INDEX note_class ON note (class, unix_ms);
CREATE INDEX note_lesson ON note (lesson);
CREATE INDEX note_person ON note (person);
COMMIT;
PRAGMA application_id = 896558439;
PRAGMA user_version = 3;
