//! Where frets lie along a string.

/// The divisor of the old rule of 18, sharpened from 18 so that the twelfth
/// fret halves the string: 1 / (1 − 2^(−1/12)) = 17.817 (luthiers' handbooks;
/// common practice, no source).
pub const RULE_OF_18_DIVISOR: f64 = 17.817;

/// How far a fret lies from the nut, as a part of the scale length: 0 at the
/// nut, 0.5 at the twelfth fret. Equal temperament: 1 − 2^(−n/12).
pub fn fret_ratio(fret: u8) -> f64 {
    1.0 - (-f64::from(fret) / 12.0).exp2()
}

/// The same in millimetres by the rule of 18: each fret is 1/17.817 of what is
/// left of the string further on. Close to [`fret_ratio`], and how necks were
/// laid out by hand.
pub fn rule_of_18_distance(scale_length_mm: f64, fret: u8) -> f64 {
    let mut left_mm = scale_length_mm;
    for _ in 0..fret {
        left_mm -= left_mm / RULE_OF_18_DIVISOR;
    }
    scale_length_mm - left_mm
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_twelfth_fret_halves_the_string() {
        assert_eq!(fret_ratio(0), 0.0);
        assert!((fret_ratio(12) - 0.5).abs() < 1e-12);
        assert!((fret_ratio(24) - 0.75).abs() < 1e-12);
    }

    #[test]
    fn the_rule_of_18_is_close() {
        for fret in 0..=24 {
            let formula = 670.0 * fret_ratio(fret);
            assert!((rule_of_18_distance(670.0, fret) - formula).abs() < 0.05);
        }
    }
}
