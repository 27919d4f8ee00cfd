//! The neck as the page draws it: as far as the reach, and what is known of each
//! place.

use std::collections::HashMap;

use fifthpeg_core::{Neck, NeckDrawing, Position, Reach};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Answer, Rules};
use fifthpeg_lesson::terminal::TerminalCall;
use serde::Serialize;

/// The drawing: lengths across and down from 0 to 1.
#[derive(Debug, Serialize)]
pub(crate) struct NeckShown {
    /// Each fret's number and where it lies; the nut is 0.
    frets: Vec<(u8, f64)>,
    strings: Vec<StringShown>,
    dots: Vec<(f64, f64)>,
    /// Capos: across, and from and to down.
    capos: Vec<(f64, f64, f64)>,
    places: Vec<PlaceShown>,
    /// The narrowest fret space, so that it can be made wide enough for a thumb.
    narrowest: f64,
    left_handed: bool,
}

#[derive(Debug, Serialize)]
struct StringShown {
    number: u8,
    y: f64,
    from: f64,
    to: f64,
}

#[derive(Debug, Serialize)]
struct PlaceShown {
    place: String,
    x: f64,
    y: f64,
    open: bool,
    /// In the reach.
    within: bool,
    /// `tried`, `waiting`, `missed`, `found`, `revealed`, or nothing.
    sign: &'static str,
    words: String,
}

/// What is known of places, as a sign and in words.
pub(crate) type Signs = HashMap<Position, (&'static str, &'static str)>;

/// The note is here.
pub(crate) const REVEALED: (&str, &str) = ("revealed", ", the note is here");

/// What is known of places: the last and surest word on each.
pub(crate) fn signs(call: Option<&TerminalCall>) -> Signs {
    let mut signs = HashMap::new();
    let Some(call) = call else { return signs };
    for tried in &call.tries {
        if let Answer::Place(place) = tried {
            signs.insert(*place, ("tried", ", tried"));
        }
    }
    for (answer, mark) in &call.answers {
        if let Answer::Place(place) = answer {
            let sign = match mark {
                None => ("waiting", ", answered"),
                Some(Mark::Missed(_)) => ("missed", ", answered, not found"),
                Some(_) => ("found", ", found"),
            };
            signs.insert(*place, sign);
        }
    }
    for place in call.revealed.iter().flat_map(|(_, places)| places) {
        signs.insert(*place, REVEALED);
    }
    signs
}

/// The neck with what is known of it in this call.
pub(crate) fn shown(neck: &Neck, rules: &Rules, signs: &Signs, left_handed: bool) -> NeckShown {
    let reach = Reach::resolve(neck, &rules.reach);
    let in_reach = reach.as_ref().map_or(&[][..], Reach::positions);
    let last = in_reach.iter().map(|place| place.fret).max();
    let revealed = signs.iter().filter(|(_, sign)| **sign == REVEALED);
    let furthest = revealed.map(|(place, _)| place.fret).max();
    let last = last
        .unwrap_or_else(|| neck.last_fret())
        .max(furthest.unwrap_or(0))
        .max(1);
    let drawing = NeckDrawing::new(neck, left_handed, last);
    let places = neck.positions().into_iter().filter_map(|place| {
        let (x, y) = drawing.at(place)?;
        let (sign, words) = signs.get(&place).copied().unwrap_or_default();
        Some(PlaceShown {
            place: place.to_string(),
            x,
            y,
            within: in_reach.contains(&place),
            open: place.fret == 0 || neck.open_position(place.string) == Some(place),
            sign,
            words: format!("{}{words}", neck.place_in_words(place)),
        })
    });
    let apart = drawing
        .frets
        .windows(2)
        .map(|pair| (pair[0].x - pair[1].x).abs());
    NeckShown {
        narrowest: apart.fold(1.0, f64::min),
        frets: drawing
            .frets
            .iter()
            .map(|fret| (fret.number, fret.x))
            .collect(),
        strings: drawing
            .strings
            .iter()
            .map(|string| StringShown {
                number: string.number,
                y: string.y,
                from: string.from_x,
                to: string.to_x,
            })
            .collect(),
        dots: drawing.dots.iter().map(|dot| (dot.x, dot.y)).collect(),
        capos: [drawing.capo, drawing.short_capo]
            .into_iter()
            .flatten()
            .map(|capo| (capo.x, capo.from_y, capo.to_y))
            .collect(),
        places: places.collect(),
        left_handed,
    }
}
