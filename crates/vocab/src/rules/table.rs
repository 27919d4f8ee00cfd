//! The table of rules: one row for each, from which commands, keys, menus, options,
//! stored orders and pages are made. What a rule does is the lesson's affair.

use std::borrow::Cow;

use super::{ChangeTime, ChangedBy, Chosen, Rule, Setting, TypedChoice};
use crate::choice::Choice;
use crate::pace;

/// Every rule, in the order of commands and lists.
pub const RULES: &[Rule] = &[
    Rule {
        word: "marking",
        key: 'm',
        what: "what counts as right",
        title: "What counts as right",
        line: "what is right",
        head: "Right",
        choices: || chosen(Setting::Marking),
        now: |rules, _| Setting::Marking(rules.marking),
        other: None,
        when: ChangeTime::BetweenCalls,
        who: ChangedBy::Host,
        told: true,
    },
    Rule {
        word: "sounding",
        key: 's',
        what: "who sounds the calls",
        title: "Who sounds a call",
        line: "who sounds a call",
        head: "Sound",
        choices: || chosen(Setting::Sounding),
        now: |rules, _| Setting::Sounding(rules.sounding),
        other: None,
        when: ChangeTime::BetweenCalls,
        who: ChangedBy::HostOfOthers,
        told: true,
    },
    Rule {
        word: "telling",
        key: 't',
        what: "how much a miss says before the reveal",
        title: "What a miss says before the reveal",
        line: "what a miss tells",
        head: "A miss tells",
        choices: || chosen(Setting::Telling),
        now: |rules, _| Setting::Telling(rules.telling),
        other: None,
        when: ChangeTime::AnyTime,
        who: ChangedBy::Host,
        told: true,
    },
    Rule {
        word: "sing-first",
        key: 'f',
        what: "whether students are invited to sing each note first",
        title: "Singing first",
        line: "singing first",
        head: "Sing first",
        choices: || on_or_off(["invited", "not invited"], Setting::SingFirst),
        now: |rules, _| Setting::SingFirst(rules.sing_first),
        other: None,
        when: ChangeTime::AnyTime,
        who: ChangedBy::Host,
        told: true,
    },
    Rule {
        word: "show-found",
        key: 'u',
        what: "whether the note is shown once everyone has found it",
        title: "When the note is shown",
        line: "when the note is shown",
        head: "Shown once all have found it",
        choices: || {
            on_or_off(
                ["once everyone has found it", "when you reveal it"],
                Setting::ShowFound,
            )
        },
        now: |rules, _| Setting::ShowFound(rules.show_found),
        other: None,
        when: ChangeTime::AnyTime,
        who: ChangedBy::HostOfOthers,
        told: true,
    },
    Rule {
        word: "taps-only",
        key: 'z',
        what: "whether phones use no microphone",
        title: "Microphones of phones",
        line: "microphones of phones",
        head: "",
        choices: || {
            on_or_off(
                ["phones use no microphone", "phones may use theirs"],
                Setting::TapsOnly,
            )
        },
        now: |rules, _| Setting::TapsOnly(rules.taps_only),
        other: None,
        when: ChangeTime::AnyTime,
        who: ChangedBy::HostOfOthers,
        told: false,
    },
    Rule {
        word: "hall-names",
        key: 'p',
        what: "whether the page for a projector shows names",
        title: "Names on the page for a projector",
        line: "names on the projector's page",
        head: "",
        choices: || on_or_off(["names are shown", "no names"], Setting::HallNames),
        now: |rules, _| Setting::HallNames(rules.hall_names),
        other: None,
        when: ChangeTime::AnyTime,
        who: ChangedBy::HostOfOthers,
        told: false,
    },
    Rule {
        word: "voice",
        key: 'v',
        what: "the voice of calls and tries",
        title: "The voice of calls and tries",
        line: "the voice",
        head: "Voice",
        choices: || chosen(Setting::Voice),
        now: |rules, _| Setting::Voice(rules.voice),
        other: None,
        when: ChangeTime::AnyTime,
        who: ChangedBy::Host,
        told: true,
    },
    Rule {
        word: "picking",
        key: 'a',
        what: "how notes are picked: at random, or to teach",
        title: "How notes are picked",
        line: "how notes are picked",
        head: "",
        choices: || chosen(Setting::Picking),
        now: |_, untold| Setting::Picking(untold.picking),
        other: None,
        when: ChangeTime::AnyTime,
        who: ChangedBy::Host,
        told: false,
    },
    Rule {
        word: "pace",
        key: 'y',
        what: "whether notes are called and shown by themselves",
        title: "How the lesson goes on by itself",
        line: "going on by itself",
        head: "",
        choices: pace::choices,
        now: |_, untold| Setting::Pace(untold.pace),
        other: Some(TypedChoice {
            form: "SECONDS/SECONDS[/help]",
            read: |typed| pace::parse_pace(typed).map(|pace| Setting::Pace(Some(pace))),
        }),
        when: ChangeTime::AnyTime,
        who: ChangedBy::HostOfClass,
        told: false,
    },
];

fn chosen<C: Choice>(setting: fn(C) -> Setting) -> Vec<Chosen> {
    let rows = C::ALL.iter().map(|row| Chosen {
        word: row.word.into(),
        label: row.label.into(),
        meaning: row.meaning.into(),
        setting: setting(row.value),
    });
    rows.collect()
}

fn on_or_off([on, off]: [&'static str; 2], setting: fn(bool) -> Setting) -> Vec<Chosen> {
    let choice = |word, meaning: &'static str, value| Chosen {
        word: Cow::Borrowed(word),
        label: Cow::Borrowed(meaning),
        meaning: Cow::Borrowed(meaning),
        setting: setting(value),
    };
    vec![choice("on", on, true), choice("off", off, false)]
}
