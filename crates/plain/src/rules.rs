//! A lesson's rules, and what changed in them, as lines.

use fifthpeg_core::Neck;
use fifthpeg_lesson::learning::Suggestion;
use fifthpeg_lesson::learning::suggest::ReachChange;
use fifthpeg_lesson::message::Rules;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_vocab::pace::{PaceStop, Untold};
use fifthpeg_vocab::{RULES, Rule};

use crate::say::{Say, Word};

/// Says to who comes in what there is to know: the neck, the reach, and rules that
/// are not the usual ones.
pub fn say_first(rules: &Rules, say: &mut Say) {
    say.say(Word::Neck, &rules.neck.name);
    say.say(Word::Reach, rules.reach.to_string());
    if let Ok(neck) = Neck::build(rules.neck.clone()) {
        let usual = Rules {
            reach: rules.reach.clone(),
            ..Rules::new("", &neck)
        };
        say_changes(&usual, rules, say);
    }
}

/// Says every rule that students are told of.
pub fn say_all(rules: &Rules, say: &mut Say) {
    say.say(Word::Neck, &rules.neck.name);
    say.say(Word::Reach, rules.reach.to_string());
    for rule in RULES.iter().filter(|rule| rule.told) {
        match rule.chosen(rules, Untold::default()) {
            // An invitation that nobody made is not told of.
            Some(choice) if choice.word != "off" => say.say(Word::Rule(rule.word), choice.word),
            _ => {}
        }
    }
}

/// Says one rule, and what it means.
pub fn say_rule(rule: &'static Rule, view: &LessonView, say: &mut Say) {
    if let Some(choice) = rule.chosen(&view.rules, view.untold) {
        let said = format!("{}: {}", choice.word, choice.meaning);
        say.say(Word::Rule(rule.word), said);
    }
}

/// Says the rules that students are not told of, where they are not the usual.
pub fn say_untold(view: &LessonView, say: &mut Say) {
    for rule in RULES.iter().filter(|rule| !rule.told) {
        let now = rule.chosen(&view.rules, view.untold);
        if now != rule.chosen(&view.rules, Untold::default()) {
            say_rule(rule, view, say);
        }
    }
}

/// What to do with the reach, and the command that does it.
pub fn suggested(suggestion: &Suggestion) -> String {
    match suggestion.step() {
        Some(step) => format!("{suggestion} reach {} takes it.", step.word()),
        None => suggestion.to_string(),
    }
}

/// Says what is suggested for the reach, once, as it comes up between calls.
#[derive(Debug, Default)]
pub struct Suggestions {
    said: Option<ReachChange>,
}

impl Suggestions {
    /// Takes what is suggested now.
    pub fn say(&mut self, now: Option<&Suggestion>, say: &mut Say) {
        let Some(now) = now else { return };
        let change = now.is_change().then_some(now.change);
        if change.is_some() && change != self.said {
            say.say(Word::Suggest, suggested(now));
        }
        self.said = change;
    }
}

/// Says why the lesson no longer goes on by itself, once.
#[derive(Debug, Default)]
pub struct PaceTold {
    said: Option<PaceStop>,
}

impl PaceTold {
    /// Takes how it stands now.
    pub fn say(&mut self, now: Option<PaceStop>, say: &mut Say) {
        if let Some(why) = now.filter(|why| self.said != Some(*why)) {
            say.say(Word::Rule("pace"), why.to_string());
        }
        self.said = now;
    }
}

/// Says the rules that differ.
pub fn say_changes(old: &Rules, new: &Rules, say: &mut Say) {
    if old.reach != new.reach {
        say.say(Word::Reach, new.reach.to_string());
    }
    for rule in RULES {
        let [before, now] = [old, new].map(|rules| rule.chosen(rules, Untold::default()));
        if let Some(now) = now.filter(|now| before.as_ref() != Some(now)) {
            say.say(Word::Rule(rule.word), now.word);
        }
    }
}

#[cfg(test)]
mod tests {
    use fifthpeg_core::ReachStep;
    use fifthpeg_lesson::learning::suggest::Reason;

    use super::*;
    use crate::say::tests::Kept;

    fn suggestion(change: ReachChange, reason: Reason, found: u32) -> Suggestion {
        Suggestion {
            change,
            reason,
            found,
            of: 20,
            first_hearing: found,
            expected: 0.9,
        }
    }

    #[test]
    fn a_suggestion_is_said_once_with_the_command_that_takes_it() {
        let kept = Kept::default();
        let mut say = Say::to(Box::new(kept.clone()));
        let mut suggestions = Suggestions::default();
        let wider = ReachChange::Widen(Some(ReachStep::AllOpen));
        let easy = |found| suggestion(wider, Reason::Easy, found);
        suggestions.say(
            Some(&suggestion(ReachChange::Stay, Reason::Fitting, 17)),
            &mut say,
        );
        suggestions.say(Some(&easy(19)), &mut say);
        // While a call is open there is none; the same again is no news.
        suggestions.say(None, &mut say);
        suggestions.say(Some(&easy(20)), &mut say);
        let told = "suggest Found 19 of the last 20 in this reach, most at first hearing: \
                    try all strings open. reach open takes it.\n";
        assert_eq!(kept.text(), told);
        suggestions.say(
            Some(&suggestion(ReachChange::Stay, Reason::Fitting, 17)),
            &mut say,
        );
        suggestions.say(Some(&easy(19)), &mut say);
        assert_eq!(kept.text(), told.repeat(2));
    }

    #[test]
    fn the_command_named_is_read_as_that_reach() {
        for step in ReachStep::all() {
            let narrower = suggestion(ReachChange::Narrow(Some(step)), Reason::Hard, 5);
            let said = suggested(&narrower);
            let (_, command) = said.rsplit_once(". ").expect("a sentence and a command");
            let command = command.strip_suffix(" takes it.").expect("a command");
            let read = crate::table::read_line(crate::host_lines::host_commands(), command);
            let wanted =
                crate::host_lines::HostLine::Set(fifthpeg_vocab::Setting::Reach(step.into()));
            assert_eq!(read, Ok(Some(wanted)));
        }
    }
}
