//! The lesson knows no synthesiser: how long it takes a tone to sound where no
//! output tells it must be how long the tones really are.

use fifthpeg_lesson::message::Voice;
use fifthpeg_lesson::terminal::{LONGEST_DEAF, longest_tone};
use fifthpeg_sound::tone_length;

#[test]
fn the_lesson_takes_every_voice_to_last_as_long_as_it_does() {
    let voices = [
        (Voice::Banjo, fifthpeg_sound::Voice::Banjo),
        (Voice::Guitar, fifthpeg_sound::Voice::Guitar),
        (Voice::Plain, fifthpeg_sound::Voice::Plain),
    ];
    assert_eq!(voices.len(), fifthpeg_sound::Voice::ALL.len());
    for (lesson, sound) in voices {
        assert_eq!(longest_tone(lesson), tone_length(sound), "{sound}");
        assert!(tone_length(sound) <= LONGEST_DEAF, "{sound}");
    }
}
