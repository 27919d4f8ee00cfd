//! Whole lessons without a hand on the computer, in virtual time: what the ears
//! of the hall hear, false plucks and the lesson's own tones among it, over
//! links with delays and losses.

#[allow(dead_code, reason = "each test file uses part of it")]
mod hall;

use std::collections::BTreeMap;
use std::time::Duration;

use fifthpeg_core::{Neck, Pitch, Reference};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{Answer, CallId, Source, StudentId};
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_lesson::terminal::{Doubt, HandsFree, HeardNote, SoundKind, StudentOrder};
use fifthpeg_lesson::view::CallStage;
use proptest::prelude::*;

use hall::{Hall, OUTPUT_UNCERTAINTY, SoundedTone};

const ONSET_OFF: Duration = Duration::from_millis(4);
const WITHIN_US: u64 = 2_000_000;

/// One pluck as it was really played.
#[derive(Debug, Clone, Copy)]
struct Played {
    seat: usize,
    pitch: Pitch,
    onset_us: u64,
    /// The ear took it back.
    withdrawn: bool,
}

/// A hall with ears.
struct Ears {
    hall: Hall,
    next_id: u64,
    played: Vec<Played>,
    /// Chords, by seat.
    chords: Vec<(usize, u64)>,
    /// Tones that the microphones will hear, and how many are known.
    to_sound: Vec<SoundedTone>,
    tones_seen: usize,
}

fn pitch_of(tone: &SoundedTone) -> Pitch {
    let reference = Reference::default();
    let off = |p: &Pitch| ((p.frequency_hz(reference) - tone.frequency_hz).abs() * 1e6) as u64;
    let pitches = (0..128).filter_map(Pitch::new);
    pitches.min_by_key(off).expect("some pitch")
}

impl Ears {
    fn new(seed: u64, seats: usize, slowest_us: u64) -> Self {
        let neck = Neck::ready("banjo-open-g").unwrap();
        let mut setup = LessonSetup::new("Village hall", &neck);
        setup.rules.reach = "octave".parse().unwrap();
        setup.seed = seed;
        let mut hall = Hall::new(setup, 3_000_000_000, seed);
        for _ in 0..seats {
            let offset = hall.roll(8_000_000_000) as i64 - 4_000_000_000;
            let least = hall.roll(slowest_us);
            let most = least + hall.roll(slowest_us);
            let seat = hall.add_seat(offset, (least, most));
            let ear = Some(HandsFree::default());
            hall.seats[seat].terminal.set_hands_free(ear);
            hall.connect(seat);
        }
        let mut ears = Self {
            hall,
            next_id: 0,
            played: Vec::new(),
            chords: Vec::new(),
            to_sound: Vec::new(),
            tones_seen: 0,
        };
        ears.pass(3_000_000);
        ears
    }

    fn heard(&mut self, seat: usize, pitch: Pitch, onset_us: u64) -> u64 {
        self.next_id += 1;
        let note = HeardNote::Pluck {
            id: self.next_id,
            pitch,
            cents: 0.0,
            at: self.hall.at_seat(seat, onset_us),
            uncertainty: ONSET_OFF,
        };
        let decided = onset_us + 50_000 + self.hall.roll(50_000);
        self.hall.hear(seat, decided, note);
        self.next_id
    }

    fn play(&mut self, seat: usize, pitch: Pitch, withdrawn: bool) {
        let onset_us = self.hall.now_us;
        let id = self.heard(seat, pitch, onset_us);
        let fate = if withdrawn {
            let why = Doubt::Slide;
            HeardNote::Withdrawn { id, why }
        } else {
            HeardNote::MayAnswer { id }
        };
        let fated = onset_us + 150_000 + self.hall.roll(100_000);
        self.hall.hear(seat, fated, fate);
        self.played.push(Played {
            seat,
            pitch,
            onset_us,
            withdrawn,
        });
    }

    fn chord(&mut self, seat: usize) {
        let now = self.hall.now_us;
        let note = HeardNote::Unsure {
            at: self.hall.at_seat(seat, now),
            why: Doubt::SeveralNotes,
        };
        self.hall.hear(seat, now + 60_000, note);
        self.chords.push((seat, now));
    }

    /// Lets time pass in small steps, and has every microphone hear what it
    /// would: its own terminal's tones, and everybody's where all sound.
    fn pass(&mut self, us: u64) {
        let until = self.hall.now_us + us;
        while self.hall.now_us < until {
            let step = (until - self.hall.now_us).min(20_000);
            self.hall.pass(step);
            self.to_sound.extend(&self.hall.tones[self.tones_seen..]);
            self.tones_seen = self.hall.tones.len();
            let now = self.hall.now_us;
            let (due, ahead) = self.to_sound.iter().partition(|t| t.at_us <= now);
            self.to_sound = ahead;
            let due: Vec<SoundedTone> = due;
            for tone in due {
                for seat in 0..self.hall.seats.len() {
                    if seat == tone.seat || self.sounds_with(seat, &tone) {
                        self.heard(seat, pitch_of(&tone), tone.at_us + 3000);
                    }
                }
            }
        }
    }

    /// Whether a seat sounds the call at the same time. A terminal that is away
    /// then, or one that sounds it alone because it comes late, cannot know of
    /// the others: a limit of several players in one room without headphones.
    fn sounds_with(&self, seat: usize, tone: &SoundedTone) -> bool {
        // Ordered ahead: at an instant that the host named.
        let named = |t: &SoundedTone| t.ordered_us < t.at_us;
        named(tone)
            && self.hall.tones.iter().any(|own| {
                own.seat == seat
                    && named(own)
                    && own.call == tone.call
                    && own.at_us.abs_diff(tone.at_us) < 150_000
            })
    }

    fn pitch_near(&mut self, seat: usize) -> Pitch {
        // Around the target now and then, so that some are right.
        let call = self.hall.lesson.view().call;
        let target = call.map_or(62, |c| c.pitch.midi());
        let midi = u64::from(target) + self.hall.roll(3) + seat as u64 % 2 - 1;
        Pitch::new(midi as u8).unwrap()
    }

    fn act(&mut self, losses: bool) {
        let seats = self.hall.seats.len() as u64;
        let seat = self.hall.roll(seats) as usize;
        let pitch = self.pitch_near(seat);
        match self.hall.roll(if losses { 18 } else { 16 }) {
            0 => drop(self.hall.host_order(HostOrder::CallRandom)),
            1 => drop(self.hall.host_order(HostOrder::HearAgain)),
            2 => drop(self.hall.host_order(HostOrder::Close)),
            3 => drop(self.hall.student_order(seat, StudentOrder::Hear)),
            4 => {
                let at = StudentOrder::Try(Answer::Pitch(pitch));
                self.hall.student_order(seat, at);
            }
            5 => self.chord(seat),
            6 => self.play(seat, pitch, true),
            7..10 => self.play(seat, pitch, false),
            10..14 => {
                self.play(seat, pitch, false);
                let gap = 200_000 + self.hall.roll(600_000);
                self.pass(gap);
                let withdrawn = self.hall.roll(4) == 0;
                self.play(seat, pitch, withdrawn);
            }
            14 | 15 => self.pass(1_500_000),
            16 => self.hall.disconnect(seat),
            _ => self.hall.connect(seat),
        }
    }

    fn seat_of(&self, id: StudentId) -> usize {
        let is = |seat: &usize| {
            let view = self.hall.seats[*seat].terminal.view(self.hall.host(0));
            view.welcome.is_some_and(|w| w.student == id)
        };
        (0..self.hall.seats.len()).find(is).expect("a seat")
    }

    /// When the call's tone left this seat.
    fn first_tone_us(&self, seat: usize, call: CallId) -> Option<u64> {
        let is =
            |t: &&SoundedTone| t.seat == seat && t.call == Some(call) && t.kind == SoundKind::Call;
        self.hall.tones.iter().find(is).map(|t| t.at_us)
    }

    /// Whether two like plucks in a row, played and not taken back, end at
    /// `onset_us`: told from what was played, not from what was heard.
    fn is_row(&self, seat: usize, pitch: Pitch, onset_us: u64) -> bool {
        let own = |p: &&Played| p.seat == seat && !p.withdrawn && p.onset_us <= onset_us;
        let mut own: Vec<_> = self.played.iter().filter(own).collect();
        own.sort_by_key(|p| p.onset_us);
        let [.., first, last] = own[..] else {
            return false;
        };
        let between =
            |(s, at): &(usize, u64)| *s == seat && (first.onset_us..last.onset_us).contains(at);
        last.onset_us == onset_us
            && (first.pitch, last.pitch) == (pitch, pitch)
            && last.onset_us - first.onset_us <= WITHIN_US
            && !self.chords.iter().any(between)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Nothing but two like plucks in a row answers: no tone of the lesson, no
    /// chord, nothing taken back; and its time is the true one.
    #[test]
    fn only_a_row_that_was_played_answers(seed: u64) {
        let mut ears = Ears::new(seed, 3, 60_000);
        for _ in 0..90 {
            ears.act(true);
            let gap = ears.hall.roll(700_000);
            ears.pass(gap);
        }
        for seat in 0..3 {
            ears.hall.connect(seat);
        }
        ears.pass(10_000_000);
        for event in &ears.hall.events {
            match event {
                LessonEvent::Answered {
                    student, call, answer, source, response, uncertainty, ..
                } => {
                    prop_assert_eq!(*source, Source::Instrument);
                    let seat = ears.seat_of(*student);
                    let Answer::Pitch(pitch) = *answer else { panic!("{event:?}") };
                    let start = ears.first_tone_us(seat, *call).expect("it sounded");
                    let response = response.expect("it sounded");
                    let onset_us = start + response.as_micros() as u64;
                    prop_assert!(ears.is_row(seat, pitch, onset_us), "{event:?}");
                    prop_assert_eq!(*uncertainty, OUTPUT_UNCERTAINTY + ONSET_OFF);
                }
                LessonEvent::Tried { student, tried, source: Source::Instrument, .. } => {
                    let seat = ears.seat_of(*student);
                    let Answer::Pitch(pitch) = *tried else { panic!("{event:?}") };
                    let like = |p: &&Played| p.seat == seat && p.pitch == pitch && !p.withdrawn;
                    prop_assert!(ears.played.iter().any(|p| like(&p)), "{event:?}");
                }
                _ => {}
            }
        }
    }

    /// And every row that was played in the clear does answer, once.
    #[test]
    fn every_row_in_the_clear_answers(seed: u64) {
        let mut ears = Ears::new(seed, 3, 60_000);
        let mut rows: BTreeMap<(StudentId, CallId), u64> = BTreeMap::new();
        for _ in 0..6 {
            ears.hall.host_order(HostOrder::CallRandom);
            ears.pass(3_500_000);
            let call = ears.hall.lesson.view().call.unwrap();
            for seat in 0..3 {
                // One semitone off, so that another row may follow.
                let pitch = Pitch::new(call.pitch.midi() + 1).unwrap();
                for _ in 0..2 {
                    ears.play(seat, pitch, false);
                    let gap = 300_000 + ears.hall.roll(1_000_000);
                    ears.pass(gap);
                }
                for _ in 0..2 + ears.hall.roll(3) {
                    ears.play(seat, call.pitch, false);
                    ears.pass(500_000);
                }
                let view = ears.hall.seats[seat].terminal.view(ears.hall.host(0));
                rows.insert((view.welcome.unwrap().student, call.id), 2);
            }
            ears.pass(2_000_000);
            prop_assert!(ears.hall.lesson.view().all_found());
            ears.hall.host_order(HostOrder::Reveal);
            ears.hall.host_order(HostOrder::Close);
            ears.pass(500_000);
        }
        let mut answered = BTreeMap::new();
        for event in &ears.hall.events {
            if let LessonEvent::Answered { student, call, .. } = event {
                *answered.entry((*student, *call)).or_insert(0) += 1;
            }
        }
        prop_assert_eq!(answered, rows);
        let view = ears.hall.lesson.view();
        for student in &view.students {
            prop_assert_eq!((student.tally.found, student.tally.played), (6, 6));
        }
        prop_assert_eq!(view.call.unwrap().stage, CallStage::Closed);
    }
}
