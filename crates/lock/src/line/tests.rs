use super::*;
use crate::guesses::GuessLimits;
use crate::{ChannelBinding, Fingerprint};

const STEP: Duration = Duration::from_millis(50);
/// Shares that one processor finds in a step, in hundredths.
const ONE_CORE: u32 = 100;
/// Addresses of the one machine that guesses.
const ADDRESSES: u32 = 200;
/// As many as it never comes twice from one.
const EVER_NEW: u32 = 1 << 16;

fn limits() -> LineLimits {
    LineLimits {
        // Any number is a share: what is tried here is who comes first.
        zero_bits: 0,
        ..LineLimits::default()
    }
}

fn puzzle() -> Puzzle {
    let binding = ChannelBinding {
        exporter: [1; 32],
        host: Fingerprint([2; 32]),
    };
    Puzzle::new(&binding, limits().zero_bits)
}

/// How the one machine that guesses goes about it.
#[derive(Debug, Clone, Copy)]
enum Attack {
    /// It hangs up and comes again, and works for nothing.
    HangsUp,
    /// It works for all its guesses alike.
    Spreads,
    /// It works for so many at a time, and for the next once these are looked at.
    Piles(usize),
}

struct Guess {
    ticket: Ticket,
    from: IpAddr,
    right: bool,
    /// What its terminal works in a step, in hundredths of a share.
    power: u32,
    worked: u32,
    told: u64,
}

struct Hall {
    now: Duration,
    guesses: Guesses,
    line: Line,
    waiting: Vec<Guess>,
    let_in: usize,
    wrong: u64,
}

impl Hall {
    fn new(limits: LineLimits) -> Self {
        Self {
            now: Duration::ZERO,
            guesses: Guesses::new(GuessLimits::default()),
            line: Line::new(limits),
            waiting: Vec::new(),
            let_in: 0,
            wrong: 0,
        }
    }

    fn enter(&mut self, from: IpAddr, right: bool, power: u32) {
        if let Some(ticket) = self.line.enter(from, puzzle(), self.now) {
            self.waiting.push(Guess {
                ticket,
                from,
                right,
                power,
                worked: 0,
                told: 0,
            });
        }
    }

    /// Everyone works for a step, and all that may be is looked at.
    fn step(&mut self) {
        self.now += STEP;
        for guess in &mut self.waiting {
            guess.worked += guess.power;
            let found = u64::from(guess.worked / 100);
            let shares: Vec<u64> = (guess.told..found).collect();
            guess.told = found;
            self.line.worked(guess.ticket, &shares, self.now).unwrap();
        }
        // Nothing else happens to anybody until there is room.
        let elsewhere = IpAddr::from([10, 0, 9, 1]);
        let room = self.guesses.would(elsewhere, self.now) == Verdict::Look;
        if !room && !self.now.as_millis().is_multiple_of(1000) {
            return;
        }
        let mut at = 0;
        while at < self.waiting.len() {
            let guess = &self.waiting[at];
            let gone = match self.line.standing(guess.ticket, &self.guesses, self.now) {
                Standing::Waits(_) => false,
                Standing::Out(_) => true,
                Standing::First => {
                    assert_eq!(self.guesses.guess(guess.from, self.now), Verdict::Look);
                    if guess.right {
                        self.guesses.was_right(guess.from);
                        self.let_in += 1;
                    } else {
                        self.wrong += 1;
                    }
                    true
                }
            };
            if gone {
                self.line.leave(guess.ticket);
                self.waiting.remove(at);
                // Somebody else may be first now.
                at = 0;
            } else {
                at += 1;
            }
        }
    }

    /// Forty guesses a second, one at a time from each of so many addresses, and
    /// how the machine's processors go about them.
    fn attack(&mut self, attack: Attack, (cores, addresses): (u32, u32), step: u32) {
        if matches!(attack, Attack::HangsUp) {
            let gone = self.waiting.extract_if(.., |guess| !guess.right);
            gone.for_each(|guess| self.line.leave(guess.ticket));
        }
        let from = |n: u32| IpAddr::from((0x0a01_0000 | (n % addresses)).to_be_bytes());
        for n in [2 * step, 2 * step + 1] {
            if !self.waiting.iter().any(|g| g.from == from(n)) {
                self.enter(from(n), false, 0);
            }
        }
        let line = &self.line.waiting;
        let is_in_line = |g: &&mut Guess| line.iter().any(|w| w.ticket == g.ticket);
        let bad = self.waiting.iter_mut().filter(|g| !g.right);
        let mut bad: Vec<&mut Guess> = bad.filter(is_in_line).collect();
        // The next to be worked for is the newest: none is less likely to be let go.
        bad.sort_by_key(|g| core::cmp::Reverse((g.worked, g.ticket)));
        let piles = match attack {
            Attack::HangsUp => return,
            Attack::Spreads => bad.len(),
            Attack::Piles(piles) => piles.min(bad.len()),
        };
        let power = cores * ONE_CORE / u32::try_from(piles).unwrap();
        for (n, guess) in bad.into_iter().enumerate() {
            guess.power = if n < piles { power } else { 0 };
        }
    }
}

/// Three newcomers with one processor each, beside such an attack that has gone
/// on for so many steps: how long until all are in, if they are within a minute, and
/// how many wrong guesses were looked at in all that time.
fn trial(attack: Attack, machine: (u32, u32), before: u32) -> (Option<Duration>, u64, Duration) {
    let mut hall = Hall::new(limits());
    for step in 0..before + 1200 {
        hall.attack(attack, machine, step);
        if step == before {
            for n in 1..=3 {
                hall.enter(IpAddr::from([10, 0, 2, n]), true, ONE_CORE);
            }
        }
        hall.step();
        if hall.let_in == 3 {
            return (Some(STEP * (step - before)), hall.wrong, hall.now);
        }
    }
    (None, hall.wrong, hall.now)
}

#[test]
fn newcomers_are_in_within_twenty_seconds_however_one_machine_guesses() {
    let piles = [1, 3, 7, 12, 30].map(Attack::Piles);
    let attacks = [Attack::HangsUp, Attack::Spreads].into_iter().chain(piles);
    // As many processors as one newcomer has, and as all three together; and at
    // different moments between two that are looked at.
    let machines = [(1, ADDRESSES), (3, ADDRESSES), (3, EVER_NEW)];
    for (attack, machine) in attacks.flat_map(|a| machines.map(|m| (a, m))) {
        for before in [600, 640] {
            let (in_after, wrong, time) = trial(attack, machine, before);
            let in_after = in_after.unwrap_or(Duration::MAX);
            assert!(
                in_after <= Duration::from_secs(20),
                "{attack:?} by {machine:?}: {in_after:?}"
            );
            let most = GuessLimits::default().most_within(time);
            assert!(
                (60..=most).contains(&wrong),
                "{attack:?}: {wrong} of {most}"
            );
        }
    }
}

#[test]
fn who_comes_first_in_an_idle_line_is_looked_at_first() {
    let mut hall = Hall::new(limits());
    for n in 0..5 {
        hall.enter(IpAddr::from([10, 0, 3, n]), false, 0);
    }
    // There is room for sixty: nobody waits.
    hall.step();
    assert_eq!((hall.wrong, hall.line.waiting()), (5, 0));
}

#[test]
fn who_guessed_wrong_before_needs_more_work_and_never_four_times_as_much_again() {
    let mut hall = Hall::new(limits());
    let (bad, good) = (IpAddr::from([10, 0, 4, 1]), IpAddr::from([10, 0, 4, 2]));
    for _ in 0..9 {
        assert_eq!(hall.guesses.guess(bad, hall.now), Verdict::Look);
    }
    let enter = |hall: &mut Hall, from| hall.line.enter(from, puzzle(), hall.now).unwrap();
    let (first, second) = (enter(&mut hall, bad), enter(&mut hall, good));
    let now = Duration::from_secs(1);
    let is_first = |hall: &Hall| hall.line.first(&hall.guesses, now);
    assert_eq!(is_first(&hall), Some(second));
    hall.line.worked(first, &[1, 2], now).unwrap();
    assert_eq!(is_first(&hall), Some(second));
    hall.line.worked(first, &[3, 4], now).unwrap();
    assert_eq!(is_first(&hall), Some(first));
}

#[test]
fn a_full_line_lets_go_of_the_idle_and_keeps_who_works() {
    let mut hall = Hall::new(LineLimits {
        places: 3,
        ..limits()
    });
    let from = |n| IpAddr::from([10, 0, 5, n]);
    let at = |s| Duration::from_secs(s);
    let tickets = [1, 2, 3].map(|n| hall.line.enter(from(n), puzzle(), at(0)).unwrap());
    // Nobody has had time to begin.
    assert_eq!(hall.line.enter(from(4), puzzle(), at(0)), None);
    let shares: Vec<u64> = (0..20).collect();
    for ticket in [tickets[0], tickets[2]] {
        hall.line.worked(ticket, &shares, at(2)).unwrap();
    }
    assert!(hall.line.enter(from(4), puzzle(), at(2)).is_some());
    let standing = hall.line.standing(tickets[1], &hall.guesses, at(2));
    assert!(matches!(standing, Standing::Out(_)), "{standing:?}");
    // The others have worked, and the newest has yet to begin.
    assert_eq!(hall.line.enter(from(5), puzzle(), at(2)), None);
    assert_eq!(hall.line.waiting(), 3);
}

#[test]
fn work_that_is_none_or_comes_twice_ends_the_connection_and_more_than_counts_is_not_looked_at() {
    let hard = Puzzle::new(
        &ChannelBinding {
            exporter: [1; 32],
            host: Fingerprint([2; 32]),
        },
        40,
    );
    let mut line = Line::new(limits());
    let from = IpAddr::from([10, 0, 6, 1]);
    let ticket = line.enter(from, hard, Duration::ZERO).unwrap();
    assert!(line.worked(ticket, &[1], Duration::ZERO).is_err());
    let ticket = line.enter(from, puzzle(), Duration::ZERO).unwrap();
    assert!(line.worked(ticket, &[5, 5], Duration::ZERO).is_err());
    let ticket = line.enter(from, puzzle(), Duration::ZERO).unwrap();
    let many: Vec<u64> = (0..1000).collect();
    line.worked(ticket, &many, Duration::ZERO).unwrap();
    // A second's worth, and then no more until time has passed.
    let found = |line: &Line| line.waiting.last().map(|w| w.shares);
    assert_eq!(found(&line), Some(32));
    line.worked(ticket, &[0, 0], Duration::ZERO).unwrap();
    line.worked(
        ticket,
        &(1000..2000).collect::<Vec<_>>(),
        Duration::from_secs(1),
    )
    .unwrap();
    assert_eq!(found(&line), Some(64));
}

#[test]
fn whoever_has_waited_too_long_is_out() {
    let mut hall = Hall::new(limits());
    let ticket = hall
        .line
        .enter(IpAddr::from([10, 0, 7, 1]), puzzle(), Duration::ZERO);
    let ticket = ticket.unwrap();
    let used_up = |guesses: &mut Guesses, now| {
        for n in 0..100 {
            let _ = guesses.guess(IpAddr::from([10, 0, 8, n]), now);
        }
    };
    used_up(&mut hall.guesses, Duration::ZERO);
    let at = |guesses: &Guesses, s| hall.line.standing(ticket, guesses, Duration::from_secs(s));
    assert_eq!(
        at(&hall.guesses, 0),
        Standing::Waits(Duration::from_secs(3))
    );
    // Room comes by and by; whoever is first has it, however late.
    assert_eq!(at(&hall.guesses, 3), Standing::First);
    assert_eq!(at(&hall.guesses, 100), Standing::First);
    used_up(&mut hall.guesses, Duration::from_secs(23));
    assert_eq!(
        at(&hall.guesses, 23),
        Standing::Waits(Duration::from_secs(1))
    );
    used_up(&mut hall.guesses, Duration::from_secs(24));
    assert!(matches!(at(&hall.guesses, 24), Standing::Out(_)));
}
