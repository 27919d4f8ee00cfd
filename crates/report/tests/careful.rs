//! What a report does not say, since the figures do not bear it out.

use std::collections::BTreeMap;

use fifthpeg_core::{Neck, Pitch};
use fifthpeg_report::ask::Subject;
use fifthpeg_report::dates::Date;
use fifthpeg_report::figures::Figures;
use fifthpeg_report::overview::{NeckPart, Overview, Period};
use fifthpeg_report::words::{self, ReportStyle};

fn figures(found_first: u32, calls: u32) -> Figures {
    Figures {
        calls,
        found_first,
        found: found_first,
        ..Figures::default()
    }
}

fn overview(periods: &[(u32, u32, &str)]) -> Overview {
    let day = |n: usize| Date::at(1_791_914_400_000 + 604_800_000 * n as i64, &|_| 0);
    let period = |(n, (found, calls, reach)): (usize, &(u32, u32, &str))| Period {
        date: day(n),
        week: false,
        shares_day: false,
        alone: false,
        reaches: vec![(*reach).to_owned()],
        figures: figures(*found, *calls),
    };
    Overview {
        subject: Subject {
            class: "Village hall".to_owned(),
            student: None,
            lesson: None,
        },
        all: figures(30, 60),
        lessons: Vec::new(),
        periods: periods.iter().enumerate().map(period).collect(),
        practice: Vec::new(),
        left_out: (0, 0),
        people: Vec::new(),
        necks: Vec::new(),
        outlook: None,
        unread: Vec::new(),
    }
}

fn progress(periods: &[(u32, u32, &str)]) -> String {
    words::progress(&overview(periods)).join(" ")
}

#[test]
fn a_rise_or_fall_is_told_of_ten_calls_on_each_side() {
    let said = progress(&[(1, 9, "octave"), (20, 20, "octave")]);
    assert!(
        !said.contains("more of a rise") && said.contains("too few calls"),
        "{said}"
    );
    let said = progress(&[(20, 20, "octave"), (0, 9, "octave")]);
    assert!(
        !said.contains("more of a fall") && said.contains("too few calls"),
        "{said}"
    );
    let said = progress(&[(1, 10, "octave"), (10, 10, "octave")]);
    assert!(said.contains("more of a rise than chance"), "{said}");
    let said = progress(&[(10, 10, "octave"), (1, 10, "octave")]);
    assert!(said.contains("more of a fall than chance"), "{said}");
    assert_eq!(progress(&[(10, 10, "octave")]), "");
}

#[test]
fn unlike_reaches_are_not_compared() {
    // Everything of two strings found, then little of the neck: no fall.
    let said = progress(&[(20, 20, "two strings"), (5, 20, "whole neck")]);
    assert!(!said.contains("fall") && !said.contains('%'), "{said}");
    assert!(
        said.contains("at first two strings, at the end whole neck"),
        "{said}"
    );
    // The first lesson with the same notes is what the last is held against.
    let said = progress(&[
        (20, 20, "two strings"),
        (2, 20, "whole neck"),
        (12, 20, "whole neck"),
    ]);
    assert!(
        said.contains("10% of the calls were found on Tue 20 Oct"),
        "{said}"
    );
    assert!(
        said.contains("60% on Tue 27 Oct") && said.contains("more of a rise"),
        "{said}"
    );
}

/// By the lower bound of Wilson's interval, from memory n / (n + 3.84) where all of
/// n were found: 0.44 of 3, 0.68 of 8, 0.70 of 9.
#[test]
fn nearly_always_needs_evidence() {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let said = |found: u32, calls: u32| {
        let pitch = Pitch::new(62).expect("a pitch");
        let mut report = overview(&[]);
        report.necks = vec![NeckPart {
            neck: neck.clone(),
            notes: BTreeMap::from([(pitch, figures(found, calls))]),
            places: BTreeMap::new(),
        }];
        words::practice(&report, &ReportStyle::default()).join(" ")
    };
    for (found, calls, is) in [(3, 3, false), (8, 8, false), (9, 9, true), (13, 20, false)] {
        let said = said(found, calls);
        assert_eq!(
            said.contains("nearly always: D4"),
            is,
            "{found} of {calls}: {said}"
        );
    }
}
