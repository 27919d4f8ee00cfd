//! The student's terminal in a browser: this program's own terminal, frames, lock
//! and tone as WebAssembly. The page's script opens the WebSocket, plays the tones
//! and draws what [`Page::view`] says; whatever is decided is decided here.
//!
//! Times are microseconds of the page's own clock, from an hour before the page
//! was loaded, so that moments before it exist as well.

mod carrier;
mod ear;
mod hall;
mod heard;
mod kept;
mod neck;
mod session;
mod view;
mod words;

use core::time::Duration;

use fifthpeg_core::Position;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{Answer, Refusal};
use fifthpeg_lesson::terminal::{HandsFree, Listening, SoundId, SoundOrder, StudentOrder};
use fifthpeg_lock::Passphrase;
use fifthpeg_tone::{Level, ToneSpec, Voice, render, tone_length};
use wasm_bindgen::prelude::wasm_bindgen;

use ear::{Block, PageEar};
pub use session::{Carrying, PageSession, PageStanding};

/// A student at a page.
#[wasm_bindgen]
pub struct Page {
    session: PageSession,
    /// While the phone's microphone is open.
    ear: Option<PageEar>,
    level: Level,
    left_handed: bool,
    /// What the last order was refused for.
    refusal: Option<String>,
    sound: Option<SoundOrder>,
}

fn moment(us: f64) -> Moment {
    Moment::from_micros(us.max(0.0) as u64)
}

/// Why these are no words of a lesson; nothing if they are.
#[wasm_bindgen]
pub fn words_trouble(words: &str) -> Option<String> {
    Passphrase::typed(words).err().map(|e| e.to_string())
}

/// Why this is no name for a lesson; nothing if it is one.
#[wasm_bindgen]
pub fn name_trouble(name: &str) -> Option<String> {
    let trouble = if name.trim().is_empty() {
        Some("Type the name that your teacher knows you by.")
    } else if name.trim().chars().count() > fifthpeg_lesson::setup::MAX_NAME_CHARS as usize {
        Some("That name is too long: a first name will do.")
    } else {
        None
    };
    trouble.map(str::to_owned)
}

/// A tone to find out whether the phone sounds at all: an open string.
#[wasm_bindgen]
pub fn test_tone(sample_rate_hz: u32, percent: u32) -> Vec<f32> {
    let tone = ToneSpec {
        frequency_hz: 196.0,
        voice: Voice::default(),
        pluck_seed: 1,
        level: Level::from_percent(percent.min(100)).unwrap_or_default(),
    };
    render(&tone, sample_rate_hz).unwrap_or_default()
}

#[wasm_bindgen]
impl Page {
    /// A newcomer. Words are given where the link has them or they were typed.
    #[wasm_bindgen(constructor)]
    pub fn new(name: &str, words: Option<String>, now: f64) -> Page {
        let words = words.and_then(|words| Passphrase::typed(&words).ok());
        Self::over(PageSession::new(name.trim(), words, moment(now)))
    }

    /// A page for a projector.
    pub fn hall(words: Option<String>, now: f64) -> Page {
        let words = words.and_then(|words| Passphrase::typed(&words).ok());
        Self::over(PageSession::hall(words, moment(now)))
    }

    /// What such a page shows, as JSON.
    pub fn hall_view(&self) -> String {
        serde_json::to_string(&hall::of(&self.session)).unwrap_or_default()
    }

    /// Who was here before the page was loaded again; nothing if what was kept is
    /// not of this program.
    pub fn coming_back(kept: &str, words: Option<String>, now: f64) -> Option<Page> {
        let kept = serde_json::from_str(kept).ok()?;
        let words = words.and_then(|words| Passphrase::typed(&words).ok());
        PageSession::coming_back(&kept, words, moment(now)).map(Self::over)
    }

    fn over(session: PageSession) -> Self {
        Self {
            session,
            ear: None,
            level: Level::default(),
            left_handed: false,
            refusal: None,
            sound: None,
        }
    }

    /// What to keep in the browser; nothing if nothing is to be.
    pub fn to_keep(&self) -> Option<String> {
        serde_json::to_string(&self.session.to_keep()?).ok()
    }

    /// The path of the WebSocket to hold open; nothing if there is to be none.
    pub fn wants(&self, now: f64) -> Option<String> {
        let way = self.session.wants(moment(now))?;
        Some(fifthpeg_wire::path_of(way == Carrying::Locked).to_owned())
    }

    /// The WebSocket is open.
    pub fn opened(&mut self, now: f64) {
        self.session.opened(moment(now));
    }

    /// The WebSocket is closed, or did not open.
    pub fn closed(&mut self, now: f64) {
        self.session.closed(moment(now));
    }

    /// A message came over it.
    pub fn received(&mut self, message: Vec<u8>, now: f64) {
        self.session.received(message, moment(now));
    }

    /// The next message to send.
    pub fn poll_out(&mut self) -> Option<Vec<u8>> {
        self.session.poll_out()
    }

    /// When [`Page::timeout`] is due; nothing if it is not.
    pub fn deadline(&self) -> Option<f64> {
        self.session.next_deadline().map(|at| at.micros() as f64)
    }

    /// Time has come to it.
    pub fn timeout(&mut self, now: f64) {
        self.session.handle_timeout(moment(now));
    }

    /// The phone was asleep.
    pub fn slept(&mut self, now: f64) {
        self.session.handle_slept(moment(now));
    }

    /// Words typed at the lock.
    pub fn give_words(&mut self, words: &str, now: f64) {
        if let Ok(words) = Passphrase::typed(words) {
            self.session.give_words(words, moment(now));
        }
    }

    /// How loud tones are, in percent.
    pub fn set_level(&mut self, percent: u32) {
        self.level = Level::from_percent(percent.min(100)).unwrap_or_default();
    }

    /// Which way the neck lies.
    pub fn set_left_handed(&mut self, left_handed: bool) {
        self.left_handed = left_handed;
    }

    /// The next tone to sound: when its start is to leave the phone. What came of
    /// it goes to [`Page::sounded`] or [`Page::not_sounded`].
    pub fn poll_sound(&mut self) -> Option<f64> {
        self.sound = self.session.terminal.poll_sound();
        self.sound.map(|order| order.at.micros() as f64)
    }

    /// The samples of that tone; none if it cannot be made.
    pub fn samples(&self, sample_rate_hz: u32) -> Vec<f32> {
        let tone = self.sound.map(|order| ToneSpec {
            frequency_hz: order.tone.frequency_hz,
            voice: order.tone.voice,
            pluck_seed: order.tone.pluck_seed,
            level: self.level,
        });
        tone.and_then(|tone| render(&tone, sample_rate_hz).ok())
            .unwrap_or_default()
    }

    /// Its number, for [`Page::sounded`].
    pub fn sound_id(&self) -> f64 {
        self.sound.map_or(0.0, |order| order.id.0 as f64)
    }

    /// That tone left the phone at this moment, give or take.
    pub fn sounded(&mut self, started: f64, uncertainty: f64, now: f64) {
        if let Some(order) = self.sound {
            let uncertainty = Duration::from_micros(uncertainty.max(0.0) as u64);
            let lasts = tone_length(order.tone.voice);
            let terminal = &mut self.session.terminal;
            terminal.handle_sounded(order.id, moment(started), uncertainty, lasts);
            self.session.drain(moment(now));
        }
    }

    /// The tone of this number did not sound.
    pub fn not_sounded(&mut self, id: f64, now: f64) {
        self.session.terminal.handle_not_sounded(SoundId(id as u64));
        self.session.drain(moment(now));
    }

    /// The phone's microphone is open, at this rate; `headphones` where tones are
    /// heard there alone.
    pub fn microphone(&mut self, sample_rate_hz: u32, headphones: bool) {
        // The plucks of one ear are numbered: a new one begins only with another microphone.
        if self
            .ear
            .as_ref()
            .is_none_or(|ear| ear.rate_hz() != sample_rate_hz)
        {
            self.ear = Some(PageEar::new(sample_rate_hz));
        }
        self.session.terminal.set_hands_free(Some(HandsFree {
            headphones,
            ..HandsFree::default()
        }));
    }

    /// It is closed.
    pub fn microphone_closed(&mut self, now: f64) {
        self.ear = None;
        self.session.terminal.set_hands_free(None);
        self.session.drain(moment(now));
    }

    /// Whether to listen just now: while a call is open that this student answers.
    pub fn may_listen(&mut self, now: f64) -> bool {
        let terminal = &self.session.terminal;
        let view = terminal.view(moment(now));
        let Some((ear, (neck, a4_hz))) = self.ear.as_mut().zip(terminal.tuning()) else {
            return false;
        };
        ear.set_singing(terminal.may_sing());
        view::listens(&view) && ear.tune(neck, a4_hz)
    }

    /// Takes in what the microphone heard: samples whose first was in the air at that
    /// moment, give or take, after so many that were not heard. Whether there is news.
    pub fn hear(
        &mut self,
        samples: &[f32],
        at: f64,
        uncertainty: f64,
        lost: f64,
        now: f64,
    ) -> bool {
        let Some(ear) = &mut self.ear else {
            return false;
        };
        let terminal = &mut self.session.terminal;
        ear.set_own_tone(terminal.listening(moment(now)) == Listening::Muted);
        let block = Block {
            at: moment(at),
            uncertainty: Duration::from_micros(uncertainty.max(0.0) as u64),
            lost: lost.max(0.0) as u64,
        };
        ear.hear(samples, block);
        let mut news = false;
        while let Some(heard) = ear.poll() {
            terminal.handle_heard(heard, moment(now));
            news = true;
        }
        self.session.drain(moment(now));
        news
    }

    /// Does what the student asks at this moment (the event's own): `hear`, `try
    /// 2/1`, `answer 2/1`, `answer` and `call` (with what was plucked), `place 2/1` (where
    /// that was), `pick`, `pick 2/1`, `again`, `reveal`, `close`, `leave`.
    /// What it is refused for stands in the view.
    pub fn order(&mut self, order: &str, asked: f64) {
        let now = moment(asked);
        let done = match read(order) {
            Some(order) => {
                let done = self.session.terminal.handle_order(order, now);
                if done.is_ok() && order == StudentOrder::Leave {
                    self.session.leave(now);
                }
                done
            }
            None => Ok(()),
        };
        self.refusal = done
            .err()
            .map(|why: Refusal| fifthpeg_lesson::words::as_sentence(&why.to_string()));
        self.session.drain(now);
    }

    /// What the page shows, as JSON.
    pub fn view(&mut self, now: f64) -> String {
        // What happened is seen in the view; a page keeps no lines of it.
        while self.session.terminal.poll_event().is_some() {}
        let view = view::of(
            &self.session,
            self.ear.is_some(),
            self.refusal.as_deref(),
            self.left_handed,
            moment(now),
        );
        serde_json::to_string(&view).unwrap_or_default()
    }
}

fn read(order: &str) -> Option<StudentOrder> {
    let (word, rest) = order.split_once(' ').unwrap_or((order, ""));
    let place = rest.parse::<Position>().ok().map(Answer::Place);
    Some(match word {
        "hear" => StudentOrder::Hear,
        "try" => StudentOrder::Try(place?),
        "answer" if rest.is_empty() => StudentOrder::AnswerHeard,
        "answer" => StudentOrder::Answer(place?),
        "call" => StudentOrder::CallHeard,
        "place" => StudentOrder::AnswerPlace(rest.parse().ok()?),
        "pick" => StudentOrder::Pick(place),
        "again" => StudentOrder::CallerHearAgain,
        "reveal" => StudentOrder::CallerReveal,
        "close" => StudentOrder::CallerClose,
        "leave" => StudentOrder::Leave,
        _ => return None,
    })
}
