//! The terminal of whoever plays at this machine: its sound, its instrument, and
//! the screen or the lines it shows.

use std::time::Duration;

use fifthpeg_front::failure::Failure;
use fifthpeg_lesson::terminal::HandsFree;
use fifthpeg_plain as plain;
use fifthpeg_plain::input::LineInput;
use fifthpeg_plain::say::{Say, Word};
use fifthpeg_plain::student::HostingSide;
use fifthpeg_plain::wait::Stop;
use fifthpeg_screen as screen;
use fifthpeg_screen::student::HostSide;
use fifthpeg_screen::{ScreenEnd, ScreenOptions};
use fifthpeg_student::{Status, Student, StudentConfig, Target};

use crate::args::manner::Looks;
use crate::ear_options::EarOptions;
use crate::opening;

/// How a terminal of this machine sounds, listens and is shown.
pub struct OwnStudent<'a> {
    manner: &'a Looks,
    hands_free: HandsFree,
    listens: bool,
    silence: Option<&'static str>,
}

impl<'a> OwnStudent<'a> {
    /// Opens its sound, which is told of if it is not as it should be, or if that is
    /// `always` wanted; with it, what to start the terminal with.
    ///
    /// # Errors
    /// When sound cannot be opened.
    pub fn open(
        (manner, ear): (&'a Looks, &EarOptions),
        (name, target): (String, Target),
        always: bool,
        say: &mut Say,
    ) -> Result<(Self, StudentConfig), Failure> {
        let sound = opening::sound(manner)?;
        if always || sound.silence.is_some() || sound.trim.is_some() {
            say.say(Word::Sound, &sound.words);
        }
        let microphone = ear.choice()?;
        let hands_free = ear.hands_free();
        let own = Self {
            manner,
            hands_free,
            listens: !microphone.is_none(),
            silence: sound.silence,
        };
        let config = StudentConfig {
            level: sound.level,
            microphone,
            hands_free,
            ..StudentConfig::new(name, target, sound.output)
        };
        Ok((own, config))
    }

    /// Shows the terminal until it is left, in lines where there is an `input`; the
    /// name of somebody else at this machine who comes in next. Who hosts has that
    /// `side` as well, and one line that says how to join.
    ///
    /// # Errors
    /// When the lesson was never joined, or the screen cannot be used.
    pub async fn show(
        &self,
        student: &Student,
        side: Option<(HostingSide<'_>, String)>,
        patience: Duration,
        input: Option<&mut LineInput>,
        say: &mut Say,
        stop: &mut Stop,
    ) -> Result<Option<String>, Failure> {
        if let Some(input) = input {
            let manner = (self.hands_free.times, patience);
            let side = side.map(|(side, _)| side);
            return plain::student::run(student, side, manner, input, say, stop).await;
        }
        let options = ScreenOptions {
            silence: self.silence,
            ..opening::screen_options(self.manner, false)
        };
        let side = side.map(|(HostingSide { host, pace }, joining)| HostSide {
            host,
            joining,
            pace,
        });
        let plays = self.listens.then_some(self.hands_free);
        let end = screen::student::run(student, options, plays, side)
            .await
            .map_err(Failure::runtime)?;
        if let ScreenEnd::SomebodyElse(name) = end {
            return Ok(Some(name));
        }
        // What kept the student out shows on the screen; it is said once more
        // where it stays.
        match &*student.status().borrow() {
            status @ (Status::TooOld { .. } | Status::Refused(_) | Status::OpenInstead) => {
                Err(Failure::runtime(status.to_string()))
            }
            _ => Ok(None),
        }
    }
}
