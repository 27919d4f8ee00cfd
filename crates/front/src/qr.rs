//! A link as a QR code (ISO/IEC 18004) in half-block characters.

use qrcode::{Color, EcLevel, QrCode};

/// Light modules around the code, as the standard wants them.
const QUIET: usize = 4;

/// The code in rows of half blocks, two modules to a row, the light ones printed:
/// for light signs on a dark ground, or `on_light` the other way round. `None` if
/// the link is too long for any code.
pub fn half_blocks(link: &str, on_light: bool) -> Option<Vec<String>> {
    let code = QrCode::with_error_correction_level(link, EcLevel::L).ok()?;
    let width = code.width();
    let all = width + 2 * QUIET;
    let inside = QUIET..QUIET + width;
    let prints = |x: usize, y: usize| {
        let dark = inside.contains(&x)
            && inside.contains(&y)
            && code[(x - QUIET, y - QUIET)] == Color::Dark;
        dark == on_light
    };
    let row = |top: usize| -> String {
        let sign = |x| match (prints(x, top), top + 1 < all && prints(x, top + 1)) {
            (true, true) => '█',
            (true, false) => '▀',
            (false, true) => '▄',
            (false, false) => ' ',
        };
        (0..all).map(sign).collect()
    };
    Some((0..all).step_by(2).map(row).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINK: &str = "http://192.168.100.200:47500/#strawberry-lightning-parachute-telescope";

    #[test]
    fn the_longest_usual_link_fits_beside_words_on_a_small_screen() {
        let rows = half_blocks(LINK, false).unwrap();
        assert!(rows.len() <= 21, "{}", rows.len());
        assert!(rows.iter().all(|row| row.chars().count() == 41));
        // Its quiet zone is there, and it is no empty frame.
        assert!(rows[0].chars().all(|sign| sign == '█'));
        assert!(rows[10].contains(' '));
    }

    #[test]
    fn on_light_it_is_the_same_the_other_way_round() {
        let (dark, light) = (
            half_blocks(LINK, false).unwrap(),
            half_blocks(LINK, true).unwrap(),
        );
        let turned = |sign| match sign {
            '█' => ' ',
            ' ' => '█',
            '▀' => '▄',
            _ => '▀',
        };
        // But for the last row, whose lower half is nothing.
        for (dark, light) in dark.iter().zip(&light).take(dark.len() - 1) {
            assert_eq!(dark.chars().map(turned).collect::<String>(), *light);
        }
        assert!(half_blocks(&"x".repeat(5000), false).is_none());
    }
}
