//! How a phone gets in, over the host's screen: address, words and a QR code.

use fifthpeg_front::qr;
use fifthpeg_host::Invite;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::{Color, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Clear, Paragraph, Wrap};

use crate::theme::Theme;
use crate::words;

/// The line that says how to join, so that no address is cut: in fewer words, or
/// with fewer addresses.
pub(crate) fn line(said: &str, columns: usize) -> String {
    if Span::raw(said).width() <= columns {
        return said.to_owned();
    }
    let said = said.replacen("or by address: ", "or ", 1);
    words::within(&said, columns).to_owned()
}

/// What is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Joining {
    words: Vec<String>,
    code: Vec<String>,
}

impl Joining {
    /// What a host's invitation says, with what is said of terminals.
    pub(crate) fn of(invite: &Invite, said: &str) -> Self {
        let mut words = vec![invite.address.clone()];
        if let Some(page_words) = &invite.words {
            words.push("and these four words, which are only for phones:".to_owned());
            words.push(page_words.clone());
        }
        if let Some(fingerprint) = &invite.fingerprint {
            words.push(
                "To use its microphone: the browser warns first. The SHA-256 it shows must be:"
                    .to_owned(),
            );
            words.push(fingerprint.clone());
        }
        words.push(String::new());
        words.push(said.to_owned());
        words.push(String::new());
        if invite.words.is_some() {
            words.push("w: new words; the old ones will let nobody new in.".to_owned());
        }
        words.push("Any other key: back.".to_owned());
        Self {
            words,
            code: qr::half_blocks(&invite.link, false).unwrap_or_default(),
        }
    }

    /// Draws it over the whole screen; the code only where all of it has room.
    pub(crate) fn draw(&self, screen: Rect, theme: Theme, frame: &mut Frame) {
        frame.render_widget(Clear, screen);
        let wide = self.code.first().map_or(0, |row| row.chars().count());
        let wide = u16::try_from(wide).unwrap_or(u16::MAX);
        let high = u16::try_from(self.code.len()).unwrap_or(u16::MAX);
        let mut beside = screen;
        let mut first = if theme.is_ascii() {
            "With a phone, type"
        } else {
            "With a phone, type (a larger window has a code to scan)"
        };
        // Half blocks are no ASCII.
        if high <= screen.height && wide + 30 <= screen.width && !theme.is_ascii() {
            let place = Rect::new(screen.x, screen.y, wide, high);
            let rows: Vec<Line> = self
                .code
                .iter()
                .map(|row| Line::raw(row.as_str()))
                .collect();
            // Whatever the terminal's own colours are, a camera sees black on white.
            let ink = Style::new()
                .fg(Color::Rgb(255, 255, 255))
                .bg(Color::Rgb(0, 0, 0));
            frame.render_widget(Paragraph::new(rows).style(ink), place);
            first = "With a phone: scan this, or type";
            beside = Rect::new(
                screen.x + wide + 2,
                screen.y + 1,
                screen.width - wide - 3,
                screen.height - 1,
            );
        }
        let words = self.words.iter().map(String::as_str);
        let lines: Vec<Line> = core::iter::once(first)
            .chain(words)
            .map(|line| Line::raw(theme.text(line)))
            .collect();
        frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: true }), beside);
    }
}
