//! What a page keeps in the browser's storage, so that a reload or a phone that
//! slept comes back into the same seat with its answers.

use fifthpeg_core::text::{hex, unhex};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{AnswerNotice, FromStudent};
use fifthpeg_lock::{Fingerprint, SeatSecret};
use fifthpeg_wire::{ClientFrame, decode_client, encode_client};
use serde::{Deserialize, Serialize};

/// As it stands in the storage.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(crate) struct Kept {
    pub(crate) name: String,
    student: u32,
    key: String,
    /// The host that proved itself; none in an open lesson.
    host: Option<String>,
    /// Answers that the host has not spoken of, as they travel, each with where its
    /// call starts.
    waiting: Vec<(String, Option<u64>)>,
}

impl Kept {
    pub(crate) fn new(
        name: &str,
        seat: SeatSecret,
        host: Option<Fingerprint>,
        waiting: impl Iterator<Item = (AnswerNotice, Option<Moment>)>,
    ) -> Self {
        let waiting = waiting.filter_map(|(notice, start)| {
            let frame = ClientFrame::Lesson(FromStudent::Answer(notice));
            Some((hex(&encode_client(&frame).ok()?), start.map(Moment::micros)))
        });
        Self {
            name: name.to_owned(),
            student: seat.student,
            key: hex(&seat.key.to_be_bytes()),
            host: host.map(|host| hex(&host.0)),
            waiting: waiting.collect(),
        }
    }

    /// The seat; `None` if what was kept is not of this program.
    pub(crate) fn seat(&self) -> Option<SeatSecret> {
        Some(SeatSecret {
            student: self.student,
            key: u128::from_be_bytes(unhex(&self.key)?.try_into().ok()?),
        })
    }

    /// The host whose seat it is.
    pub(crate) fn host(&self) -> Option<Fingerprint> {
        let bytes = unhex(self.host.as_ref()?)?;
        Some(Fingerprint(bytes.try_into().ok()?))
    }

    pub(crate) fn waiting(&self) -> impl Iterator<Item = (AnswerNotice, Option<Moment>)> + '_ {
        self.waiting.iter().filter_map(|(frame, start)| {
            match decode_client(&unhex(frame)?).ok()? {
                ClientFrame::Lesson(FromStudent::Answer(notice)) => {
                    Some((notice, start.map(Moment::from_micros)))
                }
                _ => None,
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use core::time::Duration;

    use fifthpeg_lesson::message::{Answer, CallId, Source};

    use super::*;

    #[test]
    fn what_is_kept_comes_back_as_it_was() {
        let seat = SeatSecret {
            student: 7,
            key: u128::MAX - 3,
        };
        let notice = AnswerNotice {
            call: CallId(3),
            serial: 2,
            answer: Answer::Place("2/1".parse().unwrap()),
            source: Source::Screen,
            response: Some(Duration::from_micros(4_210_000)),
            uncertainty: Duration::from_millis(80),
        };
        let waiting = [(notice, Some(Moment::from_micros(12))), (notice, None)];
        let host = Some(Fingerprint([9; 32]));
        let kept = Kept::new("Mia", seat, host, waiting.into_iter());
        let text = serde_json::to_string(&kept).unwrap();
        let read: Kept = serde_json::from_str(&text).unwrap();
        assert_eq!(read.seat(), Some(seat));
        assert_eq!(read.host(), host);
        assert_eq!(read.waiting().collect::<Vec<_>>(), waiting);
        // Of another program, or spoilt: nothing is made of it.
        let spoilt: Kept = serde_json::from_str(&text.replace("ff", "x")).unwrap();
        assert_eq!(spoilt.seat(), None);
    }
}
