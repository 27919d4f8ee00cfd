//! Every table of the book with all its columns, one row each. From these rows
//! tables are made and brought up to date, exports written and taken in, and
//! lessons sealed. A column that is added is a row with `since` the next version.

use crate::tables::Kind::{
    Bytes, Class, Date, Figure, Folded, Id, Key, Lesson, Name, Neck, Person, Prose, Student, Text,
    Whole, Word,
};
use crate::tables::{Before, Column, Of, Table, maybe, needed, table};

/// The version of the tables that this program writes: the latest `since`.
pub const VERSION: u32 = 5;

/// Every table, each before those that refer to it.
pub(crate) static TABLES: &[&Table] = &[
    &CLASS, &REMOVED, &PERSON, &ALIAS, &NECK, &LESSON, &LOG, &INPUT, &SITTING, &SEAT, &RULES,
    &PRESENCE, &TURN, &CALL, &STAGE, &HEARING, &TRY, &SUNG, &ANSWER, &PART, &NOTE, &MARK, &SEAL,
    &CLASS_KEY,
];

const IS_32_BITS: &str = "BETWEEN 0 AND 4294967295";
const IS_BYTE: &str = "BETWEEN 0 AND 255";
const IS_PITCH: &str = "BETWEEN 0 AND 127";
const IS_CLASS: &str = "BETWEEN 0 AND 11";
const IS_YES_OR_NO: &str = "IN (0, 1)";

const KEY: Column = maybe("key", Key).sql("PRIMARY KEY");
const UNIQUE_ID: Column = needed("id", Id).sql("UNIQUE CHECK (length(id) = 16)");
const ID: Column = maybe("id", Id).sql("PRIMARY KEY CHECK (length(id) = 16)");
const OF_CLASS: Column = needed("class", Class).sql("REFERENCES class");
const GOES_WITH_PERSON: &str = "REFERENCES person ON DELETE CASCADE";
const GOES_WITH_LESSON: &str = "REFERENCES lesson ON DELETE CASCADE";
/// Rows that go with a call or a seat go with the lesson through it.
const OF_LESSON: Column = needed("lesson", Lesson);
/// Counts the events of a lesson from 0, so that (lesson, seq) names one event in
/// every copy of the book.
const SEQ: Column = needed("seq", Whole);
/// Microseconds on the host's own clock, as the lesson counts them; `sitting` ties
/// them to the calendar.
const AT_US: Column = needed("at_us", Whole);
const OF_CALL: Column = needed("call", Whole);
const STRING: Column = maybe("string", Whole).check(IS_BYTE);
const FRET: Column = maybe("fret", Whole).check(IS_BYTE);
const PITCH: Column = maybe("pitch", Whole).check(IS_PITCH);
/// The number of a note name.
const NOTE_NAME: Column = maybe("name", Whole).check(IS_CLASS);
/// What was kept before version 2 came from the screen.
const SOURCE: Column = needed("source", Word)
    .check("IN ('screen', 'instrument')")
    .since(2, Before::Word("screen"));

const fn student(tells: &'static str) -> Column {
    needed("student", Student).personal(tells)
}

/// A table of what happens in a lesson, a row for each event.
const fn event(name: &'static str, keys: &'static str, columns: &'static [Column]) -> Table {
    table(name, Of::Lesson, "sheet.seq", columns).keys(keys)
}

const ONE_EVENT: &str = "PRIMARY KEY (lesson, seq)";
const OF_CALL_AND_SEAT: &str = "PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE";
/// A try or answer is a place (string and fret), a pitch, or a note name.
const IS_ONE_ANSWER: &str = "PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE,
    CHECK ((string IS NULL) = (fret IS NULL)),
    CHECK ((string IS NOT NULL) + (pitch IS NOT NULL) + (name IS NOT NULL) = 1)";

static CLASS: Table = table(
    "class",
    Of::Book,
    "sheet.folded",
    &[
        KEY,
        needed("name", Name).personal("class"),
        needed("folded", Folded).sql("UNIQUE"),
    ],
);

/// People removed wholly: a random number is all that stays, so that merging an
/// old copy does not bring them back.
static REMOVED: Table = table(
    "removed",
    Of::Book,
    "sheet.id",
    &[ID.personal("A random number stays")],
);

static PERSON: Table = table(
    "person",
    Of::Book,
    "class.folded, sheet.folded, sheet.id",
    &[
        KEY,
        UNIQUE_ID.personal("a random number for each person"),
        OF_CLASS.personal("class"),
        needed("name", Name).personal("names as typed"),
        needed("folded", Folded).personal("names as typed"),
    ],
)
.keys("UNIQUE (class, folded)");

/// Numbers that a person had before: of people made one, and of the same person
/// in another teacher's book.
static ALIAS: Table = table(
    "alias",
    Of::Book,
    "sheet.id",
    &[
        ID.personal("a random number for each person"),
        needed("person", Person)
            .sql(GOES_WITH_PERSON)
            .personal("a random number for each person"),
    ],
);

/// Goes with its lessons.
static NECK: Table = table(
    "neck",
    Of::File,
    "sheet.key",
    &[KEY, needed("neck", Text).sql("UNIQUE")],
);

static LESSON: Table = table(
    "lesson",
    Of::Lesson,
    "sheet.started_ms, sheet.id",
    &[
        KEY,
        UNIQUE_ID,
        OF_CLASS.personal("class"),
        needed("neck", Neck).sql("REFERENCES neck"),
        needed("name", Text),
        needed("seed", Whole),
        needed("began_us", Whole),
        needed("started_ms", Date).personal("days and times of lessons"),
        // Wanting while the lesson is open.
        maybe("ended_ms", Date).personal("days and times of lessons"),
        // The version of the program that began it.
        maybe("program", Word)
            .check("GLOB '[0-9]*' AND program NOT GLOB '*[^0-9a-z.+-]*'")
            .since(5, Before::Unknown),
        // A lesson of the class, or one of its people practising alone. What was
        // kept before version 5 is told by `schema::HELD_BEFORE`.
        maybe("held", Word)
            .check("IN ('class', 'alone')")
            .since(5, Before::Unknown),
    ],
);

/// What an open lesson is made again from; gone once it has ended. It stays where
/// the lesson was held.
static LOG: Table = table(
    "log",
    Of::File,
    "sheet.lesson",
    &[
        maybe("lesson", Lesson).sql("PRIMARY KEY REFERENCES lesson ON DELETE CASCADE"),
        needed("format", Whole),
        needed("setup", Text),
        // Of all events so far: their number, and a digest of them in order.
        needed("events", Whole),
        needed("digest", Whole),
        needed("last_us", Whole),
    ],
);

static INPUT: Table = table(
    "input",
    Of::File,
    "sheet.number",
    &[
        needed("lesson", Lesson).sql("REFERENCES log ON DELETE CASCADE"),
        needed("number", Whole),
        AT_US,
        needed("input", Text).personal("what was taken in, names as typed"),
    ],
)
.keys("PRIMARY KEY (lesson, number)");

/// From `from_us` on, the host's clock and the calendar agree like this.
static SITTING: Table = table(
    "sitting",
    Of::Lesson,
    "sheet.from_us",
    &[
        OF_LESSON.sql(GOES_WITH_LESSON),
        needed("from_us", Whole),
        needed("unix_ms", Date).personal("days and times of lessons"),
    ],
)
.keys("PRIMARY KEY (lesson, from_us)");

static SEAT: Table = table(
    "seat",
    Of::Lesson,
    "sheet.student",
    &[
        OF_LESSON.sql(GOES_WITH_LESSON),
        needed("student", Whole).check(IS_32_BITS),
        needed("person", Person)
            .sql(GOES_WITH_PERSON)
            .personal("when each came and went"),
    ],
)
.keys("PRIMARY KEY (lesson, student)");

/// The rules a lesson began with, and each change: the reach above all.
pub(crate) static RULES: Table = event(
    "rules",
    ONE_EVENT,
    &[
        OF_LESSON.sql(GOES_WITH_LESSON),
        SEQ,
        AT_US,
        needed("reach", Text),
        needed("rules", Text),
    ],
);

/// Comings and goings.
pub(crate) static PRESENCE: Table = event(
    "presence",
    "PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE",
    &[
        OF_LESSON,
        SEQ,
        AT_US,
        student("when each came and went"),
        needed("what", Word).check(
            "IN ('joined', 'returned', 'lost', 'left', 'removed', 'fell-behind', 'made-room')",
        ),
    ],
);

pub(crate) static TURN: Table = event(
    "turn",
    ONE_EVENT,
    &[
        OF_LESSON.sql(GOES_WITH_LESSON),
        SEQ,
        AT_US,
        // The number alone: it stays when the student is removed.
        maybe("student", Whole),
    ],
);

pub(crate) static CALL: Table = event(
    "call",
    "PRIMARY KEY (lesson, call), UNIQUE (lesson, seq),
    CHECK ((string IS NULL) = (fret IS NULL))",
    &[
        OF_LESSON.sql(GOES_WITH_LESSON),
        SEQ,
        AT_US,
        OF_CALL.check(IS_32_BITS),
        needed("pitch", Whole).check(IS_PITCH),
        STRING,
        FRET,
        needed("marking", Word).check("IN ('same-pitch', 'exact-place', 'any-octave')"),
        needed("frequency_hz", Figure),
        needed("voice", Word).check("IN ('banjo', 'guitar', 'plain')"),
        needed("pluck_seed", Whole).check(IS_32_BITS),
        needed("start_us", Whole),
        // The number alone: it stays when the student is removed.
        maybe("caller", Whole),
        // Where the note came from.
        maybe("picked", Word)
            .check("IN ('random', 'teaching', 'hand', 'instrument', 'friend')")
            .since(3, Before::Unknown),
    ],
);

/// How far a call, or the lesson, has come.
pub(crate) static STAGE: Table = event(
    "stage",
    "PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    CHECK ((call IS NULL) = (what = 'ended'))",
    &[
        OF_LESSON.sql(GOES_WITH_LESSON),
        SEQ,
        AT_US,
        maybe("call", Whole),
        needed("what", Word).check("IN ('revealed', 'closed', 'ended')"),
    ],
);

/// Soundings of the target: for everyone (again, or by the host's speakers), and
/// a student's own (free, or asked for beyond that; sounded: the terminal's word
/// that the first one left its output).
pub(crate) static HEARING: Table = event(
    "hearing",
    "PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE,
    CHECK ((student IS NULL) = (what IN ('again', 'speakers'))),
    CHECK ((start_us IS NOT NULL) = (what IN ('again', 'speakers')))",
    &[
        OF_LESSON,
        SEQ,
        AT_US,
        OF_CALL,
        maybe("student", Student).personal("hearings"),
        needed("what", Word).check("IN ('again', 'speakers', 'sounded', 'free', 'asked')"),
        maybe("start_us", Whole),
    ],
);

pub(crate) static TRY: Table = event(
    "try",
    IS_ONE_ANSWER,
    &[
        OF_LESSON,
        SEQ,
        AT_US,
        OF_CALL,
        student("tries"),
        STRING,
        FRET,
        PITCH,
        NOTE_NAME,
        SOURCE,
    ],
);

pub(crate) static SUNG: Table = event(
    "sung",
    OF_CALL_AND_SEAT,
    &[
        OF_LESSON,
        SEQ,
        AT_US,
        OF_CALL,
        student("how far sung notes were off"),
        needed("frequency_hz", Figure),
        maybe("spread_cents", Figure),
        // From the target: octaves, and cents from the nearest of them.
        needed("octaves", Whole).check("BETWEEN -128 AND 127"),
        needed("cents", Figure),
        needed("exact", Whole).check(IS_YES_OR_NO),
    ],
)
.since(2);

pub(crate) static ANSWER: Table = event(
    "answer",
    "PRIMARY KEY (lesson, seq),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE,
    CHECK ((string IS NULL) = (fret IS NULL)),
    CHECK ((string IS NOT NULL) + (pitch IS NOT NULL) + (name IS NOT NULL) = 1),
    CHECK (correct = 0 OR (miss IS NULL AND miss_size IS NULL AND miss_side IS NULL))",
    &[
        OF_LESSON,
        SEQ,
        AT_US,
        OF_CALL,
        student("answers"),
        needed("serial", Whole).check(IS_32_BITS),
        STRING,
        FRET,
        PITCH,
        NOTE_NAME,
        SOURCE,
        needed("correct", Whole).check(IS_YES_OR_NO),
        // Of a miss: its kind, its size in octaves or semitones, and the side.
        maybe("miss", Word).check(
            "IN ('octave', 'neighbour', 'whole-tone', 'other-place', 'other-place-octave', \
             'interval', 'further')",
        ),
        maybe("miss_size", Whole).check(IS_BYTE),
        maybe("miss_side", Word).check("IN ('low', 'high')"),
        maybe("response_us", Whole).personal("how long they took"),
        needed("uncertainty_us", Whole),
    ],
);

/// Who was there to answer a call; late for one who came in while it was open.
static PART: Table = table(
    "part",
    Of::Lesson,
    "sheet.call, sheet.student",
    &[
        OF_LESSON,
        OF_CALL,
        student("calls"),
        needed("late", Whole).check(IS_YES_OR_NO),
    ],
)
.keys(
    "PRIMARY KEY (lesson, call, student),
    FOREIGN KEY (lesson, call) REFERENCES call ON DELETE CASCADE,
    FOREIGN KEY (lesson, student) REFERENCES seat ON DELETE CASCADE",
);

static NOTE: Table = table(
    "note",
    Of::Book,
    "sheet.unix_ms, sheet.id",
    &[
        ID,
        OF_CLASS,
        // Set for a note on one lesson, one call of it, or one person.
        maybe("lesson", Lesson).sql(GOES_WITH_LESSON),
        maybe("call", Whole),
        maybe("person", Person)
            .sql(GOES_WITH_PERSON)
            .personal("the teacher's notes"),
        needed("unix_ms", Date),
        needed("text", Prose).personal("the teacher's notes"),
    ],
)
.keys("CHECK (call IS NULL OR lesson IS NOT NULL)")
.since(2);

/// A random number that no other file has, a copy of it neither: whoever writes
/// knows by it that the file was not written over.
static MARK: Table = table(
    "mark",
    Of::File,
    "sheet.one",
    &[
        maybe("one", Whole).sql("PRIMARY KEY").check("= 1"),
        needed("mark", Bytes).sql("CHECK (length(mark) = 16)"),
    ],
)
.since(4);

/// Of each lesson that nothing more is written of: how many rows it has in all
/// tables, and a digest of them, so that what is damaged or lost is noticed.
static SEAL: Table = table(
    "seal",
    Of::File,
    "sheet.lesson",
    &[
        maybe("lesson", Lesson).sql("PRIMARY KEY REFERENCES lesson ON DELETE CASCADE"),
        needed("rows", Whole),
        needed("digest", Whole),
    ],
)
.since(4);

/// The public halves of class keys: who comes in by them, and since when. Nobody
/// gets in with what stands here.
static CLASS_KEY: Table = table(
    "class_key",
    Of::File,
    "sheet.public",
    &[
        maybe("public", Bytes)
            .sql("PRIMARY KEY CHECK (length(public) = 32)")
            .personal("a public key"),
        needed("person", Person)
            .sql(GOES_WITH_PERSON)
            .personal("whose it is"),
        needed("granted_ms", Date).personal("when it was given and last used"),
        needed("used_ms", Date).personal("when it was given and last used"),
    ],
)
.since(4);
