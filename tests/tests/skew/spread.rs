//! How far apart the onsets of calls were, over many calls.

use super::likeness;
use super::row::RATE_HZ;
use std::process::Command;

/// What is to be reached, in milliseconds.
const MEDIAN_MS: f64 = 1.0;
const WORST_MS: f64 = 5.0;
/// What the median is at most on a busy machine. Chosen freely: it was 1 to 3 ms
/// with ten times as much to do as there are processors.
const BUSY_MEDIAN_MS: f64 = 10.0;
/// A channel with less than this much of the loudest one's energy is silent.
const MISSING: f64 = 0.01;
/// Two channels less alike than this are not the same sound whole: somewhere
/// sound was lost in one.
const TORN: f64 = 0.9;

/// One call as it was recorded.
#[derive(Debug)]
pub struct Call {
    /// From the first onset to the last, in milliseconds.
    pub spread_ms: f64,
    /// How many terminals were silent.
    pub missing: usize,
    /// In how many the sound had a hole.
    pub torn: usize,
    /// Each terminal's onset against the mean, in milliseconds.
    pub onsets_ms: Vec<f64>,
}

impl Call {
    /// Compares the channels of one call.
    pub fn of(channels: &[Vec<f64>]) -> Call {
        let energy = |channel: &Vec<f64>| channel.iter().map(|x| x * x).sum::<f64>();
        let most = channels.iter().map(energy).fold(0.0, f64::max);
        let sounding: Vec<&Vec<f64>> = channels
            .iter()
            .filter(|channel| energy(channel) > MISSING * most)
            .collect();
        let lags: Vec<(f64, f64)> = sounding
            .iter()
            .map(|channel| likeness::lag(sounding[0], channel))
            .collect();
        let mean = lags.iter().map(|(lag, _)| lag).sum::<f64>() / lags.len() as f64;
        let onsets_ms: Vec<f64> = lags
            .iter()
            .map(|(lag, _)| (lag - mean) / RATE_HZ * 1000.0)
            .collect();
        let last = onsets_ms.iter().copied().fold(f64::MIN, f64::max);
        let first = onsets_ms.iter().copied().fold(f64::MAX, f64::min);
        Call {
            spread_ms: last - first,
            missing: channels.len() - sounding.len(),
            torn: lags.iter().filter(|(_, alike)| *alike < TORN).count(),
            onsets_ms,
        }
    }
}

/// All calls so far.
#[derive(Debug, Default)]
pub struct Spread {
    calls: usize,
    unheard: usize,
    missing: usize,
    torn: usize,
    starved: usize,
    spreads_ms: Vec<f64>,
    /// Those of calls in which no terminal was starved.
    quiet_ms: Vec<f64>,
    /// The worst of each lesson's first call.
    first_ms: f64,
    worst: String,
    /// Those beyond what the median is to be: the number in its lesson, and how far.
    beyond_ms: Vec<(usize, f64)>,
}

impl Spread {
    /// Takes the call that was the `number`th of its lesson, from nought.
    /// Meanwhile so many terminals were starved.
    pub fn take(&mut self, number: usize, call: Option<Call>, starved: usize) {
        self.calls += 1;
        self.starved += starved;
        let Some(call) = call else {
            self.unheard += 1;
            return;
        };
        self.missing += call.missing;
        self.torn += call.torn;
        if number == 0 {
            self.first_ms = self.first_ms.max(call.spread_ms);
        }
        if self.spreads_ms.iter().all(|ms| *ms < call.spread_ms) {
            let onsets: Vec<String> = call.onsets_ms.iter().map(|x| format!("{x:+.2}")).collect();
            self.worst = format!("number {} of its lesson: {}", number + 1, onsets.join(" "));
        }
        if call.spread_ms > MEDIAN_MS {
            self.beyond_ms.push((number + 1, call.spread_ms));
        }
        if starved == 0 {
            self.quiet_ms.push(call.spread_ms);
        }
        self.spreads_ms.push(call.spread_ms);
    }

    pub fn calls(&self) -> usize {
        self.calls
    }

    fn quantile_ms(&self, share: f64) -> f64 {
        quantile(&self.spreads_ms, share)
    }

    pub fn is_within_goals(&self) -> bool {
        let all_there = self.unheard == 0 && self.missing == 0;
        all_there && self.quantile_ms(0.5) <= MEDIAN_MS && self.quantile_ms(1.0) <= WORST_MS
    }

    /// Whether it is as good as can be asked of a machine that other tests keep
    /// busy: they starve terminals, and hold up the exchanges that clocks are set by.
    pub fn is_good_when_busy(&self) -> bool {
        self.unheard == 0 && self.missing == 0 && self.quantile_ms(0.5) <= BUSY_MEDIAN_MS
    }

    /// The calls beyond the goal of the median, by their number in the lesson.
    fn beyond(&self) -> String {
        let mut all = self.beyond_ms.clone();
        all.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
        let words: Vec<String> = all
            .chunk_by(|a, b| a.0 == b.0)
            .map(|same| {
                let (number, worst_ms) = same[0];
                format!("number {number} {} times, up to {worst_ms:.2}", same.len())
            })
            .collect();
        format!("{} calls ({})", all.len(), words.join("; "))
    }

    pub fn report(&self) -> String {
        format!(
            "calls {}, heard by nobody {}, terminals silent {}, with a hole in the sound {}, \
             starved {} times\n\
             from the first onset to the last, ms: median {:.2}, p95 {:.2}, worst {:.2} \
             (first calls of a lesson: worst {:.2})\n\
             the same, the {} calls in which nobody was starved: median {:.2}, p95 {:.2}, \
             worst {:.2}\n\
             goal: median {MEDIAN_MS}, worst {WORST_MS}\n\
             beyond {MEDIAN_MS} ms: {}\n\
             worst call, each onset against their mean, ms: {}",
            self.calls,
            self.unheard,
            self.missing,
            self.torn,
            self.starved,
            self.quantile_ms(0.5),
            self.quantile_ms(0.95),
            self.quantile_ms(1.0),
            self.first_ms,
            self.quiet_ms.len(),
            quantile(&self.quiet_ms, 0.5),
            quantile(&self.quiet_ms, 0.95),
            quantile(&self.quiet_ms, 1.0),
            self.beyond(),
            self.worst,
        )
    }
}

fn quantile(of: &[f64], share: f64) -> f64 {
    let mut sorted = of.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = (share * sorted.len() as f64).ceil() as usize;
    sorted.get(at.max(1) - 1).copied().unwrap_or(f64::INFINITY)
}

/// What the processors did so far, in clock ticks: all in all, doing nothing, and
/// stolen by other virtual machines. The columns of `/proc/stat`: proc_stat(5).
pub fn processors() -> Option<[u64; 3]> {
    let told = std::fs::read_to_string("/proc/stat").ok()?;
    let ticks: Vec<u64> = told
        .lines()
        .next()?
        .split_whitespace()
        .skip(1)
        .filter_map(|n| n.parse().ok())
        .collect();
    // Guests' time is counted in the first two columns already.
    let all = ticks.iter().take(8).sum();
    Some([all, ticks.get(3)? + ticks.get(4)?, *ticks.get(7)?])
}

/// What they did meanwhile, in words.
pub fn meanwhile(before: Option<[u64; 3]>) -> String {
    let (Some(before), Some(after)) = (before, processors()) else {
        return "processors: unknown".to_owned();
    };
    let [all, idle, stolen] = [0, 1, 2].map(|n| after[n].saturating_sub(before[n]) as f64);
    let percent = |part: f64| 100.0 * part / all.max(1.0);
    format!(
        "processors: idle {:.1} %, stolen by other virtual machines {:.2} %",
        percent(idle),
        percent(stolen)
    )
}

/// The machine's load now: over one minute, five, and fifteen.
pub fn load() -> String {
    let told = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let three: Vec<&str> = told.split(' ').take(3).collect();
    if three.len() == 3 {
        three.join(" ")
    } else {
        "unknown".to_owned()
    }
}

/// What a reader needs to know of the machine.
pub fn machine(load_before: &str) -> String {
    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    let pulse = Command::new("pulseaudio").arg("--version").output();
    let pulse = pulse.map_or_else(
        |_| "no PulseAudio".to_owned(),
        |out| String::from_utf8_lossy(&out.stdout).trim().to_owned(),
    );
    format!(
        "machine: {cores} processors, {pulse}; load before {load_before}, after {}",
        load()
    )
}
