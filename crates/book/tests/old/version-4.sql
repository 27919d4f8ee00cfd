-- A book of version 4: two ended lessons and an open one, somebody removed, two who were made one,
-- notes and a class key.
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE alias (
    id     BLOB PRIMARY KEY CHECK (length(id) = 16),
    person INTEGER NOT NULL REFERENCES person ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
INSERT INTO "alias" VALUES(X'93B657B4E48E82F05F6B40E0D27CE481',1);
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
INSERT INTO "answer" VALUES(1,8,3603250000,1,1,1,NULL,NULL,50,NULL,1,NULL,NULL,NULL,3000321,4567,'instrument');
INSERT INTO "answer" VALUES(1,12,3603950000,1,2,1,NULL,NULL,50,NULL,1,NULL,NULL,NULL,3000321,4567,'instrument');
INSERT INTO "answer" VALUES(1,19,3608300000,2,1,1,NULL,NULL,55,NULL,1,NULL,NULL,NULL,3100321,4567,'instrument');
INSERT INTO "answer" VALUES(1,23,3609000000,2,2,1,NULL,NULL,54,NULL,0,'neighbour',NULL,'low',2000321,4567,'instrument');
INSERT INTO "answer" VALUES(1,27,3609000000,2,2,2,NULL,NULL,55,NULL,1,NULL,NULL,NULL,3100321,4567,'instrument');
INSERT INTO "answer" VALUES(2,9,3603250000,1,1,1,NULL,NULL,55,NULL,1,NULL,NULL,NULL,3000321,4567,'instrument');
INSERT INTO "answer" VALUES(2,17,3604650000,1,3,1,NULL,NULL,54,NULL,0,'neighbour',NULL,'low',2000321,4567,'instrument');
INSERT INTO "answer" VALUES(2,21,3604650000,1,3,2,NULL,NULL,55,NULL,1,NULL,NULL,NULL,3000321,4567,'instrument');
INSERT INTO "answer" VALUES(2,28,3609000000,2,1,1,NULL,NULL,69,NULL,1,NULL,NULL,NULL,3100321,4567,'instrument');
INSERT INTO "answer" VALUES(2,40,3610400000,2,3,1,NULL,NULL,69,NULL,1,NULL,NULL,NULL,3100321,4567,'instrument');
INSERT INTO "answer" VALUES(3,7,3603250000,1,1,1,NULL,NULL,62,NULL,1,NULL,NULL,NULL,3000321,4567,'instrument');
INSERT INTO "answer" VALUES(3,14,3607600000,2,1,1,NULL,NULL,79,NULL,1,NULL,NULL,NULL,3100321,4567,'instrument');
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
INSERT INTO "call" VALUES(1,1,4,3600000000,50,NULL,NULL,'same-pitch',1.46832383958703786676e+02,'banjo',4228812395,3600250000,NULL,'random');
INSERT INTO "call" VALUES(1,2,15,3604950000,55,NULL,NULL,'same-pitch',1.95997717990874633642e+02,'banjo',2562206467,3605200000,NULL,'random');
INSERT INTO "call" VALUES(2,1,5,3600000000,55,NULL,NULL,'same-pitch',1.95997717990874633642e+02,'banjo',2243192112,3600250000,NULL,'random');
INSERT INTO "call" VALUES(2,2,24,3605650000,69,NULL,NULL,'same-pitch',440.0,'banjo',3389806403,3605900000,NULL,'random');
INSERT INTO "call" VALUES(3,1,3,3600000000,62,NULL,NULL,'same-pitch',2.93664767917407573353e+02,'banjo',2744252828,3600250000,NULL,'random');
INSERT INTO "call" VALUES(3,2,10,3604250000,79,NULL,NULL,'same-pitch',7.83990871963498534577e+02,'banjo',1386439764,3604500000,NULL,'random');
CREATE TABLE class (
    key    INTEGER PRIMARY KEY,
    name   TEXT NOT NULL,
    folded TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO "class" VALUES(1,'Tuesday','tuesday');
INSERT INTO "class" VALUES(2,'Empty class','empty class');
CREATE TABLE class_key (
    public     BLOB PRIMARY KEY CHECK (length(public) = 32),
    person     INTEGER NOT NULL REFERENCES person ON DELETE CASCADE,
    granted_ms INTEGER NOT NULL,
    used_ms    INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO "class_key" VALUES(X'DE2E6FBE417EF2BF9823D4A9FE8279C4D163996C443D5EB854DC41A032E3FA37',1,1791914400000,1791914400000);
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
INSERT INTO "hearing" VALUES(1,5,3603250000,1,1,'asked',NULL);
INSERT INTO "hearing" VALUES(1,9,3603950000,1,2,'asked',NULL);
INSERT INTO "hearing" VALUES(1,16,3608300000,2,1,'asked',NULL);
INSERT INTO "hearing" VALUES(1,20,3609000000,2,2,'asked',NULL);
INSERT INTO "hearing" VALUES(1,24,3609000000,2,2,'asked',NULL);
INSERT INTO "hearing" VALUES(2,6,3603250000,1,1,'asked',NULL);
INSERT INTO "hearing" VALUES(2,14,3604650000,1,3,'asked',NULL);
INSERT INTO "hearing" VALUES(2,18,3604650000,1,3,'asked',NULL);
INSERT INTO "hearing" VALUES(2,25,3609000000,2,1,'asked',NULL);
INSERT INTO "hearing" VALUES(2,37,3610400000,2,3,'asked',NULL);
INSERT INTO "hearing" VALUES(3,4,3603250000,1,1,'asked',NULL);
INSERT INTO "hearing" VALUES(3,11,3607600000,2,1,'asked',NULL);
CREATE TABLE input (
    lesson INTEGER NOT NULL REFERENCES log ON DELETE CASCADE,
    number INTEGER NOT NULL,
    at_us  INTEGER NOT NULL,
    input  TEXT NOT NULL,
    PRIMARY KEY (lesson, number)
) STRICT, WITHOUT ROWID;
INSERT INTO "input" VALUES(3,0,3600000000,'{"join":{"name":"Ruth","key":null,"new_key":"000000000000000100000000d693a400"}}');
INSERT INTO "input" VALUES(3,1,3600000000,'{"order":{"set-reach":{"strings":null,"frets":null,"pitches":null,"notes":[7,"major"],"step":"whole"}}}');
INSERT INTO "input" VALUES(3,2,3600000000,'{"order":"call-random"}');
INSERT INTO "input" VALUES(3,3,3603250000,'{"message":{"student":1,"message":{"hearing":{"call":1}}}}');
INSERT INTO "input" VALUES(3,4,3603250000,'{"message":{"student":1,"message":{"try":{"call":1,"at":{"place":[3,2]},"source":"instrument"}}}}');
INSERT INTO "input" VALUES(3,5,3603250000,'{"message":{"student":1,"message":{"sung":{"call":1,"frequency_hz":220.123456789,"spread_cents":12.300000190734863}}}}');
INSERT INTO "input" VALUES(3,6,3603250000,'{"message":{"student":1,"message":{"answer":{"call":1,"serial":1,"answer":{"pitch":62},"source":"instrument","response":{"secs":3,"nanos":321000},"uncertainty":{"secs":0,"nanos":4567000}}}}}');
INSERT INTO "input" VALUES(3,7,3604250000,'{"order":"reveal"}');
INSERT INTO "input" VALUES(3,8,3604250000,'{"order":"close"}');
INSERT INTO "input" VALUES(3,9,3604250000,'{"order":"call-random"}');
INSERT INTO "input" VALUES(3,10,3607600000,'{"message":{"student":1,"message":{"hearing":{"call":2}}}}');
INSERT INTO "input" VALUES(3,11,3607600000,'{"message":{"student":1,"message":{"try":{"call":2,"at":{"place":[3,2]},"source":"instrument"}}}}');
INSERT INTO "input" VALUES(3,12,3607600000,'{"message":{"student":1,"message":{"sung":{"call":2,"frequency_hz":220.123456789,"spread_cents":12.300000190734863}}}}');
INSERT INTO "input" VALUES(3,13,3607600000,'{"message":{"student":1,"message":{"answer":{"call":2,"serial":1,"answer":{"pitch":79},"source":"instrument","response":{"secs":3,"nanos":100321000},"uncertainty":{"secs":0,"nanos":4567000}}}}}');
INSERT INTO "input" VALUES(3,14,3608600000,'{"order":"reveal"}');
INSERT INTO "input" VALUES(3,15,3608600000,'{"order":"close"}');
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
INSERT INTO "lesson" VALUES(1,X'8ED4BEB8C5758ACB87ADFBF91173718B',1,1,'Village hall, Tuesday',1,3600000000,1791914400000,1791914410000);
INSERT INTO "lesson" VALUES(2,X'FEED80CBE6EAEA9DD419201D8DE48D92',1,1,'Village hall, Tuesday',2,3600000000,1792519200000,1792519211400);
INSERT INTO "lesson" VALUES(3,X'9FEF17AEE67428A207B31024DEE1E785',1,1,'Village hall, Tuesday',3,3600000000,1793124000000,NULL);
CREATE TABLE log (
    lesson  INTEGER PRIMARY KEY REFERENCES lesson ON DELETE CASCADE,
    format  INTEGER NOT NULL,
    setup   TEXT NOT NULL,
    -- Of all events so far: their number, and a digest of them in order.
    events  INTEGER NOT NULL,
    digest  INTEGER NOT NULL,
    last_us INTEGER NOT NULL
) STRICT;
INSERT INTO "log" VALUES(3,1,'{"rules":{"lesson":"Village hall, Tuesday","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"octave"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":true},"neck":{"name":"five-string banjo, open G (gDGBD)","strings":[{"open":62,"first_fret":0,"last_fret":22,"course":[]},{"open":59,"first_fret":0,"last_fret":22,"course":[]},{"open":55,"first_fret":0,"last_fret":22,"course":[]},{"open":50,"first_fret":0,"last_fret":22,"course":[]},{"open":67,"first_fret":5,"last_fret":22,"course":[]}],"scale_length_mm":670.0,"capo":null},"seed":3,"max_students":100,"max_answers":50,"lead":{"secs":0,"nanos":250000000},"speakers_among_friends":false,"picking":"random"}',17,-7126006720357668730,3608600000);
CREATE TABLE mark (
    one  INTEGER PRIMARY KEY CHECK (one = 1),
    mark BLOB NOT NULL CHECK (length(mark) = 16)
) STRICT;
INSERT INTO "mark" VALUES(1,X'FF5A48EF60B04764CD2654BA1D75507E');
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
INSERT INTO "note" VALUES(X'87FD0E2BEF4A7BD32C0E6A0B69E206B2',1,1,2,1,1791914400000,'+ line one
- "two"; ＝3|@x');
INSERT INTO "note" VALUES(X'95B70817B0E1537D60A5081A11042C9F',2,NULL,NULL,NULL,1791914400000,'');
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
INSERT INTO "part" VALUES(2,1,3,0);
INSERT INTO "part" VALUES(2,2,1,0);
INSERT INTO "part" VALUES(2,2,3,0);
INSERT INTO "part" VALUES(3,1,1,0);
INSERT INTO "part" VALUES(3,2,1,0);
CREATE TABLE person (
    key    INTEGER PRIMARY KEY,
    id     BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    class  INTEGER NOT NULL REFERENCES class,
    name   TEXT NOT NULL,
    folded TEXT NOT NULL,
    UNIQUE (class, folded)
) STRICT;
INSERT INTO "person" VALUES(1,X'E93115ED7DB8B2FA73818FC9B1351CBA',1,'Mia','mia');
INSERT INTO "person" VALUES(2,X'68AEE33AD2E3702C257BF26FEE9DF49B',1,'=SUM(A1)','=sum(a1)');
INSERT INTO "person" VALUES(5,X'CD92BF9013B50DACBEA7FAE14E3F295F',1,'Ruth','ruth');
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
INSERT INTO "presence" VALUES(1,1,3600000000,1,'joined');
INSERT INTO "presence" VALUES(1,2,3600000000,2,'joined');
INSERT INTO "presence" VALUES(2,1,3600000000,1,'joined');
INSERT INTO "presence" VALUES(2,3,3600000000,3,'joined');
INSERT INTO "presence" VALUES(3,1,3600000000,1,'joined');
CREATE TABLE removed (
    id BLOB PRIMARY KEY CHECK (length(id) = 16)
) STRICT, WITHOUT ROWID;
INSERT INTO "removed" VALUES(X'82A978A72814FD985006E21375BA9CB0');
CREATE TABLE rules (
    lesson INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    seq    INTEGER NOT NULL,
    at_us  INTEGER NOT NULL,
    reach  TEXT NOT NULL,
    rules  TEXT NOT NULL,
    PRIMARY KEY (lesson, seq)
) STRICT, WITHOUT ROWID;
INSERT INTO "rules" VALUES(1,0,3600000000,'octave','{"lesson":"Village hall, Tuesday","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"octave"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":true}');
INSERT INTO "rules" VALUES(1,3,3600000000,'whole notes=G:major','{"lesson":"Village hall, Tuesday","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":[7,"major"],"step":"whole"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":true}');
INSERT INTO "rules" VALUES(2,0,3600000000,'octave','{"lesson":"Village hall, Tuesday","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"octave"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":true}');
INSERT INTO "rules" VALUES(2,4,3600000000,'whole notes=G:major','{"lesson":"Village hall, Tuesday","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":[7,"major"],"step":"whole"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":true}');
INSERT INTO "rules" VALUES(3,0,3600000000,'octave','{"lesson":"Village hall, Tuesday","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":null,"step":"octave"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":true}');
INSERT INTO "rules" VALUES(3,2,3600000000,'whole notes=G:major','{"lesson":"Village hall, Tuesday","mode":"class","reach":{"strings":null,"frets":null,"pitches":null,"notes":[7,"major"],"step":"whole"},"marking":"same-pitch","telling":"hint","sounding":"every-terminal","voice":"banjo","a4_hz":440.0,"flats":false,"sing_first":true}');
CREATE TABLE seal (
    lesson INTEGER PRIMARY KEY REFERENCES lesson ON DELETE CASCADE,
    rows   INTEGER NOT NULL,
    digest INTEGER NOT NULL
) STRICT;
INSERT INTO "seal" VALUES(1,39,7830769152884807850);
INSERT INTO "seal" VALUES(2,39,-7257641192340792512);
CREATE TABLE seat (
    lesson  INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    student INTEGER NOT NULL CHECK (student BETWEEN 0 AND 4294967295),
    person  INTEGER NOT NULL REFERENCES person ON DELETE CASCADE,
    PRIMARY KEY (lesson, student)
) STRICT, WITHOUT ROWID;
INSERT INTO "seat" VALUES(1,1,1);
INSERT INTO "seat" VALUES(2,1,1);
INSERT INTO "seat" VALUES(2,3,1);
INSERT INTO "seat" VALUES(1,2,2);
INSERT INTO "seat" VALUES(3,1,5);
CREATE TABLE sitting (
    lesson  INTEGER NOT NULL REFERENCES lesson ON DELETE CASCADE,
    from_us INTEGER NOT NULL,
    unix_ms INTEGER NOT NULL,
    PRIMARY KEY (lesson, from_us)
) STRICT, WITHOUT ROWID;
INSERT INTO "sitting" VALUES(1,3600000000,1791914400000);
INSERT INTO "sitting" VALUES(2,3600000000,1792519200000);
INSERT INTO "sitting" VALUES(3,3600000000,1793124000000);
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
INSERT INTO "stage" VALUES(1,13,3604950000,1,'revealed');
INSERT INTO "stage" VALUES(1,14,3604950000,1,'closed');
INSERT INTO "stage" VALUES(1,28,3610000000,2,'revealed');
INSERT INTO "stage" VALUES(1,29,3610000000,2,'closed');
INSERT INTO "stage" VALUES(1,30,3610000000,NULL,'ended');
INSERT INTO "stage" VALUES(2,22,3605650000,1,'revealed');
INSERT INTO "stage" VALUES(2,23,3605650000,1,'closed');
INSERT INTO "stage" VALUES(2,41,3611400000,2,'revealed');
INSERT INTO "stage" VALUES(2,42,3611400000,2,'closed');
INSERT INTO "stage" VALUES(2,43,3611400000,NULL,'ended');
INSERT INTO "stage" VALUES(3,8,3604250000,1,'revealed');
INSERT INTO "stage" VALUES(3,9,3604250000,1,'closed');
INSERT INTO "stage" VALUES(3,15,3608600000,2,'revealed');
INSERT INTO "stage" VALUES(3,16,3608600000,2,'closed');
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
INSERT INTO "sung" VALUES(1,7,3603250000,1,1,220.123456789,1.23000001907348632812e+01,1,-4.99028747558593749984e+02,1);
INSERT INTO "sung" VALUES(1,11,3603950000,1,2,220.123456789,1.23000001907348632812e+01,1,-4.99028747558593749984e+02,1);
INSERT INTO "sung" VALUES(1,18,3608300000,2,1,220.123456789,1.23000001907348632812e+01,0,2.00971237182617187507e+02,1);
INSERT INTO "sung" VALUES(1,22,3609000000,2,2,220.123456789,1.23000001907348632812e+01,0,2.00971237182617187507e+02,1);
INSERT INTO "sung" VALUES(1,26,3609000000,2,2,220.123456789,1.23000001907348632812e+01,0,2.00971237182617187507e+02,1);
INSERT INTO "sung" VALUES(2,8,3603250000,1,1,220.123456789,1.23000001907348632812e+01,0,2.00971237182617187507e+02,1);
INSERT INTO "sung" VALUES(2,16,3604650000,1,3,220.123456789,1.23000001907348632812e+01,0,2.00971237182617187507e+02,1);
INSERT INTO "sung" VALUES(2,20,3604650000,1,3,220.123456789,1.23000001907348632812e+01,0,2.00971237182617187507e+02,1);
INSERT INTO "sung" VALUES(2,27,3609000000,2,1,220.123456789,1.23000001907348632812e+01,-1,9.71239328384399414062e-01,1);
INSERT INTO "sung" VALUES(2,39,3610400000,2,3,220.123456789,1.23000001907348632812e+01,-1,9.71239328384399414062e-01,1);
INSERT INTO "sung" VALUES(3,6,3603250000,1,1,220.123456789,1.23000001907348632812e+01,0,-4.99028747558593749984e+02,1);
INSERT INTO "sung" VALUES(3,13,3607600000,2,1,220.123456789,1.23000001907348632812e+01,-2,2.00971237182617187507e+02,1);
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
INSERT INTO "try" VALUES(1,6,3603250000,1,1,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(1,10,3603950000,1,2,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(1,17,3608300000,2,1,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(1,21,3609000000,2,2,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(1,25,3609000000,2,2,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(2,7,3603250000,1,1,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(2,15,3604650000,1,3,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(2,19,3604650000,1,3,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(2,26,3609000000,2,1,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(2,38,3610400000,2,3,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(3,5,3603250000,1,1,3,2,NULL,NULL,'instrument');
INSERT INTO "try" VALUES(3,12,3607600000,2,1,3,2,NULL,NULL,'instrument');
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
CREATE INDEX class_key_person ON class_key (person);
COMMIT;
PRAGMA application_id = 896558439;
PRAGMA user_version = 4;
