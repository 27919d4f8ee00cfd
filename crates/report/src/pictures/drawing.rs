//! Strokes that all pictures are drawn with.

use std::fmt::Write;

use fifthpeg_core::svg::escaped;

/// Writing to a string cannot fail.
macro_rules! add {
    ($svg:expr, $($what:tt)*) => {{ let _ = write!($svg, $($what)*); }};
}

/// How much room a picture has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Width {
    /// A page, on a screen or printed.
    Page,
    /// A telephone held upright.
    Phone,
}

impl Width {
    /// In user units, which are about pixels.
    pub(super) fn width(self) -> f64 {
        match self {
            Width::Page => 640.0,
            Width::Phone => 340.0,
        }
    }

    pub(super) fn is_phone(self) -> bool {
        self == Width::Phone
    }
}

pub(super) fn open(room: Width, height: f64, equivalent: &str) -> String {
    format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {:.0} {height:.0}" role="img" aria-label="{}" font-family="sans-serif" font-size="13">"#,
        room.width(),
        escaped(equivalent)
    )
}

pub(super) fn text(svg: &mut String, (x, y): (f64, f64), anchor: &str, words: &str) {
    add!(
        svg,
        r##"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}" stroke="#fff" stroke-width="4" paint-order="stroke">{}</text>"##,
        escaped(words)
    );
}

pub(super) fn line(svg: &mut String, from: (f64, f64), to: (f64, f64), manner: &str) {
    add!(
        svg,
        r#"<path d="M{:.1} {:.1}L{:.1} {:.1}" fill="none" {manner}/>"#,
        from.0,
        from.1,
        to.0,
        to.1
    );
}

pub(super) const INK: &str = r##"stroke="#000" stroke-width="1.5""##;
pub(super) const THICK: &str = r##"stroke="#000" stroke-width="4""##;
pub(super) const FAINT: &str = r##"stroke="#bbb" stroke-width="1""##;
pub(super) const DASHED: &str = r##"stroke="#000" stroke-width="1.5" stroke-dasharray="6 4""##;

pub(super) fn circle(svg: &mut String, (x, y): (f64, f64)) {
    add!(
        svg,
        r##"<circle cx="{x:.1}" cy="{y:.1}" r="4.5" fill="#000"/>"##
    );
}

pub(super) fn square(svg: &mut String, (x, y): (f64, f64)) {
    add!(
        svg,
        r##"<rect x="{:.1}" y="{:.1}" width="9" height="9" fill="#fff" stroke="#000" stroke-width="1.5"/>"##,
        x - 4.5,
        y - 4.5
    );
}
