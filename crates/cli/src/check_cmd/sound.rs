//! Whether this machine sounds and hears.

use std::time::{Duration, Instant};

use fifthpeg_front::failure::Failure;
use fifthpeg_sound::{Input, InputChoice, OutputChoice, SoundError, open, open_input};

use super::{Finding, State};
use crate::args::check::CheckArgs;
use crate::opening;

/// How long a microphone is heard.
const HEARD: Duration = Duration::from_millis(800);

/// Whether what was asked for can be asked for.
pub(super) fn choices(args: &CheckArgs) -> Result<(OutputChoice, InputChoice), Failure> {
    let output = opening::choice("--output", &args.output)?;
    Ok((output, opening::choice("--microphone", &args.microphone)?))
}

/// Opens the output, and sounds nothing.
pub(super) fn output(args: &CheckArgs) -> Finding {
    let Ok((choice, _)) = choices(args) else {
        return Finding::good("not looked at");
    };
    if choice.is_none() {
        return Finding::good("left out, as asked");
    }
    match open(&choice) {
        Ok(output) => {
            let rate = output.sample_rate_hz();
            let rate = rate.map_or_else(String::new, |hz| format!(", at {hz} samples a second"));
            match output.finish() {
                Ok(()) => Finding::good(format!(
                    "the output opens{rate}; to hear it: fifthpeg listen, then s"
                )),
                Err(error) => told(State::Fails, &error),
            }
        }
        Err(error) => told(State::Fails, &error),
    }
}

/// Hears for a moment. Who answers on the screen needs no microphone.
pub(super) fn microphone(args: &CheckArgs) -> Finding {
    let Ok((_, choice)) = choices(args) else {
        return Finding::good("not looked at");
    };
    if choice.is_none() {
        return Finding::good("left out, as asked");
    }
    let heard = open_input(&choice).and_then(|mut input| loudest(&mut *input).map(|l| (l, input)));
    match heard {
        Ok((0.0, _)) => Finding::note(
            "the microphone opens, but there is only silence",
            "see that it is not muted, and allowed in the system's privacy settings",
        ),
        Ok((_, input)) => Finding::good(format!(
            "the microphone hears, at {} samples a second; to try it: fifthpeg listen",
            input.rate_hz()
        )),
        Err(error) => told(State::Note, &error),
    }
}

/// What may stand in a report: a sentence that names a device is left at its kind.
fn told(state: State, error: &SoundError) -> Finding {
    match error {
        SoundError::UnknownDevice { .. } | SoundError::UnknownMicrophone { .. } => Finding::fails(
            "no device of that name is here",
            "plug it in, or leave the name out",
        ),
        error => Finding::from_sentence(state, &error.to_string()),
    }
}

fn loudest(input: &mut dyn Input) -> Result<f32, SoundError> {
    let (mut samples, mut loudest) = (Vec::new(), 0_f32);
    let until = Instant::now() + HEARD;
    while Instant::now() < until {
        input.read(&mut samples, Duration::from_millis(100))?;
        loudest = samples
            .iter()
            .fold(loudest, |most, sample| most.max(sample.abs()));
    }
    Ok(loudest)
}
