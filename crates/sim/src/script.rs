//! What a seed makes of a lesson: who is there, how good their machines and the
//! network are, what they do, and what goes wrong when.

use std::path::PathBuf;

use fifthpeg_core::{Neck, ReachStep};
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::message::Mode;
use fifthpeg_lesson::setup::Picking;

use crate::act::{Act, Fault, HostAct, MOST_SEATS, StudentAct};
use crate::bug::Bug;
use crate::clock::Clock;
use crate::clock::{MS, SECOND, START_US};
use crate::dice::Dice;
use crate::host::{marking, sounding, telling};
use crate::pacing::pace;
use crate::parts::{Disk, Earlier, Seat};
use crate::world::{Happening, World};

const NAMES: [&str; 8] = ["Mia", "Ivo", "Ruth", "Ben", "Ada", "Noor", "Tom", "Lea"];
const NECKS: [&str; 3] = ["banjo-open-g", "guitar", "ukulele"];

/// Everything about a lesson that its seed decides beforehand.
#[derive(Debug)]
pub(crate) struct Script {
    pub lasts_us: u64,
    /// Acts are that far apart at most.
    gap_us: u64,
    /// Of a thousand acts, so many are faults.
    faults: u64,
    /// The lesson's end comes in the middle of trouble.
    pub ends_in_trouble: bool,
    friends: bool,
    written: bool,
}

/// The world of this seed, and what is to happen in it.
pub(crate) fn world_of(
    seed: u64,
    folder: PathBuf,
    bug: Option<Bug>,
    keep_trace: bool,
) -> (World, Script) {
    let mut dice = Dice::new(seed);
    let friends = dice.chance(250);
    let written = dice.chance(900);
    let setup = setup(&mut dice, friends, seed);
    let count = if friends {
        dice.between(2, 5)
    } else {
        dice.between(1, u64::from(MOST_SEATS))
    };
    let seats = (0..count as usize)
        .map(|i| seat(&mut dice, NAMES[i]))
        .collect();
    let ppm = dice.between(0, 100) as i64 - 50;
    let host_clock = Clock::new(START_US, dice.between(SECOND, 90_000 * SECOND), ppm);
    let disk = Disk::new(written.then_some(folder));
    let mut world = World::new(seed, setup, seats, host_clock, disk, bug, keep_trace);
    if written && dice.chance(600) {
        world.earlier = Earlier::new(seed, true);
    }
    world.host.ppm = ppm;
    world.host.speakers_late_us = dice.between(0, 100 * MS);
    let script = Script {
        lasts_us: dice.between(30, 240) * SECOND,
        gap_us: dice.between(300, 3_000) * MS,
        faults: dice.pick(&[0, 30, 100, 100, 250]),
        ends_in_trouble: dice.chance(150),
        friends,
        written,
    };
    (world, script)
}

fn setup(dice: &mut Dice, friends: bool, seed: u64) -> LessonSetup {
    let neck = Neck::ready(dice.pick(&NECKS)).expect("a ready neck");
    let mut setup = LessonSetup::new("Village hall", &neck);
    setup.seed = seed;
    setup.rules.marking = marking(dice.any() as u8);
    setup.rules.telling = telling(dice.any() as u8);
    setup.rules.sounding = sounding(dice.pick(&[0, 0, 0, 1, 2]));
    setup.rules.sing_first = dice.chance(300);
    setup.rules.reach = dice.pick(&ReachStep::all()).into();
    setup.pace = pace(seed, friends);
    if friends {
        setup.rules.mode = Mode::Friends;
        setup.speakers_among_friends = true;
    }
    if dice.chance(400) {
        setup.picking = Picking::Teaching;
    }
    if dice.chance(200) {
        setup.max_students = dice.between(2, 4) as u32;
    }
    if dice.chance(200) {
        setup.max_answers = dice.between(1, 4) as u32;
    }
    setup
}

fn seat(dice: &mut Dice, name: &str) -> Seat {
    let ppm = dice.between(0, 100) as i64 - 50;
    let clock = Clock::new(START_US, dice.between(SECOND, 90_000 * SECOND), ppm);
    let mut seat = Seat::new(name.to_owned(), clock);
    let (least, most) = dice.pick(&[(200, 900), (500, 4_000), (2_000, 30_000), (20_000, 120_000)]);
    seat.delay_up_us = (least, most);
    // The ways may differ: the bound holds all the same.
    let other = dice.pick(&[1, 1, 1, 3]);
    seat.delay_down_us = (least * other, most * other);
    seat.lost_per_mille = dice.pick(&[0, 0, 5, 30]);
    seat.output_us = dice.pick(&[MS, 5 * MS, 20 * MS]);
    seat.silent = dice.chance(60);
    seat.microphone = dice.chance(400);
    seat
}

impl Script {
    /// Puts everything that people do and that goes wrong in its time.
    pub fn write(&self, world: &mut World, dice: &mut Dice) {
        let seats = world.seats.len() as u64;
        for n in 0..seats {
            let soon = dice.between(0, 4 * SECOND);
            world.at(
                START_US + soon,
                Happening::Act(Act::Student(n as u8, StudentAct::Start)),
            );
        }
        let end = START_US + self.lasts_us;
        let mut at = START_US + 2 * SECOND;
        while at < end {
            at += dice.between(MS, self.gap_us);
            let act = if dice.chance(self.faults) {
                Act::Fault(self.fault(dice))
            } else if !self.friends && dice.chance(220) || dice.chance(60) {
                Act::Host(host_act(dice, self.friends))
            } else {
                Act::Student(dice.below(seats) as u8, student_act(dice, self.friends))
            };
            world.at(at, Happening::Act(act));
            // What people do, they often do twice: a row of plucks above all.
            // A host in a hurry meets a network that does not hurry.
            if matches!(act, Act::Fault(Fault::Partition(..) | Fault::DiskSlow(_)))
                && dice.chance(250)
            {
                let soon = at + dice.between(0, 500) * MS;
                let stuck = HostAct::StuckKey(dice.any() as u8);
                world.at(soon, Happening::Act(Act::Host(HostAct::CallRandom)));
                world.at(soon + MS, Happening::Act(Act::Host(stuck)));
            }
            if let Act::Student(_, StudentAct::Pluck(_) | StudentAct::PluckRight) = act {
                world.at(at + dice.between(150, 900) * MS, Happening::Act(act));
            }
        }
    }

    fn fault(&self, dice: &mut Dice) -> Fault {
        let who = dice.any() as u8;
        let tenths = dice.pick(&[2, 5, 10, 20, 50, 90, 130, 200]);
        match dice.below(if self.written { 15 } else { 11 }) {
            0 | 1 => Fault::Cut(who),
            2 => Fault::TerminalLoses(who),
            3 => Fault::HostLoses(who),
            4 | 5 => Fault::Partition(who, tenths),
            6 => Fault::PartitionAll(tenths),
            7 | 8 => Fault::Far(who, tenths),
            9 => Fault::ClockJumps(who, dice.any() as u8),
            10 => Fault::ClockStands(who, dice.any() as u8),
            11 | 12 => Fault::HostKilled(dice.pick(&[1, 5, 20, 100, 250])),
            13 => Fault::DiskSlow(tenths),
            _ => Fault::DiskFails(tenths),
        }
    }
}

fn host_act(dice: &mut Dice, friends: bool) -> HostAct {
    let n = dice.any() as u8;
    if friends && dice.chance(700) {
        return dice.pick(&[
            HostAct::PassTurn,
            HostAct::Reveal,
            HostAct::Close,
            HostAct::HearAgain,
        ]);
    }
    match dice.below(40) {
        0..=11 => HostAct::CallRandom,
        12..=13 => HostAct::CallPlace(n),
        14 => HostAct::CallPitch(n),
        15..=17 => HostAct::HearAgain,
        18..=25 => HostAct::Reveal,
        26..=29 => HostAct::Close,
        30 => HostAct::Reach(n),
        31 => HostAct::Marking(n),
        32 => HostAct::Sounding(n),
        33 => HostAct::Telling(n),
        34 => HostAct::SingFirst(n.is_multiple_of(2)),
        35 => HostAct::Teach(n.is_multiple_of(2)),
        36 => HostAct::PassTurn,
        37 if n < 120 => HostAct::Remove(n),
        38 if n < 20 => HostAct::WithoutBook,
        39 => HostAct::Same(n),
        _ => HostAct::CallRandom,
    }
}

fn student_act(dice: &mut Dice, friends: bool) -> StudentAct {
    let n = dice.any() as u8;
    if friends && dice.chance(350) {
        return match dice.below(10) {
            0..=4 => StudentAct::Pick((n.is_multiple_of(3)).then_some(n)),
            5 => StudentAct::CallerHearAgain,
            6..=8 => StudentAct::CallerReveal,
            _ => StudentAct::CallerClose,
        };
    }
    match dice.below(50) {
        0..=4 => StudentAct::Hear,
        5..=14 => StudentAct::Try(n),
        15..=22 => StudentAct::AnswerPlace(n),
        23..=26 => StudentAct::AnswerPitch(n),
        27..=33 => StudentAct::AnswerRight,
        34..=37 => StudentAct::Pluck(n),
        38..=40 => StudentAct::PluckRight,
        41 => StudentAct::AnswerHeard,
        42..=43 => StudentAct::Sing(n as i8),
        44 if n < 128 => StudentAct::Kill,
        45 if n < 64 => StudentAct::Leave,
        46..=48 => StudentAct::Start,
        _ => StudentAct::Try(n),
    }
}
