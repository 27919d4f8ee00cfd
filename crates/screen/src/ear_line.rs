//! The line on the microphone, on both screens: whether it listens, how loud it
//! is, and what it heard.

use fifthpeg_lesson::words::as_sentence;
use fifthpeg_student::ear::{EarState, EarStatus};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

use super::parts::{self, Message};
use super::theme::{Signs, Theme, Tint};

/// Parts of a level on the screen.
const PARTS: usize = 8;
/// The level at which the first part lights, in dB of full scale; the last one
/// lights at nought, where a microphone clips.
const QUIETEST_DB: f64 = -56.0;

/// What the line says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EarLine {
    /// Whether it listens, in a few words.
    pub state: String,
    /// The same in fewer, where there is no room.
    pub short: &'static str,
    /// Lit parts of the level, if there is one to show.
    pub lit: Option<usize>,
    /// What was heard.
    pub heard: Option<(String, Tint)>,
    /// How much the state matters.
    pub tint: Tint,
}

impl EarLine {
    /// The line for this microphone, which is put off with this key. `muted`
    /// while own tones sound from speakers.
    pub fn new(ear: &EarStatus, muted: bool, heard: Option<(String, Tint)>) -> Self {
        let said = |state: &str, short, tint| Self {
            state: format!("Microphone: {state}"),
            short,
            lit: None,
            heard: None,
            tint,
        };
        match &ear.state {
            EarState::Off => said("off (i turns it on)", "Mic off", Tint::Faint),
            EarState::Waiting => said("on, once the lesson is joined", "Mic waits", Tint::Plain),
            EarState::Opening => said("being opened", "Mic opens", Tint::Plain),
            EarState::Lost(why) => said(why, "Mic trouble", Tint::Caution),
            EarState::Calibrating(done) => Self {
                lit: Some((done.clamp(0.0, 1.0) * PARTS as f64).round() as usize),
                ..said("measuring the room: quiet, please", "Quiet", Tint::Strong)
            },
            EarState::Listening if muted => Self {
                heard,
                ..said("not listening, the tone sounds", "Mic waits", Tint::Plain)
            },
            EarState::Listening => Self {
                lit: ear.level_db.map(lit_parts),
                heard,
                ..said("listening", "Mic on", Tint::Strong)
            },
        }
    }

    /// Draws it.
    pub fn draw(&self, area: Rect, theme: Theme, buf: &mut Buffer) {
        if area.height == 0 {
            return;
        }
        let (right, right_tint) = self.heard.clone().unwrap_or((String::new(), Tint::Plain));
        let right = theme.text(&right);
        let right_width = Span::raw(&right).width();
        let room = usize::from(area.width).saturating_sub(right_width + 2);
        let level = self.lit.map_or_else(String::new, |lit| {
            let signs = theme.signs();
            let dark = PARTS.saturating_sub(lit);
            format!(" {}{}", signs.lit.repeat(lit), signs.dark.repeat(dark))
        });
        // What was heard matters more than the level, and that more than
        // words: on or off shows in any case.
        let fits = |text: &str| Span::raw(text).width() <= room;
        let text = [
            format!("{}{level}", self.state),
            format!("{}{level}", self.short),
            self.short.to_owned(),
        ]
        .into_iter()
        .find(|text| fits(text))
        .unwrap_or_else(|| {
            if right_width == 0 {
                self.state.clone()
            } else {
                self.short.to_owned()
            }
        });
        let left = Span::styled(theme.text(&text), theme.style(self.tint));
        if right_width == 0 {
            buf.set_line(area.x, area.y, &Line::from(left), area.width);
        } else {
            let right = Span::styled(right, theme.style(right_tint));
            parts::ends(left, right, area, buf);
        }
    }
}

/// What is worth telling of a change at the microphone: trouble, and what the
/// room is like.
pub fn ear_news(before: Option<&EarStatus>, now: &EarStatus) -> Option<Message> {
    let old_state = before.map(|before| &before.state);
    if let EarState::Lost(why) = &now.state
        && old_state != Some(&now.state)
    {
        return Some(Message::trouble(as_sentence(why)));
    }
    let room = now.room.as_ref()?;
    let told = before.and_then(|before| before.room.as_ref());
    if told.is_some_and(|told| told.number == room.number) {
        return None;
    }
    Some(match &room.trouble {
        Some(trouble) => Message::trouble(as_sentence(trouble)),
        None => Message::news(format!(
            "The room is measured: its noise is {:.0} dB below the loudest.",
            -room.noise_db
        )),
    })
}

/// A level, part by part.
pub fn level_parts(level_db: f64, signs: &Signs) -> String {
    let lit = lit_parts(level_db);
    format!(
        "{}{}",
        signs.lit.repeat(lit),
        signs.dark.repeat(PARTS - lit)
    )
}

/// How many parts of the level are lit.
fn lit_parts(level_db: f64) -> usize {
    let step = -QUIETEST_DB / (PARTS - 1) as f64;
    let parts = ((level_db - QUIETEST_DB) / step).floor() + 1.0;
    (parts.max(0.0) as usize).min(PARTS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options::ScreenOptions;
    use crate::tests::room::lines;

    fn drawn(line: &EarLine, width: u16) -> String {
        let area = Rect::new(0, 0, width, 1);
        let mut buf = Buffer::empty(area);
        line.draw(area, Theme::new(&ScreenOptions::default()), &mut buf);
        lines(&buf).remove(0)
    }

    fn listening(level_db: f64) -> EarStatus {
        EarStatus {
            state: EarState::Listening,
            level_db: Some(level_db),
            ..EarStatus::new(true)
        }
    }

    #[test]
    fn the_level_lights_from_quiet_to_clipping() {
        assert_eq!(lit_parts(-90.0), 0);
        assert_eq!(lit_parts(-56.0), 1);
        assert_eq!(lit_parts(-20.0), 5);
        assert_eq!(lit_parts(0.0), PARTS);
        assert_eq!(lit_parts(6.0), PARTS);
        assert_eq!(lit_parts(f64::NEG_INFINITY), 0);
    }

    #[test]
    fn on_or_off_shows_however_narrow_the_screen() {
        let heard = ("Heard F♯4 once: pluck it again to answer", Tint::Strong);
        let heard = Some((heard.0.to_owned(), heard.1));
        let line = EarLine::new(&listening(-20.0), false, heard);
        assert_eq!(
            drawn(&line, 80),
            "Microphone: listening ■■■■■···          Heard F♯4 once: pluck it again to answer"
        );
        assert_eq!(
            drawn(&line, 60),
            "Mic on ■■■■■···     Heard F♯4 once: pluck it again to answer"
        );
        assert_eq!(
            drawn(&line, 50),
            "Mic on    Heard F♯4 once: pluck it again to answer"
        );
        let off = EarLine::new(&EarStatus::new(false), false, None);
        assert_eq!(drawn(&off, 60), "Microphone: off (i turns it on)");
        let muted = EarLine::new(&listening(-20.0), true, None);
        assert_eq!(
            drawn(&muted, 60),
            "Microphone: not listening, the tone sounds"
        );
    }
}
