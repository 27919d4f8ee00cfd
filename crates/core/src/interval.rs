//! Names of intervals.

/// Names of the intervals within an octave, by semitones. Common practice, no
/// source; the tests compare them with music21.
const SIMPLE: [&str; 12] = [
    "unison",
    "minor second",
    "major second",
    "minor third",
    "major third",
    "perfect fourth",
    "tritone",
    "perfect fifth",
    "minor sixth",
    "major sixth",
    "minor seventh",
    "major seventh",
];

/// An interval by name: "minor third", "octave", "octave and a major third",
/// "two octaves".
pub fn interval_name(semitones: u32) -> String {
    let rest = SIMPLE[(semitones % 12) as usize];
    let octaves = match semitones / 12 {
        0 => return rest.to_owned(),
        1 => "octave".to_owned(),
        2 => "two octaves".to_owned(),
        3 => "three octaves".to_owned(),
        4 => "four octaves".to_owned(),
        many => format!("{many} octaves"),
    };
    if semitones.is_multiple_of(12) {
        octaves
    } else {
        format!("{octaves} and a {rest}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names() {
        assert_eq!(interval_name(0), "unison");
        assert_eq!(interval_name(3), "minor third");
        assert_eq!(interval_name(7), "perfect fifth");
        assert_eq!(interval_name(12), "octave");
        assert_eq!(interval_name(16), "octave and a major third");
        assert_eq!(interval_name(24), "two octaves");
        assert_eq!(interval_name(61), "5 octaves and a minor second");
    }
}
