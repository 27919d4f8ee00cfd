//! `fifthpeg neck`: a neck, its reach or the places of a note, drawn or in words,
//! without a lesson.

use fifthpeg_core::text;
use fifthpeg_core::{Cause, Named, Neck, Pitch, Position, Reach, ReachSpec, Spelling, ready_necks};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::neck_text::{self, Look};
use fifthpeg_front::necks;
use fifthpeg_front::out;

use crate::args::neck::NeckArgs;

/// Prints a neck, the places of a pitch, or the pitches of a reach.
///
/// # Errors
/// When what was asked for is not known or does not fit the neck.
pub fn run(args: &NeckArgs) -> Result<(), Failure> {
    out::say(&lines(args)?)
}

fn lines(args: &NeckArgs) -> Result<Vec<String>, Failure> {
    if args.list {
        let width = ready_necks()
            .iter()
            .map(|r| r.name.len())
            .max()
            .unwrap_or(0);
        return Ok(ready_necks()
            .iter()
            .map(|ready| format!("{:width$}  {}", ready.name, ready.title))
            .collect());
    }
    let neck = necks::choose(&args.neck, args.neck_file.as_deref(), args.capo)?;
    let look = Look {
        spelling: Spelling::of(args.flats),
        ascii: args.ascii,
        left_handed: args.left_handed,
        columns: columns(),
    };
    if args.toml {
        return Ok(neck.to_toml().lines().map(str::to_owned).collect());
    }
    match (&args.places, &args.reach) {
        (Some(typed), _) => places(&neck, typed, look),
        (None, Some(spec)) => reach(&neck, spec, look),
        (None, None) => Ok(neck_text::neck(&neck, look)),
    }
}

/// The width to draw in.
fn columns() -> usize {
    if out::is_terminal() {
        crossterm::terminal::size().map_or(80, |(columns, _)| usize::from(columns).max(40))
    } else {
        80
    }
}

fn places(neck: &Neck, typed: &str, look: Look) -> Result<Vec<String>, Failure> {
    let named: Named = typed
        .parse()
        .map_err(|error| Failure::usage(error).told(|error| format!("--places: {error}")))?;
    let pitches: Vec<Pitch> = match named {
        Named::Pitch(pitch) => vec![pitch],
        Named::Class(class) => (neck.lowest().midi()..=neck.highest().midi())
            .filter_map(Pitch::new)
            .filter(|pitch| pitch.class() == class)
            .collect(),
    };
    let found: Vec<(Pitch, Vec<Position>)> = pitches
        .iter()
        .map(|pitch| (*pitch, neck.places(*pitch)))
        .filter(|(_, places)| !places.is_empty())
        .collect();
    if found.is_empty() {
        return Err(Failure::usage(format!(
            "\"{}\" lies nowhere on this neck: it holds {} to {}",
            text::shown(typed),
            look.name(neck.lowest()),
            look.name(neck.highest())
        )));
    }
    Ok(said_and_drawn(neck, &found, look))
}

fn reach(neck: &Neck, typed: &str, look: Look) -> Result<Vec<String>, Failure> {
    let usage = |error: Cause| Failure::usage(error).told(|error| format!("--reach: {error}"));
    let spec: ReachSpec = typed
        .parse()
        .map_err(|error: <ReachSpec as std::str::FromStr>::Err| usage(error.into()))?;
    let reach = Reach::resolve(neck, &spec).map_err(|error| usage(error.into()))?;
    let found: Vec<(Pitch, Vec<Position>)> = reach
        .pitches()
        .iter()
        .map(|pitch| {
            let places = reach.positions().iter().copied();
            let places = places.filter(|place| neck.pitch_at(*place) == Some(*pitch));
            (*pitch, places.collect())
        })
        .collect();
    Ok(said_and_drawn(neck, &found, look))
}

/// A line for each pitch, for scripts and listeners, up to an empty line; then
/// the same places on a drawn neck.
fn said_and_drawn(neck: &Neck, found: &[(Pitch, Vec<Position>)], look: Look) -> Vec<String> {
    let mut lines: Vec<String> = found
        .iter()
        .map(|(pitch, places)| line_of_places(*pitch, places, look))
        .collect();
    let marks: Vec<Position> = found
        .iter()
        .flat_map(|(_, places)| places.clone())
        .collect();
    lines.push(String::new());
    lines.extend(neck_text::marked(neck, &marks, look));
    lines
}

fn line_of_places(pitch: Pitch, places: &[Position], look: Look) -> String {
    let places: Vec<String> = places.iter().map(Position::to_string).collect();
    format!("{:<4} {}", look.name(pitch), places.join(" "))
}
