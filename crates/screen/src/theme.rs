//! What things look like: styles in at most sixteen colours, and the signs that
//! carry the meaning alone where there is no colour.

use ratatui::style::{Color, Modifier, Style};
use ratatui::symbols::border;
use ratatui::widgets::{Block, Borders};

use super::options::{Colour, ScreenOptions};

/// What a piece of the screen means. Every meaning also has a sign or a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tint {
    /// Ordinary text.
    Plain,
    /// A heading or what matters now.
    Strong,
    /// Of less weight.
    Faint,
    /// Right, found.
    Right,
    /// Missed.
    Missed,
    /// The target and its places.
    Target,
    /// Tried while searching.
    Tried,
    /// Something to mind.
    Caution,
    /// The cursor or the chosen line.
    Cursor,
}

/// Signs on the neck and in lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signs {
    /// A tried place, or searching.
    pub tried: &'static str,
    /// A missed answer.
    pub missed: &'static str,
    /// Found, or a place of the note.
    pub found: &'static str,
    /// The very place that was picked.
    pub picked: &'static str,
    /// Nothing yet.
    pub silent: &'static str,
    /// Connection lost.
    pub away: &'static str,
    /// The one who calls, or the chosen line.
    pub pointer: &'static str,
    /// An answer the host has not confirmed.
    pub waiting: &'static str,
    /// String inside the reach.
    pub string_inside: &'static str,
    /// String outside it.
    pub string_outside: &'static str,
    /// Fret wire, where it crosses a string.
    pub wire: &'static str,
    /// Fret wire between strings.
    pub wire_between: &'static str,
    /// Nut, capo or peg: where a string begins.
    pub nut: &'static str,
    /// Inlay on the neck.
    pub inlay: &'static str,
    /// A rule across the screen.
    pub rule: &'static str,
    /// Before an uncertainty.
    pub plus_minus: &'static str,
    /// Played on the instrument.
    pub played: &'static str,
    /// A lit part of a level.
    pub lit: &'static str,
    /// A dark part of a level.
    pub dark: &'static str,
}

const DRAWN: Signs = Signs {
    tried: "○",
    missed: "×",
    found: "●",
    picked: "◆",
    silent: "·",
    away: "-",
    pointer: "›",
    waiting: "…",
    string_inside: "━",
    string_outside: "─",
    wire: "┼",
    wire_between: "│",
    nut: "║",
    inlay: "•",
    rule: "─",
    plus_minus: "±",
    played: "♪",
    lit: "■",
    dark: "·",
};

const ASCII: Signs = Signs {
    tried: "o",
    missed: "x",
    found: "*",
    picked: "#",
    silent: ".",
    away: "-",
    pointer: ">",
    waiting: "~",
    string_inside: "=",
    string_outside: "-",
    wire: "|",
    wire_between: "|",
    nut: "H",
    inlay: ".",
    rule: "-",
    plus_minus: "+/-",
    played: "&",
    lit: "#",
    dark: ".",
};

const ASCII_BORDER: border::Set<'static> = border::Set {
    top_left: "+",
    top_right: "+",
    bottom_left: "+",
    bottom_right: "+",
    vertical_left: "|",
    vertical_right: "|",
    horizontal_top: "-",
    horizontal_bottom: "-",
};

/// Styles and signs for one screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    colour: Colour,
    ascii: bool,
}

impl Theme {
    /// The theme for these options.
    pub fn new(options: &ScreenOptions) -> Self {
        Self {
            colour: options.colour,
            ascii: options.ascii,
        }
    }

    /// The signs to draw with.
    pub fn signs(self) -> &'static Signs {
        if self.ascii { &ASCII } else { &DRAWN }
    }

    /// Whether nothing beyond ASCII may be shown.
    pub fn is_ascii(self) -> bool {
        self.ascii
    }

    /// The style for a meaning. Without colour, only bold, dim and reverse are
    /// used, and never alone.
    pub fn style(self, tint: Tint) -> Style {
        let style = Style::new();
        let style = match tint {
            Tint::Strong | Tint::Right | Tint::Target => style.add_modifier(Modifier::BOLD),
            Tint::Cursor => style.add_modifier(Modifier::BOLD | Modifier::REVERSED),
            // Not dark grey: some palettes make that the background.
            Tint::Faint => style.add_modifier(Modifier::DIM),
            _ => style,
        };
        let colour = match tint {
            Tint::Plain | Tint::Strong | Tint::Faint | Tint::Cursor => None,
            Tint::Right => Some(Color::Green),
            Tint::Missed | Tint::Caution => Some(Color::Red),
            Tint::Target => Some(Color::Cyan),
            // Blue and yellow cannot be read on every background.
            Tint::Tried => Some(Color::Magenta),
        };
        match (self.colour, colour) {
            (Colour::Full16, Some(colour)) => style.fg(colour),
            _ => style,
        }
    }

    /// A box with a title, for what lies over the screen.
    pub fn boxed(self, title: &str) -> Block<'static> {
        let block = Block::new()
            .borders(Borders::ALL)
            .title(format!(" {} ", self.text(title)))
            .title_style(self.style(Tint::Strong));
        if self.ascii {
            block.border_set(ASCII_BORDER)
        } else {
            block
        }
    }

    /// Text as this screen may show it: control signs replaced (names come from
    /// peers), and in ASCII screens anything beyond ASCII too.
    pub fn text(self, text: &str) -> String {
        text.chars()
            .map(|c| match c {
                '♯' if self.ascii => '#',
                '♭' if self.ascii => 'b',
                c if c.is_control() => '?',
                c if self.ascii && !c.is_ascii() => '?',
                c => c,
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_colour_means_no_colour() {
        let theme = Theme::new(&ScreenOptions {
            colour: Colour::None,
            ..ScreenOptions::default()
        });
        for tint in [
            Tint::Plain,
            Tint::Strong,
            Tint::Faint,
            Tint::Right,
            Tint::Missed,
            Tint::Target,
            Tint::Tried,
            Tint::Caution,
            Tint::Cursor,
        ] {
            assert_eq!(theme.style(tint).fg, None, "{tint:?}");
            assert_eq!(theme.style(tint).bg, None, "{tint:?}");
        }
    }

    #[test]
    fn text_from_peers_is_tame() {
        let theme = Theme::new(&ScreenOptions::default());
        assert_eq!(theme.text("Åse\u{1b}[2J"), "Åse?[2J");
        let ascii = Theme::new(&ScreenOptions {
            ascii: true,
            ..ScreenOptions::default()
        });
        assert_eq!(ascii.text("Åse F♯4"), "?se F#4");
    }
}
