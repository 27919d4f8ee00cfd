//! What the page for phones states of time, in Chromium with a private PulseAudio: that pages and
//! terminals start a call together, and that an answer on the instrument has the time that was
//! told, within what was told. Each is checked against sample positions in one recording.
//!
//! `FIFTHPEG_PAGE_CALLS` sets how many calls of each are measured (4 and 1, in the best of three
//! attempts); `scripts/bench-page` does.
//!
//! Needs the Debian packages pulseaudio, pulseaudio-utils and libasound2-plugins, and Chromium.
//! Without them it says `SKIPPED`, or fails if `FIFTHPEG_REQUIRE_ALL=1`.

#![cfg(unix)]

#[path = "hands_free/instruments.rs"]
#[allow(dead_code)] // The rest of it is for terminals.
mod instruments;
#[path = "skew/likeness.rs"]
mod likeness;
#[path = "hands_free/room.rs"]
#[allow(dead_code)]
mod room;
#[path = "skew/row.rs"]
#[allow(dead_code)]
mod row;
#[path = "skew/spread.rs"]
#[allow(dead_code)]
mod spread;

use std::net::IpAddr;
use std::process::Command;
use std::time::Duration;

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::phones::{can_be_tried, link_of};
use fifthpeg_tests::{Process, program, skip};
use instruments::Playing;
use room::{Room, time_of};
use row::{NAMES, RATE_HZ, Recorder, Row};
use spread::Call;

/// Louder than this is a tone, of full scale; softer than the other is none.
const LOUD: f32 = 0.01;
const QUIET: f64 = 0.0005;
const HEARD_WITHIN: Duration = Duration::from_secs(15);
/// What is reached on a machine that is not busy, in milliseconds.
const MEDIAN_MS: f64 = 20.0;
/// What is asked for where other tests run. Chosen freely.
const BUSY_MEDIAN_MS: f64 = 60.0;
/// How far the hundredths that are told, and the finding of two onsets in the recording, may be
/// off.
const MEASURED_WITHIN_S: f64 = 0.005 + 0.005;
const C4: u8 = 60;

/// A host whose page is at an address that is not loopback, and its link.
fn hall() -> Option<(Process, String, String)> {
    if !can_be_tried() {
        return None;
    }
    let own = if_addrs::get_if_addrs().unwrap_or_default();
    let ip = own
        .iter()
        .map(if_addrs::Interface::ip)
        .find(|ip| ip.is_ipv4() && !ip.is_loopback());
    let Some(ip @ IpAddr::V4(_)) = ip else {
        skip("the page's sound: this machine has no address but loopback");
        return None;
    };
    let mut command = Command::new(program());
    command
        .args([
            "host",
            "--plain",
            "--no-announce",
            "--no-book",
            "--output",
            "none",
        ])
        .args(["--port", "0", "--bind", &ip.to_string()])
        .args(["--reach", "twelve", "--name", "Village hall"])
        .args(["--passphrase", PASSPHRASE]);
    let mut host = Process::start("host", &mut command);
    let line = host.wait_for("address ");
    let address = line.trim_start_matches("address ").to_owned();
    let link = link_of(&mut host)?;
    Some((host, address, link))
}

fn calls_asked_for() -> Option<usize> {
    let asked = std::env::var_os("FIFTHPEG_PAGE_CALLS")?;
    let calls = asked.to_str().and_then(|n| n.parse().ok());
    Some(calls.expect("FIFTHPEG_PAGE_CALLS is a number of calls"))
}

fn quantile(of: &[f64], share: f64) -> f64 {
    let mut sorted = of.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = (share * sorted.len() as f64).ceil() as usize;
    sorted.get(at.max(1) - 1).copied().unwrap_or(f64::INFINITY)
}

/// How it went over some calls.
#[derive(Debug, Default)]
struct Apart {
    calls: usize,
    unheard: usize,
    spreads_ms: Vec<f64>,
    /// Of each page in each call: how far its onset was from the terminals', and how far it may
    /// be by what the page states.
    pages_ms: Vec<(f64, f64)>,
}

impl Apart {
    fn held(&self) -> f64 {
        let held = self
            .pages_ms
            .iter()
            .filter(|(off, stated)| off.abs() <= *stated);
        held.count() as f64 / self.pages_ms.len().max(1) as f64
    }

    fn report(&self) -> String {
        let offs: Vec<f64> = self.pages_ms.iter().map(|(off, _)| *off).collect();
        let stated: Vec<f64> = self.pages_ms.iter().map(|(_, stated)| *stated).collect();
        format!(
            "two pages and two terminals, {} calls, not all heard {} times\n\
             from the first onset to the last, ms: median {:.1}, p95 {:.1}, worst {:.1} (goal: median {MEDIAN_MS})\n\
             a page's onset after the terminals', ms: median {:.1}, from {:.1} to {:.1}\n\
             within what the page states (median {:.0} ms): {:.0} % (goal: 95 %)",
            self.calls,
            self.unheard,
            quantile(&self.spreads_ms, 0.5),
            quantile(&self.spreads_ms, 0.95),
            quantile(&self.spreads_ms, 1.0),
            quantile(&offs, 0.5),
            quantile(&offs, 0.0),
            quantile(&offs, 1.0),
            quantile(&stated, 0.5),
            100.0 * self.held(),
        )
    }
}

fn frames(seconds: f64) -> u64 {
    (seconds * RATE_HZ) as u64
}

/// One call, as it was recorded and as both pages stated it.
fn call(host: &mut Process, recorder: &Recorder, apart: &mut Apart) {
    let from = recorder.position();
    host.type_line("call random");
    let loud = |frame: &row::Frame| frame.iter().any(|x| x.abs() > LOUD);
    let onset = recorder.wait_for(from, HEARD_WITHIN, loud).expect("a tone");
    let end = onset + frames(0.9);
    assert!(
        recorder.wait_until(end, HEARD_WITHIN),
        "the recording goes on"
    );
    let heard = Call::of(&recorder.part(onset.saturating_sub(frames(0.3)).max(from), end));
    // In either order.
    host.wait_for_both("answer Ruth ", "answer Ben ");
    let told = ["answer Ruth ", "answer Ben "].map(|start| {
        let lines = host.lines();
        let last = lines.iter().rev().find(|line| line.starts_with(start));
        last.expect("it was waited for").clone()
    });
    host.type_line("close");
    host.wait_for("closed");
    apart.calls += 1;
    if heard.missing > 0 {
        apart.unheard += 1;
    } else {
        let onsets = &heard.onsets_ms;
        let terminals = (onsets[0] + onsets[1]) / 2.0;
        apart.spreads_ms.push(heard.spread_ms);
        for (onset, told) in onsets[2..].iter().zip(&told) {
            apart
                .pages_ms
                .push((onset - terminals, 1000.0 * time_of(told).1));
        }
    }
    // Until the tones have died away everywhere.
    loop {
        let from = recorder.position();
        recorder.wait_until(from + frames(0.2), HEARD_WITHIN);
        let sounds = |channel: &Vec<f64>| channel.iter().any(|x| x.abs() > QUIET);
        if !recorder.part(from, from + frames(0.2)).iter().any(sounds) {
            return;
        }
    }
}

fn measure(row: &Row, calls: usize) -> Option<Apart> {
    let (mut host, address, link) = hall()?;
    let mut terminals = [0, 1].map(|n| row.student(NAMES[n], &address, None));
    let mut pages = [2, 3].map(|n| row.page(NAMES[n], &link));
    for terminal in &mut terminals {
        terminal.wait_for("joined ");
    }
    for page in &mut pages {
        page.wait_for("in");
    }
    let recorder = row.record();
    let mut apart = Apart::default();
    // The first exchanges of clocks are over.
    std::thread::sleep(Duration::from_secs(3));
    for _ in 0..calls {
        call(&mut host, &recorder, &mut apart);
    }
    host.type_line("end");
    for process in terminals.iter_mut().chain(&mut pages) {
        let (code, lines, errors) = process.finish();
        assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
    }
    Some(apart)
}

#[test]
fn pages_start_a_call_with_the_terminals_within_what_they_state() {
    let Some(row) = Row::start("page-skew") else {
        return;
    };
    let asked = calls_asked_for();
    let mut failures = Vec::new();
    for _ in 0..if asked.is_some() { 1 } else { 3 } {
        let Some(apart) = measure(&row, asked.unwrap_or(4)) else {
            return;
        };
        println!("{}", apart.report());
        let median = if asked.is_some() {
            MEDIAN_MS
        } else {
            BUSY_MEDIAN_MS
        };
        let near = quantile(&apart.spreads_ms, 0.5) <= median;
        if near && apart.unheard == 0 && apart.held() >= 0.95 {
            return;
        }
        failures.push(apart.report());
    }
    panic!("out of bounds:\n{}", failures.join("\n"));
}

/// Plays two plucks of the called note at the page's microphone: how far the told time is off, and
/// how far it may be.
fn answered(room: &Room, host: &mut Process, playing: &Playing) -> (f64, f64) {
    let recorder = room.record();
    host.type_line("call C4");
    host.wait_for("call ");
    // The tone is over, and so is its echo.
    std::thread::sleep(Duration::from_millis(3000));
    let (answer, truth) = room.answer_to(recorder, host, playing);
    host.type_line("close");
    host.wait_for("closed");
    let (told, stated) = time_of(&answer);
    (told - truth, stated)
}

#[test]
fn an_answer_at_the_page_s_microphone_has_its_time_within_what_is_stated() {
    let Some(room) = Room::start("page-plucks") else {
        return;
    };
    // A banjo that nobody here made; where it cannot be had, the project's own.
    let playing = instruments::general_midi(&room.dir(), &[C4, C4]);
    let playing = playing.unwrap_or_else(|_| instruments::own_banjo(&[C4, C4]));
    let Some((mut host, _, link)) = hall() else {
        return;
    };
    let mut page = room.page("Mia", &link);
    page.wait_for("listens");
    let asked = calls_asked_for();
    let mut all = Vec::new();
    let held = |(off, stated): &&(f64, f64)| off.abs() <= stated + MEASURED_WITHIN_S;
    for _ in 0..asked.unwrap_or(3) {
        all.push(answered(&room, &mut host, &playing));
        // A machine busy with other tests may tear a hole into the sound.
        if asked.is_none() && all.last().as_ref().is_some_and(&held) {
            break;
        }
    }
    host.type_line("end");
    let (code, lines, errors) = page.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
    let offs: Vec<f64> = all.iter().map(|(off, _)| 1000.0 * off).collect();
    let stated: Vec<f64> = all.iter().map(|(_, stated)| 1000.0 * stated).collect();
    let share = all.iter().filter(held).count() as f64 / all.len() as f64;
    println!(
        "answers on the instrument at a page, {} calls\n\
         told after the recorded, ms: median {:.0}, from {:.0} to {:.0}\n\
         within what the page states (median {:.0} ms): {:.0} % (goal: 95 %)",
        all.len(),
        quantile(&offs, 0.5),
        quantile(&offs, 0.0),
        quantile(&offs, 1.0),
        quantile(&stated, 0.5),
        100.0 * share,
    );
    let enough = if asked.is_some() { 0.95 } else { 0.01 };
    assert!(share >= enough, "{all:?}");
}
