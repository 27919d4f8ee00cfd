//! Listening and tuning in lines.

use std::time::Instant;

use fifthpeg_core::Cause;
use fifthpeg_core::text;
use fifthpeg_core::{HeardNote, Spelling};
use fifthpeg_listen::bench::{Bench, BenchNews, BenchString, StringState};
use fifthpeg_listen::hearing::Hearing;
use fifthpeg_listen::microphone::{Microphone, MicrophoneState};
use fifthpeg_listen::trim::{BOTH_ENDS, TrimBench};
use fifthpeg_listen::trims;
use fifthpeg_listen::words;
use fifthpeg_listen::works::{FromWorks, Works};
use fifthpeg_sound::{Listened, Trim, input_names};

use crate::input::{InputLine, LineInput};
use crate::say::{Say, Word};
use crate::table::{self, LineCommand, Read::Rest, bare};
use crate::wait::{Stop, Waiting};

/// One line of input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ListenLine {
    /// Say the strings, or choose one.
    Strings,
    /// Choose a string.
    String(u8),
    /// Choose the next one.
    Next,
    /// Sound the string's pitch.
    Sound,
    /// Say how near it was.
    Check,
    /// Say it at each pluck, or no longer.
    Meter(Option<bool>),
    /// Measure the room.
    Quiet,
    /// Measure the delay.
    Delay,
    /// Say the output's trim, or change it.
    Trim(TrimLine),
    /// Say what microphones there are.
    Devices,
    /// Let time pass.
    Pause(std::time::Duration),
    /// End.
    End,
    /// Say the commands.
    Help,
}

/// What to do with the output's trim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TrimLine {
    /// Say it.
    Say,
    /// Keep what the delay measured last would make it.
    Keep,
    /// Keep this one.
    Set(Trim),
    /// Forget it.
    Off,
}

/// The commands.
pub const LISTEN_COMMANDS: &[LineCommand<ListenLine>] = &[
    LineCommand {
        word: "string",
        form: "[NUMBER | next]",
        does: "say how the strings are, or choose the one to tune",
        read: Rest(|_, rest| read_string(rest)),
    },
    bare(
        "sound",
        "sound the pitch of the chosen string",
        ListenLine::Sound,
    ),
    bare(
        "check",
        "say how far the chosen string was off when it was plucked last",
        ListenLine::Check,
    ),
    LineCommand {
        word: "meter",
        form: "[on | off]",
        does: "say it at each pluck, or leave it to your ear",
        read: Rest(|word, rest| table::on_or_off(word, rest).map(ListenLine::Meter)),
    },
    bare(
        "quiet",
        "measure the noise of the room: keep quiet for three seconds",
        ListenLine::Quiet,
    ),
    bare(
        "delay",
        "sound a sweep and measure how late it comes back to the microphone",
        ListenLine::Delay,
    ),
    LineCommand {
        word: "trim",
        form: "[keep | MILLISECONDS | off]",
        does: "say how much later the output is than the sound system says, keep the delay \
               measured last as that, set it, or forget it",
        read: Rest(|_, rest| read_trim(rest)),
    },
    bare(
        "devices",
        "say the microphones that --microphone can name",
        ListenLine::Devices,
    ),
    LineCommand {
        word: "pause",
        form: "SECONDS",
        does: "go on after so many seconds",
        read: Rest(|_, rest| table::seconds(rest).map(ListenLine::Pause)),
    },
    bare("end", "end", ListenLine::End),
    bare("help", "say these commands", ListenLine::Help),
];

fn read_string(rest: &str) -> Result<ListenLine, Cause> {
    match rest {
        "" => Ok(ListenLine::Strings),
        _ if rest.eq_ignore_ascii_case("next") => Ok(ListenLine::Next),
        _ => rest.parse().map(ListenLine::String).map_err(|why| {
            let shown = text::shown(rest);
            let words = format!("\"{shown}\" is no string: give its number, such as 4, or next");
            Cause::told(words, why)
        }),
    }
}

fn read_trim(rest: &str) -> Result<ListenLine, Cause> {
    let line = match rest.to_ascii_lowercase().as_str() {
        "" => TrimLine::Say,
        "keep" => TrimLine::Keep,
        "off" => TrimLine::Off,
        _ => TrimLine::Set(trims::parse(rest)?),
    };
    Ok(ListenLine::Trim(line))
}

/// The bench in lines.
pub struct Plain<'a> {
    /// The devices.
    pub works: &'a mut Works,
    /// The strings.
    pub bench: Bench,
    /// The microphone.
    pub microphone: Microphone,
    /// How notes are spelt.
    pub spelling: Spelling,
    /// Whether own tones go to headphones.
    pub headphones: bool,
    /// Where lines go.
    pub say: &'a mut Say,
}

impl Plain<'_> {
    /// Takes lines until `end`, the end of input, or being asked to stop.
    pub async fn run(&mut self, input: &mut LineInput, stop: &mut Stop) {
        self.say_string(&self.bench.chosen().clone());
        let mut waiting: Option<Waiting<&str>> = None;
        loop {
            if let Some(over) = waiting.and_then(|wait| wait.over(|_| false)) {
                self.say.say(Word::Waited, over);
                waiting = None;
            }
            let until = waiting.map_or_else(tokio::time::Instant::now, |wait| wait.until);
            // Lines wait until a delay that is being measured is known.
            let free = waiting.is_none() && !self.works.is_busy();
            tokio::select! {
                biased;
                () = stop.asked() => return,
                news = self.works.next() => self.take(news),
                () = tokio::time::sleep_until(until), if waiting.is_some() => {}
                line = input.next(), if free => {
                    let Some(line) = line else { return };
                    match self.obey(line) {
                        Some(ListenLine::End) => return,
                        Some(ListenLine::Pause(time)) => waiting = Some(Waiting {
                            what: None,
                            until: tokio::time::Instant::now() + time,
                        }),
                        _ => {}
                    }
                }
            }
        }
    }

    /// Does one line; gives back what is left for the loop to do.
    fn obey(&mut self, line: InputLine) -> Option<ListenLine> {
        let number = line.script_line;
        let read = line.text.and_then(|line| {
            table::read_line(LISTEN_COMMANDS, &line).map_err(|why| why.to_string())
        });
        let done = match read {
            Ok(None) => return None,
            Ok(Some(line @ (ListenLine::End | ListenLine::Pause(_)))) => return Some(line),
            Ok(Some(line)) => self.follow(line),
            Err(why) => Err(why),
        };
        if let Err(why) = done {
            self.say.error(number, why);
        }
        None
    }

    fn follow(&mut self, line: ListenLine) -> Result<(), String> {
        match line {
            ListenLine::Strings => {
                for string in self.bench.strings().to_vec() {
                    self.say_string(&string);
                }
            }
            ListenLine::String(number) => {
                if !self.bench.choose(number) {
                    let most = self.bench.strings().len();
                    return Err(format!("there is no string {number}: give 1 to {most}"));
                }
                self.say_string(&self.bench.chosen().clone());
            }
            ListenLine::Next => {
                self.bench.step(1);
                self.say_string(&self.bench.chosen().clone());
            }
            ListenLine::Sound => {
                let until = self.works.sound(self.bench.chosen().target_hz)?;
                if !self.headphones {
                    self.bench.own_tone(until);
                }
                self.say.say(Word::Hint, words::BY_EAR);
            }
            ListenLine::Check => match self.bench.chosen().state {
                StringState::Unheard => {
                    let number = self.bench.chosen().number;
                    return Err(format!("string {number} was not heard yet: pluck it alone"));
                }
                StringState::Off(cents) | StringState::InTune(cents) => self.say_read(cents),
            },
            ListenLine::Meter(wanted) => {
                if let Some(wanted) = wanted {
                    self.bench.meter = wanted;
                }
                let state = if self.bench.meter { "on" } else { "off" };
                self.say.say(Word::Hint, format!("the meter is {state}"));
                if wanted == Some(true) {
                    self.say.say(Word::Caution, words::PEGS);
                }
            }
            ListenLine::Quiet => self.works.measure_room()?,
            ListenLine::Delay => {
                self.works.measure_loop()?;
                self.say.say(
                    Word::Delay,
                    "a sweep sounds now: keep quiet for seven seconds",
                );
            }
            ListenLine::Trim(line) => {
                match line {
                    TrimLine::Say => {}
                    TrimLine::Keep => self.works.change_trim(TrimBench::keep)?,
                    TrimLine::Set(trim) => self.works.change_trim(|bench| bench.set(trim))?,
                    TrimLine::Off => self.works.change_trim(TrimBench::remove)?,
                }
                self.say.say(Word::Delay, self.works.trim().words());
            }
            ListenLine::Devices => {
                let names = input_names();
                if names.is_empty() {
                    self.say
                        .say(Word::Microphone, "this machine has none to name");
                }
                for name in names {
                    self.say.say(Word::Microphone, format!("microphone:{name}"));
                }
            }
            ListenLine::Help => table::help(LISTEN_COMMANDS, |_| true, self.say),
            ListenLine::Pause(_) | ListenLine::End => {}
        }
        Ok(())
    }

    fn take(&mut self, news: FromWorks) {
        match news {
            FromWorks::Heard(Hearing::Listened(listened)) => self.listened(&listened),
            FromWorks::Heard(Hearing::Tuner(reading, _)) => {
                if let Some(news) = self.bench.take(reading, Instant::now()) {
                    self.news(news);
                }
            }
            FromWorks::Loop(Ok(found)) => {
                for line in words::delay(found.delay_ms, found.uncertainty, found.clearness_db) {
                    self.say.say(Word::Delay, line);
                }
                if let Some(trim) = self.works.found(&found) {
                    self.say.say(Word::Delay, BOTH_ENDS);
                    let hint = if trim == Trim::NONE {
                        "type trim off to forget this output's trim, which is what is out"
                            .to_owned()
                    } else {
                        let ms = trims::shown_ms(trim.later_ms());
                        format!("type trim keep to keep {ms} ms as this output's trim")
                    };
                    self.say.say(Word::Hint, hint);
                }
            }
            FromWorks::Loop(Err(why)) | FromWorks::ListensAgain(Err(why)) => {
                self.say.error(None, why);
            }
            FromWorks::ListensAgain(Ok(())) => {}
        }
    }

    fn listened(&mut self, listened: &Listened) {
        let before = std::mem::discriminant(&self.microphone.state);
        if matches!(listened, Listened::Note(HeardNote::Pluck { .. }))
            && self.bench.is_deaf(Instant::now())
        {
            return;
        }
        self.microphone.take(listened);
        match listened {
            Listened::Room { .. } => {
                let room = self.microphone.room.clone().unwrap_or_default();
                self.say.say(Word::Microphone, format!("room: {room}"));
            }
            Listened::Started { .. } | Listened::Trouble { .. } => {
                self.say.say(Word::Microphone, self.microphone.words());
            }
            Listened::Calibrating { .. }
                if before != std::mem::discriminant(&MicrophoneState::Measuring(0.0)) =>
            {
                self.say.say(Word::Microphone, self.microphone.words());
            }
            Listened::Note(HeardNote::Pluck { pitch, .. }) => {
                let note = pitch.ascii_name(self.spelling);
                self.say.say(Word::Plucked, format!("{note} heard"));
            }
            _ => {}
        }
    }

    fn news(&mut self, news: BenchNews) {
        match news {
            BenchNews::Read { cents, .. } if self.bench.meter => self.say_read(cents),
            BenchNews::Read { string, .. } => self.say.say(
                Word::Hint,
                format!("string {string} is read: type check to hear how near it is"),
            ),
            BenchNews::Other { string } => self.say.say(
                Word::Hint,
                format!("that sounds like string {string}: type string {string} to tune it"),
            ),
            BenchNews::Moved { .. } => self.say_string(&self.bench.chosen().clone()),
        }
    }

    fn say_read(&mut self, cents: f64) {
        let number = self.bench.chosen().number;
        let far = words::how_far(cents);
        self.say.say(Word::String, format!("{number}: {far}"));
        if let Some(danger) = words::danger(cents) {
            self.say.say(Word::Caution, danger);
        }
    }

    fn say_string(&mut self, string: &BenchString) {
        let chosen = if string.number == self.bench.chosen().number {
            ", chosen"
        } else {
            ""
        };
        let note = string.pitch.ascii_name(self.spelling);
        let state = words::state(string, self.bench.meter);
        self.say.say(
            Word::String,
            format!("{} {note}{chosen}: {state}", string.number),
        );
    }
}
