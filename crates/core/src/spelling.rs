//! Writing pitches: sharps or flats, with signs or in plain letters.

use crate::{Pitch, PitchClass, Scale};

/// Whether the five notes between the naturals are written as sharps or as
/// flats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Spelling {
    /// C♯, D♯, F♯, G♯, A♯.
    #[default]
    Sharps,
    /// D♭, E♭, G♭, A♭, B♭.
    Flats,
}

impl Spelling {
    /// Flats, or else sharps.
    pub fn of(flats: bool) -> Self {
        if flats { Self::Flats } else { Self::Sharps }
    }

    /// What a key is usually written with: flats where its key signature has
    /// flats (up to five), sharps otherwise. Modes and chords take the
    /// signature of the major scale that their notes come from. Common
    /// practice, no source; the tests compare major and minor keys with
    /// music21.
    pub fn for_key(root: PitchClass, scale: Scale) -> Spelling {
        // The major scale on D♭, E♭, F, A♭ or B♭ has flats.
        match root.raised(scale.parent_major_semitones()).number() {
            1 | 3 | 5 | 8 | 10 => Spelling::Flats,
            _ => Spelling::Sharps,
        }
    }

    /// The letter of a class and its semitones above the natural (1, 0, -1).
    const fn letter(self, class: PitchClass) -> (char, i8) {
        let number = class.number();
        match number {
            0 => return ('C', 0),
            2 => return ('D', 0),
            4 => return ('E', 0),
            5 => return ('F', 0),
            7 => return ('G', 0),
            9 => return ('A', 0),
            11 => return ('B', 0),
            _ => {}
        }
        match (self, number) {
            (Spelling::Sharps, 1) => ('C', 1),
            (Spelling::Sharps, 3) => ('D', 1),
            (Spelling::Sharps, 6) => ('F', 1),
            (Spelling::Sharps, 8) => ('G', 1),
            (Spelling::Sharps, _) => ('A', 1),
            (Spelling::Flats, 1) => ('D', -1),
            (Spelling::Flats, 3) => ('E', -1),
            (Spelling::Flats, 6) => ('G', -1),
            (Spelling::Flats, 8) => ('A', -1),
            (Spelling::Flats, _) => ('B', -1),
        }
    }

    fn write(self, class: PitchClass, sharp: char, flat: char) -> String {
        let (letter, accidental) = self.letter(class);
        let mut text = String::from(letter);
        match accidental {
            1 => text.push(sharp),
            -1 => text.push(flat),
            _ => {}
        }
        text
    }
}

impl PitchClass {
    /// The name with musical signs, such as `F♯`.
    pub fn name(self, spelling: Spelling) -> String {
        spelling.write(self, '♯', '♭')
    }

    /// The name in plain letters, such as `F#` or `Gb`.
    pub fn ascii_name(self, spelling: Spelling) -> String {
        spelling.write(self, '#', 'b')
    }
}

impl Pitch {
    /// The name in scientific pitch notation with musical signs, such as `F♯4`.
    pub fn name(self, spelling: Spelling) -> String {
        format!("{}{}", self.class().name(spelling), self.octave())
    }

    /// The name in scientific pitch notation in plain letters, such as `F#4`.
    pub fn ascii_name(self, spelling: Spelling) -> String {
        format!("{}{}", self.class().ascii_name(spelling), self.octave())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_spellings() {
        let f_sharp = Pitch::new(66).unwrap();
        assert_eq!(f_sharp.name(Spelling::Sharps), "F♯4");
        assert_eq!(f_sharp.name(Spelling::Flats), "G♭4");
        assert_eq!(f_sharp.ascii_name(Spelling::Sharps), "F#4");
        assert_eq!(f_sharp.ascii_name(Spelling::Flats), "Gb4");
        assert_eq!(Pitch::new(0).unwrap().name(Spelling::Sharps), "C-1");
    }

    #[test]
    fn keys_choose() {
        let class = |n| PitchClass::new(n).unwrap();
        // G major has F♯; F major B♭; G minor B♭ and E♭; E minor F♯.
        assert_eq!(Spelling::for_key(class(7), Scale::Major), Spelling::Sharps);
        assert_eq!(Spelling::for_key(class(5), Scale::Major), Spelling::Flats);
        assert_eq!(Spelling::for_key(class(7), Scale::Minor), Spelling::Flats);
        assert_eq!(Spelling::for_key(class(4), Scale::Minor), Spelling::Sharps);
        // C7 holds B♭.
        assert_eq!(
            Spelling::for_key(class(0), Scale::SeventhChord),
            Spelling::Flats
        );
    }
}
