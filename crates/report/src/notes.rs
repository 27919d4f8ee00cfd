//! What a report says of itself: how sure its figures are, and who may see it.

use super::overview::Overview;
use super::words;

/// How sure the figures are, and where they come from.
pub fn certainty(report: &Overview) -> Vec<String> {
    let mut lines =
        vec![
        "A call counts when it was found, or when the note was shown or the call was closed. \
         With a few calls, luck weighs much: look at the ranges, not only at the figure before \
         them."
            .to_owned(),
        "Ranges of shares are 95% score intervals (Wilson 1927), of differences Newcombe's \
         (1998), of middle times those between two of the times in order (David and Nagaraja \
         2003). Each takes the calls as independent of each other; they are not quite, so the \
         truth is a little less sure."
            .to_owned(),
        format!("{} Only found calls have a time.", words::exactness(&report.all.times)),
        "Where notes are picked to be neither too easy nor too hard, the share found stays about \
         the same on purpose; progress then shows in the reach, not in the share."
            .to_owned(),
    ];
    if !report.people.is_empty() {
        lines.push(
            "Figures of the whole class put all students' calls together. Students differ, so \
             their ranges are too narrow for what another class would do."
                .to_owned(),
        );
    }
    lines
}

/// Who may see it, and how a person's data are removed.
pub fn privacy(report: &Overview) -> Vec<String> {
    let first = match (&report.subject.student, report.people.len()) {
        (Some((_, name)), _) => format!(
            "This page is about {name} alone and names nobody else. It is meant for {name}, \
             for {name}'s parents or guardians, and for the teacher."
        ),
        (None, 0) => "This page names nobody.".to_owned(),
        (None, _) => "This page is about several students: it is meant for the teacher. Do not \
             hand it to parents or pin it up; make a report about one student instead."
            .to_owned(),
    };
    vec![
        first,
        "Data about children need care: ask before you send the page on, do not put it on the \
         web, and delete it when nobody needs it any more. The rules of your school, club and \
         country come first."
            .to_owned(),
        "The page is a file of its own, and sends nothing anywhere. Whoever wants to be taken \
         out asks the teacher, who can remove a person wholly from the lesson book; copies of \
         this page have to be deleted as well. The teacher's own notes are not in it."
            .to_owned(),
    ]
}
