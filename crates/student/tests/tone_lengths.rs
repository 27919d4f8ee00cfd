//! The lesson knows no synthesiser: how long it takes a tone to sound where no
//! output tells it must be how long the tones really are.

use fifthpeg_lesson::terminal::{LONGEST_MUTE, longest_tone};
use fifthpeg_sound::tone_length;
use fifthpeg_vocab::{Choice, Voice};

#[test]
fn the_lesson_takes_every_voice_to_last_as_long_as_it_does() {
    for row in Voice::ALL {
        let (voice, word) = (row.value, row.word);
        assert_eq!(longest_tone(voice), tone_length(voice), "{word}");
        assert!(tone_length(voice) <= LONGEST_MUTE, "{word}");
    }
}
