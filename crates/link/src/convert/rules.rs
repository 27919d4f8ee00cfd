//! A lesson's rules and its neck.

use fifthpeg_core::{Capo, Neck, NeckDescription, NeckString, Reference};
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Mode, Rules, Sounding, Voice};
use fifthpeg_wire as wire;

use super::{pitch_from_wire, plain, same_variants};
use crate::LinkError;

same_variants!(mode_to_wire, mode_from_wire, Mode, wire::Mode, Class Friends);
same_variants!(marking_to_wire, marking_from_wire, Marking, wire::Marking,
    SamePitch ExactPlace AnyOctave);
same_variants!(telling_to_wire, telling_from_wire, Telling, wire::Telling,
    Verdict Hint Interval);
same_variants!(sounding_to_wire, sounding_from_wire, Sounding, wire::Sounding,
    EveryTerminal HostSpeakers OnAsking);
same_variants!(voice_to_wire, voice_from_wire, Voice, wire::Voice, Banjo Guitar Plain);

pub(super) fn rules_to_wire(rules: &Rules) -> wire::Rules {
    wire::Rules {
        lesson: rules.lesson.clone(),
        mode: mode_to_wire(rules.mode),
        neck: neck_to_wire(&rules.neck),
        reach: rules.reach.to_string(),
        marking: marking_to_wire(rules.marking),
        telling: telling_to_wire(rules.telling),
        sounding: sounding_to_wire(rules.sounding),
        voice: voice_to_wire(rules.voice),
        a4_hz: rules.a4_hz,
        flats: rules.flats,
        sing_first: rules.sing_first,
    }
}

pub(super) fn rules_from_wire(rules: wire::Rules) -> Result<Rules, LinkError> {
    Reference::new(rules.a4_hz)
        .map_err(|_| LinkError::Impossible("a tuning reference far from any A4"))?;
    Ok(Rules {
        lesson: plain(rules.lesson)?,
        mode: mode_from_wire(rules.mode),
        neck: neck_from_wire(rules.neck)?,
        reach: rules
            .reach
            .parse()
            .map_err(|_| LinkError::Impossible("a reach that cannot be read"))?,
        marking: marking_from_wire(rules.marking),
        telling: telling_from_wire(rules.telling),
        sounding: sounding_from_wire(rules.sounding),
        voice: voice_from_wire(rules.voice),
        a4_hz: rules.a4_hz,
        flats: rules.flats,
        sing_first: rules.sing_first,
    })
}

fn neck_to_wire(neck: &NeckDescription) -> wire::Neck {
    wire::Neck {
        name: neck.name.clone(),
        strings: neck
            .strings
            .iter()
            .map(|s| wire::NeckString {
                open_midi: s.open.midi(),
                first_fret: s.first_fret,
                last_fret: s.last_fret,
                course: s.course.clone(),
            })
            .collect(),
        scale_length_mm: neck.scale_length_mm,
        capo: neck.capo.map(|c| wire::Capo {
            fret: c.fret,
            short: c.short,
        }),
    }
}

/// The description, which is sure to build.
fn neck_from_wire(neck: wire::Neck) -> Result<NeckDescription, LinkError> {
    let strings = neck
        .strings
        .into_iter()
        .map(|s| {
            Ok(NeckString {
                open: pitch_from_wire(s.open_midi)?,
                first_fret: s.first_fret,
                last_fret: s.last_fret,
                course: s.course,
            })
        })
        .collect::<Result<_, LinkError>>()?;
    let description = NeckDescription {
        name: plain(neck.name)?,
        strings,
        scale_length_mm: neck.scale_length_mm,
        capo: neck.capo.map(|c| Capo {
            fret: c.fret,
            short: c.short,
        }),
    };
    Neck::build(description.clone())
        .map_err(|_| LinkError::Impossible("a neck that cannot be built"))?;
    Ok(description)
}
