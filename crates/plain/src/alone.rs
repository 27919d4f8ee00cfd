//! Plain mode alone: the commands that call, and what the lesson tells besides.

use std::sync::Arc;
use std::time::Duration;

use fifthpeg_core::text;
use fifthpeg_host::alone::Gap;
use fifthpeg_host::{Host, Notice, OrderError};
use fifthpeg_lesson::message::Refusal;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_vocab::pace::parse_gap;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::sync::watch;

use crate::host::say_notice;
use crate::rules::Suggestions;
use crate::say::{Say, Word};
use crate::table::{LineCommand, Read::Rest, bare};

/// The host's commands that there are alone as well, beside those of the rules.
pub const ALONE_HOST_WORDS: &[&str] = &["reach", "suggest", "without-book", "new-book", "end"];

/// One command of who is alone.
#[derive(Debug, Clone, PartialEq)]
pub enum AloneLine {
    /// Call the next note.
    Next,
    /// Show the note.
    Reveal,
    /// Say the pause before the next note.
    GapNow,
    /// Change it.
    Gap(Option<Duration>),
}

/// Every command, in the order of the help.
pub const ALONE_COMMANDS: &[LineCommand<AloneLine>] = &[
    bare(
        "next",
        "call the first note, or the next one",
        AloneLine::Next,
    ),
    bare(
        "reveal",
        "show the note that you do not find, and all its places",
        AloneLine::Reveal,
    ),
    LineCommand {
        word: "gap",
        form: "[SECONDS | off]",
        does: "say or change how long after one note is shown the next is called by itself",
        read: Rest(|_, rest| match rest {
            "" => Ok(AloneLine::GapNow),
            off if off.eq_ignore_ascii_case("off") => Ok(AloneLine::Gap(None)),
            seconds => Ok(AloneLine::Gap(Some(parse_gap(seconds)?))),
        }),
    },
];

/// Does what a command asks; whether a note was called.
///
/// # Errors
/// One sentence that says what to do instead.
pub async fn obey(host: &Host, pace: &Gap, line: AloneLine, say: &mut Say) -> Result<bool, String> {
    let order = match line {
        AloneLine::Next => HostOrder::CallRandom,
        AloneLine::Reveal => HostOrder::Reveal,
        AloneLine::GapNow => {
            say_gap(pace, say);
            return Ok(false);
        }
        AloneLine::Gap(gap) => {
            pace.set(gap);
            say_gap(pace, say);
            return Ok(false);
        }
    };
    let calls = order == HostOrder::CallRandom;
    let done = host.order(order).await.map_err(|error| match error {
        OrderError::Refused(Refusal::CallOpen) => {
            "a note is called: answer it, or type reveal".to_owned()
        }
        OrderError::Refused(Refusal::NoCall) => "no note is called: type next".to_owned(),
        error => error.to_string(),
    });
    done.map(|()| calls)
}

/// Says when the next note is called.
pub fn say_gap(pace: &Gap, say: &mut Say) {
    let when = match pace.gap() {
        Some(gap) => format!("{} after one is shown", text::seconds(gap)),
        None => "off: next calls a note".to_owned(),
    };
    say.say(Word::Gap, when);
}

/// What the lesson tells besides.
pub struct Feed {
    views: watch::Receiver<Arc<LessonView>>,
    notices: broadcast::Receiver<Notice>,
    suggestions: Suggestions,
}

impl Feed {
    /// Begins to listen.
    pub fn of(host: &Host) -> Self {
        Self {
            views: host.view(),
            notices: host.notices(),
            suggestions: Suggestions::default(),
        }
    }

    /// Says what is suggested for the reach, if that is news.
    pub fn say(&mut self, say: &mut Say) {
        let view = Arc::clone(&self.views.borrow_and_update());
        self.suggestions.say(view.suggestion.as_ref(), say);
    }
}

/// Waits for something new, and says what came as a notice; never ends where
/// there is no feed.
pub async fn news(feed: &mut Option<Feed>, say: &mut Say) {
    let Some(open) = feed else {
        return std::future::pending().await;
    };
    let over = tokio::select! {
        changed = open.views.changed() => changed.is_err(),
        notice = open.notices.recv() => {
            let over = matches!(notice, Err(RecvError::Closed));
            say_notice(notice, say);
            over
        }
    };
    if over {
        *feed = None;
    }
}
