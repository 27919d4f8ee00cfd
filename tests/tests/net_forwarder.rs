//! The made-up network does what it says, and a terminal's clock over it is no
//! further off than it states.

use std::time::{Duration, Instant};

use fifthpeg_tests::clock_trial::{Path, readings};
use fifthpeg_tests::forwarder::{Forwarder, Lane};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// Both ends of a connection through a forwarder.
async fn through() -> (Forwarder, TcpStream, TcpStream) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let way = Forwarder::to(listener.local_addr().unwrap()).await;
    let student = TcpStream::connect(way.address()).await.unwrap();
    let host = listener.accept().await.unwrap().0;
    (way, student, host)
}

/// How long one byte takes.
async fn takes(from: &mut TcpStream, to: &mut TcpStream) -> Duration {
    let sent = Instant::now();
    from.write_all(b"x").await.unwrap();
    assert_eq!(to.read_u8().await.unwrap(), b'x');
    sent.elapsed()
}

#[tokio::test(flavor = "multi_thread")]
async fn each_way_is_by_itself_and_nothing_is_missing() {
    const SLOW: Duration = Duration::from_millis(400);
    let (way, mut student, mut host) = through().await;
    way.set(Lane::default(), Lane::delayed(SLOW));
    assert!(takes(&mut host, &mut student).await >= SLOW);
    // The quicker of many: a busy machine may hold up one.
    let mut quickest = SLOW;
    for _ in 0..20 {
        quickest = quickest.min(takes(&mut student, &mut host).await);
    }
    assert!(quickest < SLOW, "the other way is slow as well");

    // Much of it, over a way that delays unevenly and loses.
    let uneven = Lane {
        delay: Duration::from_millis(1),
        jitter: Duration::from_millis(20),
        loss: 0.02,
    };
    way.set(uneven, uneven);
    let sent: Vec<u8> = (0..200_000_u32).map(|i| (i * 7 / 3) as u8).collect();
    let mut came = vec![0; sent.len()];
    let (written, read) = tokio::join!(student.write_all(&sent), host.read_exact(&mut came));
    written.unwrap();
    read.unwrap();
    assert!(sent == came, "bytes are missing or out of order");

    // The end passes too, after all that went before.
    student.write_all(b"last").await.unwrap();
    student.shutdown().await.unwrap();
    let mut rest = Vec::new();
    host.read_to_end(&mut rest).await.unwrap();
    assert_eq!(rest, b"last");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lost_packet_is_a_wait_and_a_cut_is_an_end() {
    let (way, mut student, mut host) = through().await;
    let losing = Lane {
        loss: 1.0,
        ..Lane::default()
    };
    way.set(losing, Lane::default());
    // Lost four times, sent again after 200, 400, 800 and 1600 ms.
    assert!(takes(&mut student, &mut host).await >= Duration::from_millis(3000));
    way.cut();
    assert!(!matches!(host.read(&mut [0; 8]).await, Ok(1..)));
    assert!(!matches!(student.read(&mut [0; 8]).await, Ok(1..)));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_terminal_states_of_its_clock_holds_over_uneven_ways() {
    let ms = |ms| Lane::delayed(Duration::from_millis(ms));
    let uneven = Lane {
        jitter: Duration::from_millis(60),
        loss: 0.05,
        ..ms(10)
    };
    let path = |name, there, back| Path { name, there, back };
    let paths = [
        path("alike", ms(60), ms(60)),
        path("slow back", ms(0), ms(200)),
        path("slow out", ms(200), ms(0)),
        path("by chance", uneven, uneven),
    ];
    let readings = readings(&paths, Duration::from_millis(2500)).await;
    for (path, reading) in paths.iter().zip(&readings) {
        assert!(reading.holds(), "{}: {reading:?}", path.name);
    }
    // Nothing in the exchange shows that the ways are unequal: the estimate is
    // off by half of what they differ (RFC 5905 section 8), and says so.
    let [_, back, out, _] = readings[..] else {
        panic!("four readings")
    };
    for (reading, sign) in [(back, 1), (out, -1)] {
        let half_us = reading.error_us * sign;
        assert!(half_us > 50_000, "the ways were not unequal: {reading:?}");
        assert!(reading.stated >= Duration::from_millis(100));
    }
}
