//! A host that makes no sense: a terminal neither fails nor hurries.

use std::time::Duration;

use fifthpeg_lesson::message::{Refusal, ToStudent};
use fifthpeg_link::{convert, handshake};
use fifthpeg_student::{Entry, Status, StudentConfig, Target};
use fifthpeg_tests::net::{PATIENCE, Remembering};
use tokio::net::TcpListener;

#[tokio::test(flavor = "multi_thread")]
async fn a_host_that_knows_no_newcomer_s_place_is_not_asked_without_end() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let target = Target::Address(vec![listener.local_addr().unwrap()]);
    let student = fifthpeg_student::start(StudentConfig {
        // The broken host knows no lock.
        entry: Entry {
            open: true,
            ..Entry::default()
        },
        ..StudentConfig::new("Ana", target, Box::new(Remembering::default()))
    })
    .await
    .unwrap();
    let broken = async {
        let refused = convert::host_to_wire(&ToStudent::Refused(Refusal::UnknownPlace));
        for asked in 0.. {
            let (stream, _) = listener.accept().await.unwrap();
            let mut channel = handshake::accept(stream, PATIENCE).await.unwrap();
            channel.recv().await.unwrap().expect("a join");
            channel.send(&refused).await.unwrap();
            assert!(asked < 10, "it is asked again at once");
        }
    };
    let mut status = student.status();
    let told = status.wait_for(|s| matches!(s, Status::Lost { why, .. } if why.contains("place")));
    // The first waits are a fraction of a second and grow.
    let time = Duration::from_millis(1500);
    let (stopped, told) = tokio::join!(
        tokio::time::timeout(time, broken),
        tokio::time::timeout(PATIENCE, told)
    );
    assert!(stopped.is_err(), "the broken host goes on until then");
    assert!(told.is_ok(), "the student is told");
}
