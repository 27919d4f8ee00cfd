//! What students at pages cost the host in memory: a locked lesson in a process of its
//! own, and so many pages' terminals that come in by its lock and hear one call.
//!
//!     cargo run -p fifthpeg-bench --release --bin page_memory [PAGES]

use std::error::Error;
use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use fifthpeg_bench::memory::resident_kb;
use fifthpeg_host::{HostConfig, Lock};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::{LessonSetup, Moment};
use fifthpeg_link::secure::HostKey;
use fifthpeg_lock::Passphrase;
use fifthpeg_page::{PageSession, PageStanding};
use futures_util::{SinkExt, StreamExt};
use tokio::sync::mpsc;
use tokio_tungstenite::tungstenite::{Bytes, Message};

type Done<T> = Result<T, Box<dyn Error + Send + Sync>>;

fn main() -> Done<()> {
    let runtime = tokio::runtime::Runtime::new()?;
    match std::env::args().nth(1).as_deref() {
        Some("host") => runtime.block_on(host()),
        pages => runtime.block_on(measure(pages.unwrap_or("100").parse()?)),
    }
}

/// Says where it is and its words; then its memory for each line that it gets.
async fn host() -> Done<()> {
    let neck = fifthpeg_core::Neck::ready("banjo-open-g").ok_or("no such neck")?;
    let mut setup = LessonSetup::new("Bench: pages", &neck);
    setup.max_students = 1000;
    let config = HostConfig {
        lock: Lock::Passphrase {
            key: HostKey::make()?,
            passphrase: Passphrase::typed("acorn river candle tiger")?,
        },
        bind: vec!["127.0.0.1:0".parse()?],
        announce: false,
        ..HostConfig::new(setup)
    };
    let host = fifthpeg_host::start(config).await?;
    let words = host.page_words().ok_or("the lesson is not locked")?;
    println!("{} {words}", host.local_addrs()[0]);
    for line in std::io::stdin().lock().lines() {
        if line? == "call" {
            host.order(HostOrder::CallRandom).await?;
        }
        println!("{}", resident_kb()?);
    }
    Ok(())
}

/// One page, until it is dropped.
async fn page(number: usize, at: String, words: String, said: mpsc::Sender<()>) -> Done<()> {
    let begun = Instant::now();
    let now = || Moment::from_micros(begun.elapsed().as_micros() as u64 + 1);
    let words = Passphrase::typed(&words)?;
    let mut session = PageSession::new(&format!("Page {number}"), Some(words), now());
    let address = format!("ws://{at}{}", fifthpeg_wire::WITHIN_PATH);
    let (mut socket, _) = tokio_tungstenite::connect_async(address).await?;
    session.opened(now());
    let mut told = false;
    loop {
        while let Some(out) = session.poll_out() {
            socket.send(Message::Binary(Bytes::from(out))).await?;
        }
        if !told && *session.standing() == PageStanding::In {
            told = true;
            said.send(()).await?;
        }
        tokio::select! {
            message = socket.next() => if let Message::Binary(bytes) = message.ok_or("closed")?? {
                session.received(bytes.to_vec(), now());
            },
            () = tokio::time::sleep(Duration::from_millis(200)) => session.handle_timeout(now()),
        }
    }
}

async fn measure(pages: usize) -> Done<()> {
    let mut host = Command::new(std::env::current_exe()?)
        .arg("host")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    let mut ask = host.stdin.take().ok_or("no way in")?;
    let mut answers = BufReader::new(host.stdout.take().ok_or("no way out")?).lines();
    let mut answer = || -> Done<String> { Ok(answers.next().ok_or("it ended")??) };
    let first = answer()?;
    let (at, words) = first.split_once(' ').ok_or("no address")?;
    let (said, mut came) = mpsc::channel(pages);
    let one = |number| page(number, at.to_owned(), words.to_owned(), said.clone());
    // What the first ones make the host fetch is nobody's in particular.
    let mut running: Vec<_> = (0..10).map(|number| tokio::spawn(one(number))).collect();
    for _ in 0..10 {
        came.recv().await.ok_or("a page stopped")?;
    }
    tokio::time::sleep(Duration::from_secs(2)).await;
    writeln!(ask, "now")?;
    let before: u64 = answer()?.parse()?;
    for number in 10..10 + pages {
        running.push(tokio::spawn(one(number)));
        came.recv().await.ok_or("a page stopped")?;
    }
    writeln!(ask, "call")?;
    answer()?;
    tokio::time::sleep(Duration::from_secs(5)).await;
    writeln!(ask, "now")?;
    let after: u64 = answer()?.parse()?;
    let each = (after.saturating_sub(before)) as f64 / pages as f64;
    println!("memory of the host for each page student, of {pages}: {each:.1} kB");
    drop(ask);
    host.wait()?;
    Ok(())
}
