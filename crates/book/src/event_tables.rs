//! The tables that hold a lesson's events, one row for each.

/// One of them: its name, and its columns behind `lesson, seq, at_us`.
#[derive(Debug)]
pub(crate) struct EventTable {
    pub name: &'static str,
    pub columns: &'static [&'static str],
    /// Puts one row in: a parameter for each column, lesson, seq and at_us first.
    pub insert: &'static str,
}

impl EventTable {
    /// How many of the columns a lesson is known again by: what later versions
    /// added stands behind them, so that a lesson that an older program left open
    /// can still be taken up.
    pub fn known_by(&self) -> usize {
        let later = usize::from(self.name == CALL.name);
        self.columns.len() - later
    }
}

macro_rules! parameter {
    ($column:literal) => {
        ", ?"
    };
}

macro_rules! tables {
    ($($constant:ident = $name:literal [$($column:literal)+];)+) => {
        $(pub(crate) const $constant: EventTable = EventTable {
            name: $name,
            columns: &[$($column),+],
            insert: concat!(
                "INSERT INTO ", $name, " (lesson, seq, at_us", $(", ", $column),+,
                ") VALUES (?, ?, ?", $(parameter!($column)),+, ")"
            ),
        };)+
        /// All of them, each before those that refer to it.
        pub(crate) const EVENT_TABLES: &[EventTable] = &[$($constant),+];
    };
}

tables! {
    RULES = "rules" ["reach" "rules"];
    PRESENCE = "presence" ["student" "what"];
    TURN = "turn" ["student"];
    CALL = "call" [
        "call" "pitch" "string" "fret" "marking" "frequency_hz" "voice" "pluck_seed" "start_us"
        "caller" "picked"
    ];
    STAGE = "stage" ["call" "what"];
    HEARING = "hearing" ["call" "student" "what" "start_us"];
    TRY = "try" ["call" "student" "string" "fret" "pitch" "name" "source"];
    SUNG = "sung" ["call" "student" "frequency_hz" "spread_cents" "octaves" "cents" "exact"];
    ANSWER = "answer" [
        "call" "student" "serial" "string" "fret" "pitch" "name" "source" "correct" "miss"
        "miss_size" "miss_side" "response_us" "uncertainty_us"
    ];
}

impl EventTable {
    /// The rows of one lesson in order: `seq`, `at_us`, and the columns.
    pub fn select(&self) -> String {
        format!(
            "SELECT seq, at_us, {} FROM {} WHERE lesson = ?1 ORDER BY seq",
            self.columns.join(", "),
            self.name
        )
    }
}
