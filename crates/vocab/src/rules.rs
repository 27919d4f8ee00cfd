//! The rules of a lesson that its host may change: one table, one row for each.
//! Commands, menus, keys, head lines and what the lesson book keeps are made
//! from it.

mod table;

use std::borrow::Cow;

use fifthpeg_core::bounded::Shown;
use fifthpeg_core::{Neck, NeckDescription, Reach, ReachSpec, ReachStep, Reference, Spelling};
use serde::{Deserialize, Serialize};

use crate::choices::{Marking, Mode, Picking, Sounding, Telling, Voice};
use crate::pace::{self, Pace, Untold};
use crate::written::{A4Hz, Name, Ranged};

pub use table::RULES;

/// What everyone should know of a lesson's rules; sent when joining and
/// whenever one of them changes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    /// The lesson's name, as announced.
    #[serde(with = "Shown::<Name>")]
    pub lesson: String,
    /// Class or friends.
    pub mode: Mode,
    /// The neck in everyone's hands.
    #[serde(with = "crate::written::neck")]
    pub neck: NeckDescription,
    /// Where calls are picked from.
    #[serde(with = "crate::written::reach")]
    pub reach: ReachSpec,
    /// What counts as right.
    pub marking: Marking,
    /// How much a miss says before the reveal.
    pub telling: Telling,
    /// Who sounds a call.
    pub sounding: Sounding,
    /// The voice of calls and tries.
    pub voice: Voice,
    /// Frequency of A4, in hertz.
    #[serde(with = "Ranged::<A4Hz>")]
    pub a4_hz: f64,
    /// Write accidentals as flats.
    pub flats: bool,
    /// Students are invited to sing a note before they search for it. An
    /// invitation: nothing waits for it.
    pub sing_first: bool,
    /// The note is shown as soon as everybody here has found it. Among friends
    /// it always is.
    pub show_found: bool,
    /// Pages in a browser use no microphone.
    pub taps_only: bool,
    /// The page for a projector shows names.
    pub hall_names: bool,
}

impl Rules {
    /// How notes are written.
    pub fn spelling(&self) -> Spelling {
        Spelling::of(self.flats)
    }

    /// The gentlest: the narrowest ready reach, any place of the pitch is right,
    /// hints are told, every terminal sounds the call.
    pub fn new(lesson: impl Into<String>, neck: &Neck) -> Self {
        Self {
            lesson: lesson.into(),
            mode: Mode::Class,
            neck: neck.description().clone(),
            reach: first_reach(neck),
            marking: Marking::SamePitch,
            telling: Telling::Hint,
            sounding: Sounding::EveryTerminal,
            voice: Voice::Banjo,
            a4_hz: Reference::default().a4_hz(),
            flats: Spelling::default() == Spelling::Flats,
            sing_first: false,
            show_found: false,
            taps_only: false,
            hall_names: false,
        }
    }
}

/// The narrowest ready reach that this neck has, or the whole neck.
fn first_reach(neck: &Neck) -> ReachSpec {
    ReachStep::all()
        .into_iter()
        .map(ReachSpec::from)
        .find(|spec| Reach::resolve(neck, spec).is_ok())
        .unwrap_or_default()
}

/// A rule that lessons in earlier books did not have.
#[derive(Debug)]
pub struct Later {
    /// As it is written.
    pub rule: &'static str,
    /// What a lesson without it meant, as JSON.
    pub meant: &'static str,
    /// Whether what it meant is written out. A newer rule leaves no trace where it
    /// means that: lessons held before it are still known again by what was written.
    pub written: bool,
}

/// All of them.
pub const LATER: &[Later] = &[
    Later {
        rule: "sing_first",
        meant: "false",
        written: true,
    },
    Later {
        rule: "show_found",
        meant: "false",
        written: false,
    },
    Later {
        rule: "hall_names",
        meant: "false",
        written: false,
    },
    Later {
        rule: "taps_only",
        meant: "false",
        written: false,
    },
];

/// A rule as the host sets it. The names are those that the lesson book keeps
/// orders by, and never change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Setting {
    /// Pick later calls from another part of the neck. An open call stays.
    #[serde(rename = "set-reach")]
    Reach(ReachSpec),
    /// What counts as right.
    #[serde(rename = "set-marking")]
    Marking(Marking),
    /// Who sounds the calls.
    #[serde(rename = "set-sounding")]
    Sounding(Sounding),
    /// How much a miss says, from the next answer on.
    #[serde(rename = "set-telling")]
    Telling(Telling),
    /// The voice, from the next call on.
    #[serde(rename = "set-voice")]
    Voice(Voice),
    /// How notes are picked, from the next call on. Students are not told.
    #[serde(rename = "set-picking")]
    Picking(Picking),
    /// Whether students are invited to sing each note first.
    #[serde(rename = "set-sing-first")]
    SingFirst(bool),
    /// Whether the note is shown as soon as everybody here has found it.
    #[serde(rename = "set-show-found")]
    ShowFound(bool),
    /// Whether pages in a browser use no microphone.
    #[serde(rename = "set-taps-only")]
    TapsOnly(bool),
    /// Whether the page for a projector shows names.
    #[serde(rename = "set-hall-names")]
    HallNames(bool),
    /// How the lesson goes on by itself, if it does. Students are not told.
    #[serde(rename = "set-pace")]
    Pace(Option<Pace>),
}

impl Setting {
    /// Sets it.
    pub fn put(self, rules: &mut Rules, untold: &mut Untold) {
        match self {
            Setting::Reach(reach) => rules.reach = reach,
            Setting::Marking(marking) => rules.marking = marking,
            Setting::Sounding(sounding) => rules.sounding = sounding,
            Setting::Telling(telling) => rules.telling = telling,
            Setting::Voice(voice) => rules.voice = voice,
            Setting::Picking(how) => untold.picking = how,
            Setting::SingFirst(invited) => rules.sing_first = invited,
            Setting::ShowFound(shown) => rules.show_found = shown,
            Setting::TapsOnly(taps) => rules.taps_only = taps,
            Setting::HallNames(shown) => rules.hall_names = shown,
            Setting::Pace(pace) => untold.pace = pace,
        }
    }
}

/// When a rule may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChangeTime {
    /// Also while a note is called.
    AnyTime,
    /// Only while no answers are taken.
    BetweenCalls,
}

/// Who may change a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChangedBy {
    /// The host of any lesson.
    Host,
    /// The host of a lesson with others in it; alone it means nothing.
    HostOfOthers,
    /// The host of a class: friends call in turn.
    HostOfClass,
}

/// One rule of a lesson but for the reach, which has no list of choices.
#[derive(Debug)]
pub struct Rule {
    /// The word of its command and its option: "telling".
    pub word: &'static str,
    /// The key of the host's screen.
    pub key: char,
    /// What a key or command changes: "how much a miss says".
    pub what: &'static str,
    /// Over the list of its choices.
    pub title: &'static str,
    /// Before what it is now, in the list of all rules.
    pub line: &'static str,
    /// Before what it is now, in the line above the roster; empty where it is
    /// not said there.
    pub head: &'static str,
    /// What there is to choose from.
    pub choices: fn() -> Vec<Chosen>,
    /// What it is now.
    pub now: fn(&Rules, Untold) -> Setting,
    /// Reads a choice that is not in the list; `None` where there are no others.
    pub other: Option<TypedChoice>,
    /// When it may change.
    pub when: ChangeTime,
    /// Who may change it.
    pub who: ChangedBy,
    /// Whether students are told of it.
    pub told: bool,
}

/// How a choice of one's own is read.
#[derive(Debug, Clone, Copy)]
pub struct TypedChoice {
    /// How it is written: "SECONDS/SECONDS".
    pub form: &'static str,
    /// Reads it.
    pub read: fn(&str) -> Result<Setting, String>,
}

impl PartialEq for Rule {
    fn eq(&self, other: &Self) -> bool {
        self.word == other.word
    }
}

/// One choice of a rule, whatever the rule.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    /// Its word.
    pub word: Cow<'static, str>,
    /// In a few words.
    pub label: Cow<'static, str>,
    /// What it means.
    pub meaning: Cow<'static, str>,
    /// What the host orders for it.
    pub setting: Setting,
}

impl Rule {
    /// The rule of this word.
    pub fn named(word: &str) -> Option<&'static Rule> {
        RULES.iter().find(|rule| rule.word == word)
    }

    /// The rule that a setting is of; `None` for the reach.
    pub fn of(setting: &Setting) -> Option<&'static Rule> {
        let kind = core::mem::discriminant(setting);
        RULES.iter().find(|rule| {
            let choices = (rule.choices)();
            choices
                .iter()
                .any(|c| core::mem::discriminant(&c.setting) == kind)
        })
    }

    /// The choice in force.
    pub fn chosen(&self, rules: &Rules, untold: Untold) -> Option<Chosen> {
        let now = (self.now)(rules, untold);
        let ready = (self.choices)().into_iter().find(|c| c.setting == now);
        ready.or(match now {
            // Alone nobody is hurried, and the pause has a command of its own.
            Setting::Pace(Some(pace)) if pace.shown_after.is_some() => {
                Some(pace::choice(pace.to_string().into(), pace))
            }
            _ => None,
        })
    }

    /// The choice of this word.
    ///
    /// # Errors
    /// One sentence that lists the words there are.
    pub fn choice(&self, word: &str) -> Result<Chosen, String> {
        let choices = (self.choices)();
        let words: Vec<_> = choices.iter().map(|c| c.word.as_ref()).collect();
        let found = choices.iter().find(|c| c.word.eq_ignore_ascii_case(word));
        if let Some(found) = found {
            return Ok(found.clone());
        }
        let Some(own) = self.other else {
            return Err(crate::choice::no_such(self.word, word, &words));
        };
        let setting = (own.read)(word)
            .map_err(|why| format!("{why}; or choose {}", fifthpeg_core::text::list_or(&words)))?;
        let own = Chosen {
            word: word.to_owned().into(),
            label: word.to_owned().into(),
            meaning: word.to_owned().into(),
            setting,
        };
        Ok(match own.setting {
            Setting::Pace(Some(pace)) => pace::choice(pace.to_string().into(), pace),
            _ => own,
        })
    }

    /// Whether there is only one other choice: a key takes it at once.
    pub fn is_on_or_off(&self) -> bool {
        matches!(&(self.choices)()[..], [first, _] if first.word == "on")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::LessonSetup;

    #[test]
    fn every_choice_can_be_set_and_is_then_what_is_in_force() {
        let neck = Neck::ready("banjo-open-g").expect("a ready neck");
        let setup = LessonSetup::new("Hall", &neck);
        for rule in RULES {
            for choice in (rule.choices)() {
                let (mut rules, mut untold) = (setup.rules.clone(), setup.untold());
                choice.setting.clone().put(&mut rules, &mut untold);
                assert_eq!(rule.chosen(&rules, untold), Some(choice.clone()));
                assert_eq!(rule.choice(&choice.word), Ok(choice.clone()));
                assert_eq!(Rule::of(&choice.setting).map(|r| r.word), Some(rule.word));
                // And nothing else has changed.
                for other in RULES.iter().filter(|other| other.word != rule.word) {
                    let before = other.chosen(&setup.rules, setup.untold());
                    assert_eq!(other.chosen(&rules, untold), before, "{}", other.word);
                }
            }
        }
    }

    #[test]
    fn words_and_keys_are_given_once() {
        for (at, rule) in RULES.iter().enumerate() {
            let later = &RULES[at + 1..];
            assert!(
                later
                    .iter()
                    .all(|r| r.word != rule.word && r.key != rule.key)
            );
        }
    }
}
