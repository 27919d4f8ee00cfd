//! The answer sheet as a page of its own: no network, no script, no colour.

use std::fmt::Write;

use fifthpeg_core::NeckDrawing;
use fifthpeg_core::Pitch;
use fifthpeg_core::svg::{NeckMark, escaped, neck_svg, neck_svg_upright};
use fifthpeg_front::html;
use fifthpeg_lesson::track::AnswerPattern;

use super::practice::Practice;
use super::sheet::{self, CAUTION};

/// Writing to a string cannot fail.
macro_rules! add {
    ($page:expr, $($what:tt)*) => {{ let _ = writeln!($page, $($what)*); }};
}

pub(crate) const STYLE: &str = "\
:root{color-scheme:light}\
body{font:1rem/1.45 system-ui,sans-serif;color:#000;background:#fff;max-width:46rem;margin:2rem auto;padding:0 1rem}\
h1{font-size:1.7rem;margin:0 0 .3rem}h2{font-size:1.25rem;margin:2.2rem 0 .6rem}\
.about{margin:0;padding:0;list-style:none}\
.caution{border:2px solid #000;padding:.6rem .8rem;margin:1.2rem 0}\
ol{padding-left:1.4rem}\
table{border-collapse:collapse;width:100%}\
th,td{text-align:left;padding:.25rem .6rem .25rem 0;border-bottom:1px solid #999;vertical-align:top}\
td.n,th.n{text-align:right;padding-right:1rem;font-variant-numeric:tabular-nums;white-space:nowrap}\
.key{margin:.4rem 0 1rem}\
figure{margin:0 0 1.1rem;break-inside:avoid}\
figcaption{margin-bottom:.1rem}\
svg{display:block;width:100%;height:auto}.on-phone{display:none}\
@media screen and (max-width:40rem){.on-page{display:none}.on-phone{display:block;max-width:22rem}\
th,td{padding-right:.4rem;overflow-wrap:break-word}td.n,th.n{padding-right:.5rem}}\
pre{white-space:pre-wrap;overflow-wrap:anywhere;border:1px solid #999;padding:.6rem}\
@media print{@page{margin:16mm}body{font-size:10.5pt;margin:0;padding:0;max-width:none}\
.answers{break-before:page}tr,.once-more{break-inside:avoid}thead{display:table-header-group}h2,.key{break-after:avoid}}";

/// A neck on a telephone: its width, and how long it is drawn.
const PHONE: (f64, f64) = (340.0, 400.0);

/// The whole page.
pub fn page(practice: &Practice) -> String {
    let mut page = String::new();
    add!(page, "<ul class=\"about\">");
    for line in practice.about() {
        add!(page, "<li>{}</li>", escaped(&line));
    }
    add!(page, "</ul>");
    add!(
        page,
        "<p class=\"caution\"><strong>Take care of your ears.</strong> {CAUTION}</p>"
    );
    add!(page, "<h2>At each call</h2>");
    add!(page, "<ol>");
    for step in practice.steps() {
        add!(page, "<li>{}</li>", escaped(&step));
    }
    add!(page, "</ol>");
    add!(
        page,
        "<p>The answers follow. Listen and search first; look afterwards.</p>"
    );
    answers(&mut page, practice);
    add!(page, "<section class=\"once-more\">");
    add!(page, "<h2>This track once more</h2>");
    add!(page, "<p>{}</p>", practice.once_more());
    add!(page, "<pre>{}</pre>", escaped(&practice.command));
    add!(page, "</section>");
    let title = format!("Practice track: {}", practice.title);
    html::page(&title, STYLE, "", &page)
}

/// The answers: each call's, and where each note lies.
pub(crate) fn answers(page: &mut String, practice: &Practice) {
    add!(page, "<section class=\"answers\">");
    calls(page, practice);
    add!(page, "</section>");
    notes(page, practice);
}

fn calls(page: &mut String, practice: &Practice) {
    let answered = practice.settings.answer != AnswerPattern::None;
    add!(page, "<h2>The answers</h2>");
    add!(page, "<p>{}</p>", practice.how_places_are_written());
    add!(page, "<table>");
    let played = if answered {
        "<th scope=\"col\">Answer played at</th>"
    } else {
        ""
    };
    add!(
        page,
        "<thead><tr><th scope=\"col\" class=\"n\">Call</th><th scope=\"col\" class=\"n\">Time</th>\
         <th scope=\"col\">Note</th>{played}<th scope=\"col\">Every place on the neck</th></tr></thead>"
    );
    add!(page, "<tbody>");
    for call in &practice.plan.calls {
        let played = if answered {
            format!("<td>{}</td>", call.place)
        } else {
            String::new()
        };
        add!(
            page,
            "<tr><th scope=\"row\" class=\"n\">{}</th><td class=\"n\">{}</td><td>{}</td>{played}<td>{}</td></tr>",
            call.number,
            sheet::clock(call.at),
            practice.name(call.pitch),
            sheet::short(&practice.neck.places(call.pitch)),
        );
    }
    add!(page, "</tbody>");
    add!(page, "</table>");
}

fn notes(page: &mut String, practice: &Practice) {
    add!(page, "<h2>Where each note lies</h2>");
    let ringed = if practice.settings.answer == AnswerPattern::None {
        ""
    } else {
        " The one with a ring in it is where the answer is played."
    };
    let notes = practice.notes();
    let beyond = notes
        .iter()
        .any(|(pitch, _)| !practice.places(*pitch).1.is_empty());
    let beyond = if beyond {
        " A white mark is beyond the reach."
    } else {
        ""
    };
    add!(
        page,
        "<p class=\"key\">A black mark is a place in the reach.{ringed}{beyond}</p>"
    );
    // Every neck is cut at the same fret, so that they compare.
    let last = notes
        .iter()
        .flat_map(|(pitch, _)| practice.neck.places(*pitch))
        .map(|place| place.fret)
        .max()
        .unwrap_or(0);
    let shown = last.saturating_add(1).max(12);
    let drawing = NeckDrawing::new(&practice.neck, practice.left_handed, shown);
    for (pitch, calls) in notes {
        let name = practice.name(pitch);
        add!(page, "<figure>");
        add!(
            page,
            "<figcaption><strong>{name}</strong> ({}): {}</figcaption>",
            practice.calls_words(&calls),
            practice.places_words(pitch)
        );
        let equivalent = format!("The neck with {name} marked at the places named beside it");
        let marks = marks(practice, pitch);
        let lying = neck_svg(&drawing, &marks, 720.0, &equivalent);
        let upright = neck_svg_upright(&drawing, &marks, PHONE, &equivalent);
        add!(
            page,
            "<div class=\"on-page\">{lying}</div><div class=\"on-phone\">{upright}</div>"
        );
        add!(page, "</figure>");
    }
}

fn marks(practice: &Practice, pitch: Pitch) -> Vec<NeckMark> {
    let (within, beyond) = practice.places(pitch);
    let answered = practice.answered_at(pitch);
    let within = within.into_iter().map(|place| NeckMark {
        ring: answered == Some(place),
        ..NeckMark::solid(place)
    });
    within
        .chain(beyond.into_iter().map(NeckMark::hollow))
        .collect()
}
