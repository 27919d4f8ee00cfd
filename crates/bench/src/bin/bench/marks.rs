//! From a student's answer to its mark, without and with a lesson book: a mark
//! is sent once the answer is written down.

use std::path::Path;
use std::time::{Duration, Instant};

use fifthpeg_book::{Book, Outlives};
use fifthpeg_core::Pitch;
use fifthpeg_host::{Host, HostBook};
use fifthpeg_lesson::message::{Answer, AnswerNotice, FromStudent, SeatKey, Source};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_link::connect::{Reached, Way, connect_any};
use fifthpeg_vocab::ToStudent;
use fifthpeg_wire::ClientFrame;
use fifthpeg_wire::HostFrame;
use tokio::sync::{broadcast, mpsc};

use crate::Failure;
use crate::hosting::{self, connected};
use crate::table::Table;

/// Where answers are written.
#[derive(Clone, Copy)]
enum Kept {
    Nowhere,
    Book(Outlives),
}

/// Times `rounds` calls that so many answer at once.
pub async fn measure(
    table: &mut Table,
    numbers: &[usize],
    rounds: usize,
    folder: &Path,
) -> Result<(), Failure> {
    for &number in numbers {
        let mut alone = None;
        for (kept, name) in [
            (Kept::Nowhere, "no book"),
            (Kept::Book(Outlives::Kill), "book, outlives a kill"),
            (Kept::Book(Outlives::PowerCut), "book, outlives a power cut"),
        ] {
            let what = format!("{number} answer at once: to the mark, {name}");
            let times = marks(number, rounds, kept, folder).await?;
            let median = table.times(&what, times, String::new());
            let beside: Duration = *alone.get_or_insert(median);
            let ratio = median.as_secs_f64() / beside.as_secs_f64();
            table.remark(format!("{ratio:.1} times no book"));
        }
    }
    Ok(())
}

/// How long each answer of each round waited for its mark.
async fn marks(
    number: usize,
    rounds: usize,
    kept: Kept,
    folder: &Path,
) -> Result<Vec<Duration>, Failure> {
    let mut config = hosting::config("Bench: marks", number, hosting::Way::Plain)?;
    let path = folder.join("bench.book");
    if let Kept::Book(outlives) = kept {
        let mut book = HostBook::begin(Book::open(&path)?, "Bench");
        book.outlives = outlives;
        config.book = Some(book);
    }
    let host = fifthpeg_host::start(config).await?;
    let (called, calls) = mpsc::channel(number);
    let (marked, mut marks) = mpsc::channel(number);
    let (go, _) = broadcast::channel(4);
    for i in 0..number {
        let student = answering(&host, i, called.clone(), go.subscribe(), marked.clone());
        student.await?;
    }
    let mut calls = calls;
    let everyone = |v: &std::sync::Arc<_>| connected(v) == number;
    host.view().wait_for(everyone).await?;
    let mut times = Vec::new();
    for _ in 0..rounds {
        host.order(HostOrder::CallRandom).await?;
        for _ in 0..number {
            calls.recv().await.ok_or("a student stopped")?;
        }
        // What the call itself gave to write is written.
        tokio::time::sleep(Duration::from_millis(20)).await;
        go.send(())?;
        for _ in 0..number {
            times.push(marks.recv().await.ok_or("a student stopped")?);
        }
        host.order(HostOrder::Close).await?;
    }
    host.end().await?;
    Ok(times)
}

/// A student who says when a call has come, answers when told to, and says how
/// long the mark took.
async fn answering(
    host: &Host,
    i: usize,
    called: mpsc::Sender<()>,
    mut go: broadcast::Receiver<()>,
    marked: mpsc::Sender<Duration>,
) -> Result<(), Failure> {
    let within = Duration::from_secs(5);
    let connected = connect_any(&host.local_addrs(), Way::Open, within).await?;
    let Reached::Open(mut channel) = connected.reached else {
        return Err("the lesson is not open".into());
    };
    let join = ClientFrame::join(&format!("Student {i}"), None, SeatKey(i as u128));
    channel.send(&join).await?;
    let pitch = Pitch::new(50).ok_or("no such note")?;
    tokio::spawn(async move {
        let mut asked = Instant::now();
        while let Ok(Some(frame)) = channel.recv().await {
            let goes_on = match frame {
                HostFrame::Lesson(ToStudent::Call(notice)) => {
                    let answer = ClientFrame::Lesson(FromStudent::Answer(AnswerNotice {
                        call: notice.call,
                        serial: 1,
                        answer: Answer::Pitch(pitch),
                        source: Source::Screen,
                        response: None,
                        uncertainty: Duration::ZERO,
                    }));
                    let told = called.send(()).await.is_ok() && go.recv().await.is_ok();
                    asked = Instant::now();
                    told && channel.send(&answer).await.is_ok()
                }
                HostFrame::Lesson(ToStudent::Marked { .. }) => {
                    marked.send(asked.elapsed()).await.is_ok()
                }
                _ => true,
            };
            if !goes_on {
                return;
            }
        }
    });
    Ok(())
}
