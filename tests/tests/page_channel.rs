//! A page's channel: its terminal's own encryption within a WebSocket, at the program's
//! lock, with somebody in between, and with somebody who only sends back what came.

use std::time::{Duration, Instant};

use fifthpeg_lesson::Moment;
use fifthpeg_link::channel::HostChannel;
use fifthpeg_link::handshake;
use fifthpeg_link::secure::{self, HostKey, LockChannel, Stream, chance};
use fifthpeg_lock::{HostLock, HostStep, Passphrase};
use fifthpeg_page::{Carrying, PageSession, PageStanding};
use fifthpeg_wire::{ClientFrame, LockAsk, LockReply};
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream, copy_bidirectional, duplex};

const WITHIN: Duration = Duration::from_secs(20);

fn words(text: &str) -> Passphrase {
    Passphrase::typed(text).expect("words")
}

/// A page with these words, until it knows whether it is in; what it thinks then.
async fn page(typed: &str, mut way: DuplexStream) -> PageStanding {
    let begun = Instant::now();
    let now = || Moment::from_micros(begun.elapsed().as_micros() as u64 + 1);
    let mut session = PageSession::new("Mia", Some(words(typed)), now());
    assert_eq!(session.wants(now()), Some(Carrying::Locked));
    session.opened(now());
    let mut piece = vec![0; 4096];
    loop {
        while let Some(out) = session.poll_out() {
            if way.write_all(&out).await.is_err() {
                return session.standing().clone();
            }
        }
        if !matches!(session.standing(), PageStanding::Coming) {
            return session.standing().clone();
        }
        match way.read(&mut piece).await {
            Ok(0) | Err(_) => return session.standing().clone(),
            Ok(many) => session.received(piece[..many].to_vec(), now()),
        }
    }
}

/// The end that has the key, as far as the lock.
async fn end_of(
    key: &HostKey,
    way: DuplexStream,
) -> Option<(LockChannel<Stream>, secure::ChannelBinding)> {
    let (stream, binding) = secure::host(way, key).await.ok()?;
    let stream: Stream = Box::new(stream);
    let channel = handshake::accept_within(stream, WITHIN).await.ok()?;
    Some((channel.speaking(), binding))
}

/// A host with its words; who joined it, if the lock opened.
async fn host(key: HostKey, way: DuplexStream) -> Option<String> {
    let (mut channel, binding) = end_of(&key, way).await?;
    let hall = words("acorn river candle tiger");
    let (mut lock, first) = HostLock::new((&hall, key.for_class_keys()), binding, "Hall");
    channel.send(&first).await.ok()?;
    loop {
        let ask = channel.recv().await.ok()??;
        let mut step = lock.handle(ask, chance()).ok()?;
        loop {
            step = match step {
                HostStep::LookUp { .. } => lock.seat(None),
                HostStep::LookUpKey { .. } => lock.class_key(None),
                HostStep::Guess => lock.judge(),
                HostStep::Say(reply) => {
                    channel.send(&reply).await.ok()?;
                    break;
                }
                HostStep::Shut { reply, .. } => {
                    channel.send(&reply).await.ok()?;
                    channel.close().await;
                    return None;
                }
                HostStep::Open(reply) => {
                    channel.send(&reply).await.ok()?;
                    let mut joining: HostChannel<Stream> = channel.speaking();
                    let Some(ClientFrame::Join { name, .. }) = joining.recv().await.ok()? else {
                        return None;
                    };
                    return Some(name);
                }
            };
        }
    }
}

#[tokio::test]
async fn the_words_open_the_lock_over_one_channel() {
    let (here, there) = duplex(64 * 1024);
    let key = HostKey::make().expect("a key");
    let (standing, joined) = tokio::join!(
        page("acorn river candle tiger", here),
        host(key.clone(), there)
    );
    assert_eq!(joined.as_deref(), Some("Mia"), "{standing:?}");
    let (here, there) = duplex(64 * 1024);
    let (standing, joined) = tokio::join!(page("acorn river", here), host(key, there));
    assert_eq!(joined, None);
    assert_eq!(standing, PageStanding::WordsWanted { wrong: true });
}

#[tokio::test]
async fn the_right_words_relayed_between_two_channels_open_nothing() {
    let (here, near) = duplex(64 * 1024);
    let (far, there) = duplex(64 * 1024);
    let own = HostKey::make().expect("a key");
    let between = async move {
        let (mut near, _) = secure::host(near, &own).await.ok()?;
        let (mut far, _) = secure::student(far).await.ok()?;
        copy_bidirectional(&mut near, &mut far).await.ok()
    };
    let key = HostKey::make().expect("a key");
    let all = async {
        tokio::join!(
            page("acorn river candle tiger", here),
            host(key, there),
            between
        )
    };
    let (standing, joined, _) = tokio::time::timeout(WITHIN, all).await.expect("it ends");
    assert_eq!(joined, None);
    assert_eq!(standing, PageStanding::WordsWanted { wrong: true });
}

#[tokio::test]
async fn a_page_does_not_believe_its_own_proof_sent_back() {
    let (here, there) = duplex(64 * 1024);
    let reflecting = async move {
        let own = HostKey::make().ok()?;
        let (mut channel, _) = end_of(&own, there).await?;
        let name = "Hall".to_owned();
        channel.send(&LockReply::Lesson { name }).await.ok()?;
        let mut sent_back = 0;
        while let Ok(Some(ask)) = channel.recv().await {
            let reply = match ask {
                LockAsk::Passphrase { element } => LockReply::Element { element },
                LockAsk::Proof { proof } => LockReply::Open { proof },
                _ => break,
            };
            sent_back += 1;
            channel.send(&reply).await.ok()?;
        }
        Some(sent_back)
    };
    let (standing, sent_back) = tokio::join!(page("acorn river candle tiger", here), reflecting);
    assert_eq!(sent_back, Some(2));
    assert_eq!(standing, PageStanding::NotTheHost);
}
