//! The words that lines begin with.

/// The first word of a line, so that a script or a listener can follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Word {
    /// A warning to read first.
    Caution,
    /// Something that helps.
    Hint,
    /// The lesson's name.
    Lesson,
    /// An address to join at.
    Address,
    /// The lesson's passphrase.
    Passphrase,
    /// How a phone gets in.
    Page,
    /// Who gets into the lesson.
    Lock,
    /// How it stands with the lesson book.
    Book,
    /// How the connection stands.
    Link,
    /// Where sound goes.
    Sound,
    /// The neck.
    Neck,
    /// The reach.
    Reach,
    /// A rule of this word.
    Rule(&'static str),
    /// When the next note comes, alone.
    Gap,
    /// What to do with the reach.
    Suggest,
    /// How the microphone fares.
    Microphone,
    /// A student came in.
    Joined,
    /// A student left for good.
    Left,
    /// The host said who a student is.
    Known,
    /// About class keys.
    ClassKey,
    /// A student's connection was lost.
    Away,
    /// A student's connection is up again.
    Back,
    /// One student and how far they are.
    Who,
    /// Whose turn it is to call.
    Turn,
    /// A call was made.
    Call,
    /// The note of the open call, for whoever called.
    Target,
    /// The call sounds again for all.
    Again,
    /// A student heard the call once more.
    Heard,
    /// A place or pitch was tried.
    Tried,
    /// The microphone heard the instrument.
    Plucked,
    /// A string on the bench, and how it is tuned.
    String,
    /// How late sound comes back to the microphone.
    Delay,
    /// A note was sung, and how near it was.
    Sung,
    /// An answer came in, or went out.
    Answer,
    /// How your answer was marked.
    Mark,
    /// The note and every place of it.
    Reveal,
    /// A call is over.
    Closed,
    /// Where you stand with the open call.
    Where,
    /// Your sums over the lesson.
    Tally,
    /// A wait or a pause is over.
    Waited,
    /// The lesson's end.
    Ended,
    /// One line of the table at the end.
    Result,
    /// A command, explained.
    Help,
    /// Something could not be done.
    Error,
}

/// Every word, what follows it, and what it means: the lower half of the page
/// on plain mode.
pub const WORDS: &[(Word, &str, &str)] = &[
    (
        Word::Caution,
        "caution SENTENCE",
        "read this before the first tone",
    ),
    (Word::Hint, "hint SENTENCE", "something useful to know"),
    (
        Word::Lesson,
        "lesson NAME",
        "the lesson you host, have joined, or found with `--list`",
    ),
    (
        Word::Address,
        "address ADDRESS:PORT",
        "where `join` finds the lesson, one line for each address",
    ),
    (
        Word::Page,
        "page ADDRESS | words WORDS | ROW",
        "the page for phones, the words that open it, or a row of the code to scan",
    ),
    (
        Word::Passphrase,
        "passphrase WORDS",
        "for a host: what students need to get in; say it aloud",
    ),
    (
        Word::Lock,
        "lock SENTENCE",
        "for a host: whether the lesson is locked and encrypted, or open",
    ),
    (
        Word::Book,
        "book SENTENCE",
        "whether the lesson is written down, and whether answers wait for it",
    ),
    (
        Word::Link,
        "link SENTENCE",
        "how the connection to the host stands",
    ),
    (
        Word::Sound,
        "sound SENTENCE",
        "where sound goes, or that there is none",
    ),
    (
        Word::Neck,
        "neck NAME",
        "the neck in everyone's hands; `neck` adds a line for each string",
    ),
    (
        Word::Reach,
        "reach SPEC",
        "where calls are picked from; `reach list` adds the ready steps",
    ),
    (
        Word::Gap,
        "gap WHEN",
        "alone: how long after one note is shown the next is called by itself",
    ),
    (
        Word::Suggest,
        "suggest SENTENCE",
        "for a host, between calls: to widen or narrow the reach, and why; nothing is done unless you do it",
    ),
    (
        Word::Microphone,
        "microphone SENTENCE",
        "whether the microphone listens, what is wrong with it, and what the room is like",
    ),
    (
        Word::Joined,
        "joined NAME",
        "a student came in; for a student, the name the lesson keeps",
    ),
    (
        Word::Left,
        "left NAME",
        "a student left; the seat is kept until the lesson ends",
    ),
    (
        Word::Known,
        "known NAME [is NAME]",
        "somebody known in this class, or who a student is from now on",
    ),
    (
        Word::ClassKey,
        "class-key SENTENCE",
        "about class keys: offered, kept, or come in by",
    ),
    (
        Word::Away,
        "away NAME",
        "a student's connection was lost; the seat is kept",
    ),
    (Word::Back, "back NAME", "that student is here again"),
    (
        Word::Who,
        "who NAME: STATE",
        "one student: here or away, and how far with the open call",
    ),
    (
        Word::Turn,
        "turn NAME | turn you",
        "whose turn it is to call, among friends",
    ),
    (Word::Call, "call NUMBER sounding", "a note is called"),
    (
        Word::Target,
        "target PITCH [at PLACE]",
        "the note of the open call, only for the one who called it",
    ),
    (
        Word::Again,
        "again call NUMBER",
        "the call sounds again: for everyone, or for you alone if you asked",
    ),
    (
        Word::Heard,
        "heard NAME COUNT",
        "a student asked to hear the call again, and how often so far",
    ),
    (
        Word::Tried,
        "tried [NAME] PLACE|PITCH[, played]",
        "a place or pitch was sounded while searching, or played on the instrument",
    ),
    (
        Word::Plucked,
        "plucked PITCH WHAT NOW | plucked nothing: WHY",
        "what the microphone heard of your instrument, and what it takes to answer or to call \
         with it",
    ),
    (
        Word::String,
        "string NUMBER [PITCH]: HOW IT IS",
        "with `listen`: how far a string is from its pitch, and which way to turn",
    ),
    (
        Word::Delay,
        "delay SENTENCE",
        "with `listen`: how late sound comes back to the microphone, and what that means",
    ),
    (
        Word::Sung,
        "sung [NAME] HOW NEAR",
        "a note was sung: octaves and cents from the call",
    ),
    (
        Word::Answer,
        "answer NAME PLACE|PITCH MARK[, TIME][, played]",
        "an answer, how it was marked, the time from the tone to it, and whether it was played \
         on the instrument",
    ),
    (
        Word::Mark,
        "mark PLACE|PITCH MARK[, in call NUMBER]",
        "how your answer was marked, once the host has it; with the call where another has come \
         since",
    ),
    (
        Word::Reveal,
        "reveal PITCH: PLACES",
        "the note and every place of it on this neck",
    ),
    (
        Word::Closed,
        "closed call NUMBER: SUMS",
        "the call takes no more answers",
    ),
    (
        Word::Where,
        "where SENTENCE",
        "where you stand with the open call, and how well the host's clock is known",
    ),
    (
        Word::Tally,
        "tally SUMS",
        "what you have done so far; a call counts once you have found it, it is shown or it is closed",
    ),
    (
        Word::Waited,
        "waited WHAT",
        "a wait or a pause is over; \"in vain\" if the time ran out first",
    ),
    (
        Word::Result,
        "result ROW",
        "one line of the table at the end",
    ),
    (
        Word::Ended,
        "ended SENTENCE",
        "the lesson is over, or you have left it",
    ),
    (
        Word::Help,
        "help COMMAND: WHAT IT DOES",
        "one command, explained",
    ),
    (
        Word::Error,
        "error: SENTENCE",
        "that line could not be done (`error line 12:` in a script); the lesson goes on",
    ),
];

impl Word {
    /// The word as it is written.
    pub fn text(self) -> &'static str {
        if let Word::Rule(rule) = self {
            return rule;
        }
        WORDS
            .iter()
            .find(|(word, _, _)| *word == self)
            .and_then(|(_, form, _)| form.split([' ', ':']).next())
            .unwrap_or("hint")
    }
}
