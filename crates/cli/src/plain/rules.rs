//! A lesson's rules, and what changed in them, as lines.

use fifthpeg_lesson::message::Rules;

use crate::choice::Choice;
use crate::plain::say::{Say, Word};

/// Says every rule.
pub fn say_all(rules: &Rules, say: &mut Say) {
    say.say(Word::Neck, &rules.neck.name);
    say.say(Word::Reach, rules.reach.to_string());
    say.say(Word::Marking, rules.marking.word());
    say.say(Word::Sounding, rules.sounding.word());
    say.say(Word::Telling, rules.telling.word());
    say.say(Word::Voice, rules.voice.word());
    if rules.sing_first {
        say_sing_first(rules, say);
    }
}

/// Says whether singing is invited.
pub fn say_sing_first(rules: &Rules, say: &mut Say) {
    say.say(Word::SingFirst, if rules.sing_first { "on" } else { "off" });
}

/// Says the rules that differ.
pub fn say_changes(old: &Rules, new: &Rules, say: &mut Say) {
    if old.reach != new.reach {
        say.say(Word::Reach, new.reach.to_string());
    }
    if old.marking != new.marking {
        say.say(Word::Marking, new.marking.word());
    }
    if old.sounding != new.sounding {
        say.say(Word::Sounding, new.sounding.word());
    }
    if old.telling != new.telling {
        say.say(Word::Telling, new.telling.word());
    }
    if old.voice != new.voice {
        say.say(Word::Voice, new.voice.word());
    }
    if old.sing_first != new.sing_first {
        say_sing_first(new, say);
    }
}
