//! Answers, marks and refusals.

use fifthpeg_core::{PitchClass, Position};
use fifthpeg_lesson::marking::{Mark, Miss, MissKind, Side};
use fifthpeg_lesson::message::{Answer, HeldMark, Refusal, Source};
use fifthpeg_lesson::singing::SungMark;
use fifthpeg_wire as wire;

use super::{pitch_from_wire, plain, same_variants};
use crate::LinkError;

pub(super) fn place_to_wire(p: Position) -> wire::Place {
    wire::Place {
        string: p.string,
        fret: p.fret,
    }
}

pub(super) fn place_from_wire(p: wire::Place) -> Result<Position, LinkError> {
    if p.string == 0 {
        return Err(LinkError::Impossible("a string of number nought"));
    }
    Ok(Position {
        string: p.string,
        fret: p.fret,
    })
}

pub(super) fn answer_to_wire(a: Answer) -> wire::Answer {
    match a {
        Answer::Place(p) => wire::Answer::Place {
            place: place_to_wire(p),
        },
        Answer::Pitch(p) => wire::Answer::Pitch { midi: p.midi() },
        Answer::Class(c) => wire::Answer::Class { number: c.number() },
    }
}

pub(super) fn answer_from_wire(a: wire::Answer) -> Result<Answer, LinkError> {
    Ok(match a {
        wire::Answer::Place { place } => Answer::Place(place_from_wire(place)?),
        wire::Answer::Pitch { midi } => Answer::Pitch(pitch_from_wire(midi)?),
        wire::Answer::Class { number } => Answer::Class(
            PitchClass::new(number).ok_or(LinkError::Impossible("a note name beyond B"))?,
        ),
    })
}

same_variants!(source_to_wire, source_from_wire, Source, wire::Source, Screen Instrument);

same_variants!(side_to_wire, side_from_wire, Side, wire::Side, Low High);

pub(super) fn mark_to_wire(mark: Mark) -> wire::Mark {
    match mark {
        Mark::Right => wire::Mark::Right,
        Mark::Missed(miss) => wire::Mark::Missed {
            kind: miss.kind.map(kind_to_wire),
            side: miss.side.map(side_to_wire),
        },
    }
}

pub(super) fn mark_from_wire(mark: wire::Mark) -> Mark {
    match mark {
        wire::Mark::Right => Mark::Right,
        wire::Mark::Missed { kind, side } => Mark::Missed(Miss {
            kind: kind.map(kind_from_wire),
            side: side.map(side_from_wire),
        }),
    }
}

pub(super) fn held_to_wire(held: HeldMark) -> wire::HeldAnswer {
    wire::HeldAnswer {
        serial: held.serial,
        answer: answer_to_wire(held.answer),
        mark: mark_to_wire(held.mark),
    }
}

pub(super) fn held_from_wire(held: wire::HeldAnswer) -> Result<HeldMark, LinkError> {
    Ok(HeldMark {
        serial: held.serial,
        answer: answer_from_wire(held.answer)?,
        mark: mark_from_wire(held.mark),
    })
}

pub(super) fn sung_to_wire(sung: SungMark) -> wire::SungMark {
    wire::SungMark {
        octaves: sung.octaves,
        cents: sung.cents,
        exact: sung.exact,
    }
}

pub(super) fn sung_from_wire(sung: wire::SungMark) -> Result<SungMark, LinkError> {
    if !(-600.0..=600.0).contains(&sung.cents) {
        return Err(LinkError::Impossible(
            "a sung note further from its octave than half of one",
        ));
    }
    Ok(SungMark {
        octaves: sung.octaves,
        cents: sung.cents,
        exact: sung.exact,
    })
}

fn kind_to_wire(kind: MissKind) -> wire::MissKind {
    match kind {
        MissKind::Octave { octaves } => wire::MissKind::Octave { octaves },
        MissKind::Neighbour => wire::MissKind::Neighbour,
        MissKind::WholeTone => wire::MissKind::WholeTone,
        MissKind::OtherPlace => wire::MissKind::OtherPlace,
        MissKind::OtherPlaceOctave { octaves } => wire::MissKind::OtherPlaceOctave { octaves },
        MissKind::Interval { semitones } => wire::MissKind::Interval { semitones },
        MissKind::Further => wire::MissKind::Further,
    }
}

fn kind_from_wire(kind: wire::MissKind) -> MissKind {
    match kind {
        wire::MissKind::Octave { octaves } => MissKind::Octave { octaves },
        wire::MissKind::Neighbour => MissKind::Neighbour,
        wire::MissKind::WholeTone => MissKind::WholeTone,
        wire::MissKind::OtherPlace => MissKind::OtherPlace,
        wire::MissKind::OtherPlaceOctave { octaves } => MissKind::OtherPlaceOctave { octaves },
        wire::MissKind::Interval { semitones } => MissKind::Interval { semitones },
        wire::MissKind::Further => MissKind::Further,
    }
}

pub(super) fn refusal_to_wire(refusal: &Refusal) -> wire::Refusal {
    use wire::Refusal as W;
    match refusal {
        Refusal::NoCall => W::NoCall,
        Refusal::OldCall => W::OldCall,
        Refusal::CallOpen => W::CallOpen,
        Refusal::CallerAnswers => W::CallerAnswers,
        Refusal::NotYourTurn => W::NotYourTurn,
        Refusal::HostOnly => W::HostOnly,
        Refusal::NoSuchPlace(p) => W::NoSuchPlace {
            place: place_to_wire(*p),
        },
        Refusal::OutsideReach => W::OutsideReach,
        Refusal::PlaceNeeded => W::PlaceNeeded,
        Refusal::OctaveNeeded => W::OctaveNeeded,
        Refusal::TooManyAnswers(most) => W::TooManyAnswers { most: *most },
        Refusal::Full(most) => W::Full { most: *most },
        Refusal::BadName(most) => W::BadName { most: *most },
        Refusal::UnknownPlace => W::UnknownPlace,
        Refusal::NoStudent => W::NoStudent,
        Refusal::NobodyToCall => W::NobodyToCall,
        Refusal::Ended => W::Ended,
        Refusal::FoundAlready => W::FoundAlready,
        Refusal::TooLate => W::TooLate,
        Refusal::LongOver => W::LongOver,
        Refusal::CallLost => W::CallLost,
        Refusal::SaidTooMuch => W::SaidTooMuch,
        // What the wire has no word for goes as the sentence it is.
        other => W::Other {
            text: shortened(&other.to_string(), wire::MAX_TEXT_BYTES),
        },
    }
}

pub(super) fn refusal_from_wire(refusal: wire::Refusal) -> Result<Refusal, LinkError> {
    use wire::Refusal as W;
    Ok(match refusal {
        W::NoCall => Refusal::NoCall,
        W::OldCall => Refusal::OldCall,
        W::CallOpen => Refusal::CallOpen,
        W::CallerAnswers => Refusal::CallerAnswers,
        W::NotYourTurn => Refusal::NotYourTurn,
        W::HostOnly => Refusal::HostOnly,
        W::NoSuchPlace { place } => Refusal::NoSuchPlace(place_from_wire(place)?),
        W::OutsideReach => Refusal::OutsideReach,
        W::PlaceNeeded => Refusal::PlaceNeeded,
        W::OctaveNeeded => Refusal::OctaveNeeded,
        W::TooManyAnswers { most } => Refusal::TooManyAnswers(most),
        W::Full { most } => Refusal::Full(most),
        W::BadName { most } => Refusal::BadName(most),
        W::UnknownPlace => Refusal::UnknownPlace,
        W::NoStudent => Refusal::NoStudent,
        W::NobodyToCall => Refusal::NobodyToCall,
        W::Ended => Refusal::Ended,
        W::FoundAlready => Refusal::FoundAlready,
        W::TooLate => Refusal::TooLate,
        W::LongOver => Refusal::LongOver,
        W::CallLost => Refusal::CallLost,
        W::SaidTooMuch => Refusal::SaidTooMuch,
        W::Other { text } => Refusal::Reach(plain(text)?),
    })
}

/// At most so many bytes, cut between letters.
fn shortened(text: &str, most: usize) -> String {
    let mut end = text.len().min(most);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text[..end].to_owned()
}
