//! How a microphone fares, as lines: what is new since the last look. The level
//! is not said; nobody wants it read aloud ten times a second.

use fifthpeg_core::Doubt;
use fifthpeg_student::ear::{EarState, EarStatus, LastHeard};

use crate::say::{Say, Word};

/// Turns a microphone's status into lines.
#[derive(Default)]
pub struct EarReport {
    last: Option<EarStatus>,
}

impl EarReport {
    /// Says what has changed.
    pub fn status(&mut self, now: &EarStatus, say: &mut Say) {
        let before = self.last.replace(now.clone());
        let measured = before
            .as_ref()
            .is_some_and(|b| matches!(b.state, EarState::Calibrating(_)));
        let same = before.as_ref().is_some_and(|before| {
            before.device == now.device
                && (before.state == now.state
                    || measured && matches!(now.state, EarState::Calibrating(_)))
        });
        if !(same || measured && now.state == EarState::Listening) {
            match &now.state {
                EarState::Off if before.is_none() => {}
                // The device is named a moment later.
                EarState::Waiting | EarState::Opening => {}
                EarState::Listening if now.device.is_none() => {}
                _ => say.say(Word::Microphone, state(now)),
            }
        }
        if let Some(room) = &now.room
            && before
                .and_then(|before| before.room)
                .is_none_or(|told| told.number != room.number)
        {
            say.say(
                Word::Microphone,
                match &room.trouble {
                    Some(trouble) => format!("room: {trouble}"),
                    None => format!(
                        "room: measured, its noise is {:.0} dB below the loudest",
                        -room.noise_db
                    ),
                },
            );
        }
    }
}

/// Whether a microphone listens, in a few words.
pub fn state(ear: &EarStatus) -> String {
    match &ear.state {
        EarState::Off => "off".to_owned(),
        EarState::Waiting => "on, once the lesson is joined".to_owned(),
        EarState::Opening => "being opened".to_owned(),
        EarState::Calibrating(_) => "measuring the room: keep quiet".to_owned(),
        EarState::Lost(why) => format!("trouble: {why}"),
        EarState::Listening => match &ear.device {
            Some(device) => format!("listening: {device}"),
            None => "listening".to_owned(),
        },
    }
}

/// What is said of an onset that does not count; `None` for what need not be
/// said at all, such as a knock somewhere in the room.
pub fn doubt(why: Doubt) -> Option<&'static str> {
    match why {
        Doubt::SeveralNotes => Some("several strings at once, not counted"),
        Doubt::Slide => Some("the note slid, not counted"),
        Doubt::NoClearPitch => Some("no clear note, not counted"),
        Doubt::TooQuiet => Some("too soft to be yours, not counted"),
        Doubt::Unsteady => Some("the note stopped too soon, not counted"),
        _ => None,
    }
}

/// The doubt that is new since the status before, if it is worth a line. A
/// neighbour who plays on and on, too soft to count, is told of once.
pub fn new_doubt(before: Option<&EarStatus>, now: &EarStatus) -> Option<&'static str> {
    let (LastHeard::Unsure(why), at) = now.last? else {
        return None;
    };
    let told = before.and_then(|before| before.last);
    if why == Doubt::TooQuiet && matches!(told, Some((LastHeard::Unsure(Doubt::TooQuiet), _))) {
        return None;
    }
    (told != Some((LastHeard::Unsure(why), at)))
        .then(|| doubt(why))
        .flatten()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::say::tests::Kept;
    use fifthpeg_student::ear::RoomNews;

    #[test]
    fn what_changes_is_said_once_and_the_level_never() {
        let kept = Kept::default();
        let mut say = Say::to(Box::new(kept.clone()));
        let mut report = EarReport::default();
        let mut status = EarStatus::new(true);
        report.status(&status, &mut say);
        status.state = EarState::Opening;
        report.status(&status, &mut say);
        status.state = EarState::Listening;
        status.device = Some("hall".to_owned());
        report.status(&status, &mut say);
        for level in [-50.0, -20.0] {
            status.level_db = Some(level);
            report.status(&status, &mut say);
        }
        for done in [0.1, 0.6] {
            status.state = EarState::Calibrating(done);
            report.status(&status, &mut say);
        }
        status.state = EarState::Listening;
        status.room = Some(RoomNews {
            number: 1,
            noise_db: -61.6,
            trouble: None,
        });
        report.status(&status, &mut say);
        report.status(&status, &mut say);
        status.state = EarState::Lost("it was pulled out: put it back".to_owned());
        report.status(&status, &mut say);
        assert_eq!(
            kept.text(),
            "microphone listening: hall\n\
             microphone measuring the room: keep quiet\n\
             microphone room: measured, its noise is 62 dB below the loudest\n\
             microphone trouble: it was pulled out: put it back\n"
        );
    }
}
