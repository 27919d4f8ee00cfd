//! Class keys over real sockets: granted in one lesson, used in the next without
//! words, past a crowd that guesses, and worth nothing once taken back.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use fifthpeg_book::{Book, Reader};
use fifthpeg_host::{Host, HostBook, HostConfig, Limits, Lock, Notice, OrderError};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_link::LinkError;
use fifthpeg_link::secure::HostKey;
use fifthpeg_lock::{ClassKey, GuessLimits, Knows, LockError, Passphrase, PrivateKey};
use fifthpeg_student::{Entry, KeyTalk, Status, Student, StudentConfig, Target, Wanted};
use fifthpeg_tests::net::{Remembering, host_key, joined, on_loopback, passphrase, setup, until};
use fifthpeg_tests::peers::{at_lock, notice};
use fifthpeg_tests::temporary;

const CLASS: &str = "Thursday";

async fn lesson(book: &Path, limits: Limits) -> Host {
    let book = Book::open(book).expect("a book");
    let config = HostConfig {
        book: Some(HostBook::begin(book, CLASS)),
        limits,
        ..on_loopback(setup("Village hall"))
    };
    fifthpeg_host::start(config).await.expect("it starts")
}

/// A terminal of a machine that keeps what it keeps in `state`.
async fn terminal(name: &str, host: &Host, state: &Path, words: bool) -> Student {
    let entry = Entry {
        hosts: Some(state.to_path_buf()),
        passphrase: words.then(passphrase),
        ..Entry::default()
    };
    let output = Box::new(Remembering::default());
    let target = Target::Address(vec![host.local_addrs()[0]]);
    let config = StudentConfig {
        entry,
        state_folder: Some(state.to_path_buf()),
        ..StudentConfig::new(name, target, output)
    };
    fifthpeg_student::start(config).await.expect("it starts")
}

fn id_of(host: &Host, name: &str) -> fifthpeg_lesson::message::StudentId {
    let view = host.view().borrow().clone();
    let student = view.students.iter().find(|s| s.name == name);
    student.unwrap_or_else(|| panic!("{name} in {view:?}")).id
}

/// Has the host offer Mia's machine a class key, and Mia take it.
async fn granted(host: &Host, mia: &Student) {
    let mut talk = mia.key_talk();
    host.offer_key(id_of(host, "Mia")).await.expect("offered");
    until(&mut talk, "offered", |t| {
        matches!(t, KeyTalk::Offered { .. })
    })
    .await;
    mia.take_key(true).await.expect("taken");
    until(&mut talk, "kept", |t| matches!(t, KeyTalk::Kept { .. })).await;
}

/// A book and a machine's folder, with a class key of Mia's.
async fn last_week(test: &str) -> (PathBuf, PathBuf) {
    let folder = temporary(test);
    let (book, state) = (folder.join("lessons.book"), folder.join("mia"));
    let host = lesson(&book, Limits::default()).await;
    let mia = terminal("Mia", &host, &state, true).await;
    joined(&mia).await;
    granted(&host, &mia).await;
    mia.leave().await.unwrap();
    host.end().await.unwrap();
    (book, state)
}

fn guesses(at_once: u32) -> Limits {
    Limits {
        guesses: GuessLimits {
            at_once_in_all: at_once,
            ..GuessLimits::default()
        },
        ..Limits::default()
    }
}

/// Somebody who guesses, until nobody's guess is looked at any more.
async fn crowd(address: SocketAddr) {
    loop {
        let wrong = Passphrase::typed("not these words at all").unwrap();
        match at_lock(address).await.pass(wrong.into()).await.map(drop) {
            Err(LinkError::Lock(LockError::Wrong)) => {}
            Err(LinkError::Lock(LockError::Wait { .. })) => return,
            other => panic!("{other:?}"),
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_machine_with_a_key_comes_in_without_words_past_a_crowd_that_guesses() {
    let (book, state) = last_week("key-next-week").await;
    let host = lesson(&book, guesses(3)).await;
    crowd(host.local_addrs()[0]).await;
    // The right words wait now; the key does not.
    let mia = terminal("mia", &host, &state, false).await;
    joined(&mia).await;
    let came = mia.key_talk().borrow().clone();
    let asks = KeyTalk::CameIn { name: "Mia".into() };
    assert_eq!(came, asks);
    assert!(came.to_string().contains("Not you?"), "{came}");
    // Under the name that goes with the key, and as who she is.
    assert_eq!(host.view().borrow().students[0].name, "Mia");
    mia.leave().await.unwrap();
    host.end().await.unwrap();
    let reader = Reader::open(&book).unwrap();
    let people = reader.people(CLASS).unwrap();
    assert_eq!(people.len(), 1, "{people:?}");
    assert_eq!(people[0].lessons, 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_is_its_own_student_s_alone() {
    let (book, state) = last_week("key-own").await;
    let host = lesson(&book, Limits::default()).await;
    // Another child at the same account, under a name of their own.
    let ole = terminal("Ole", &host, &state, false).await;
    let mut status = ole.status();
    let asked = |s: &Status| {
        matches!(
            s,
            Status::PassphraseWanted {
                wanted: Wanted::First,
                ..
            }
        )
    };
    until(&mut status, "asked for words", asked).await;
    // A host that poses with another key is not shown it.
    let posing = HostConfig {
        lock: Lock::Passphrase {
            key: HostKey::make().unwrap(),
            passphrase: Passphrase::typed("some other words here").unwrap(),
        },
        ..on_loopback(setup("Barn"))
    };
    let posing = fifthpeg_host::start(posing).await.unwrap();
    let mia = terminal("Mia", &posing, &state, false).await;
    until(&mut mia.status(), "asked for words", asked).await;
    assert!(posing.view().borrow().students.is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_that_was_taken_back_leads_to_the_words() {
    let (book, state) = last_week("key-back").await;
    let mia = Reader::open(&book).unwrap().person(CLASS, "Mia").unwrap();
    let taken = Book::open(&book).unwrap().revoke_keys(mia.id).unwrap();
    assert_eq!(taken, 1);
    let host = lesson(&book, Limits::default()).await;
    let mia = terminal("Mia", &host, &state, false).await;
    let mut status = mia.status();
    let gone = |s: &Status| {
        matches!(
            s,
            Status::PassphraseWanted {
                wanted: Wanted::KeyGone,
                ..
            }
        )
    };
    let told = until(&mut status, "told", gone).await.to_string();
    assert!(
        told.contains("taken back, or not used for 90 days"),
        "{told}"
    );
    mia.give_passphrase(passphrase()).unwrap();
    joined(&mia).await;
    assert_eq!(*mia.key_talk().borrow(), KeyTalk::Nothing);
    // It was no guess.
    assert_eq!(host.counts(), []);
}

#[tokio::test(flavor = "multi_thread")]
async fn who_is_taken_out_has_no_key_any_more() {
    let (book, state) = last_week("key-out").await;
    let host = lesson(&book, Limits::default()).await;
    let mia = terminal("Mia", &host, &state, false).await;
    joined(&mia).await;
    host.order(HostOrder::Remove(id_of(&host, "Mia")))
        .await
        .unwrap();
    until(&mut mia.status(), "out", |s| *s == Status::Removed).await;
    host.end().await.unwrap();
    let host = lesson(&book, Limits::default()).await;
    let again = terminal("Mia", &host, &state, false).await;
    let gone = |s: &Status| {
        matches!(
            s,
            Status::PassphraseWanted {
                wanted: Wanted::KeyGone,
                ..
            }
        )
    };
    until(&mut again.status(), "told", gone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_gives_back_the_place_that_was_left_and_takes_none_that_is_held() {
    let (book, state) = last_week("key-place").await;
    let folder = state.parent().unwrap();
    let host = lesson(&book, Limits::default()).await;
    // From another machine, by the words, and gone again.
    let elsewhere = terminal("Mia", &host, &folder.join("elsewhere"), true).await;
    joined(&elsewhere).await;
    elsewhere.leave().await.unwrap();
    let mia = terminal("Mia", &host, &state, false).await;
    joined(&mia).await;
    assert_eq!(host.view().borrow().students.len(), 1);
    mia.leave().await.unwrap();
    host.end().await.unwrap();
    // Somebody else is here as Mia: two are two until the host says who is who.
    let host = lesson(&book, Limits::default()).await;
    let mut notices = host.notices();
    let other = terminal("Mia", &host, &folder.join("other"), true).await;
    joined(&other).await;
    let mia = terminal("Mia", &host, &state, false).await;
    joined(&mia).await;
    notice(&mut notices, |n| matches!(n, Notice::HereTwice { .. })).await;
    assert_eq!(host.view().borrow().students.len(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_is_for_a_student_who_says_yes_in_a_locked_lesson_with_a_book() {
    let folder = temporary("key-yes");
    let (book, state) = (folder.join("lessons.book"), folder.join("mia"));
    let host = lesson(&book, Limits::default()).await;
    let mut notices = host.notices();
    let mia = terminal("Mia", &host, &state, true).await;
    joined(&mia).await;
    assert!(mia.take_key(true).await.is_err(), "none was offered");
    host.offer_key(id_of(&host, "Mia")).await.unwrap();
    let mut talk = mia.key_talk();
    until(&mut talk, "offered", |t| {
        matches!(t, KeyTalk::Offered { .. })
    })
    .await;
    mia.take_key(false).await.unwrap();
    notice(&mut notices, |n| matches!(n, Notice::KeyNotTaken { .. })).await;
    let known = host.everyone_known().await.unwrap();
    assert_eq!(known.len(), 1);
    assert!(!known[0].has_key);
    granted(&host, &mia).await;
    notice(&mut notices, |n| matches!(n, Notice::KeyKept { .. })).await;
    assert!(host.everyone_known().await.unwrap()[0].has_key);
    host.go_on_without_book().await.unwrap();
    let refused = host.offer_key(id_of(&host, "Mia")).await;
    assert_eq!(refused, Err(OrderError::KeysNeedBook));
    let open = HostConfig {
        lock: Lock::Open,
        ..on_loopback(setup("Barn"))
    };
    let open = fifthpeg_host::start(open).await.unwrap();
    let refused = open.offer_key(fifthpeg_lesson::message::StudentId(1)).await;
    assert_eq!(refused, Err(OrderError::KeysNeedLock));
}

/// What a host has of a key opens nothing, nor does a key that it does not have.
#[tokio::test(flavor = "multi_thread")]
async fn strangers_with_keys_of_their_own_are_strangers() {
    let (book, _) = last_week("key-strangers").await;
    let host = lesson(&book, Limits::default()).await;
    let address = host.local_addrs()[0];
    for private in [[1; 32], [2; 32]] {
        let key = ClassKey {
            private: PrivateKey::from_bytes(private),
            host: host_key().for_class_keys().public(),
            class: CLASS.to_owned(),
        };
        let knows = Knows {
            keys: vec![key],
            ..Knows::default()
        };
        let refused = at_lock(address).await.pass(knows).await.map(drop);
        let refused = refused.expect_err("let in");
        assert!(
            matches!(refused, LinkError::Lock(LockError::NoKey)),
            "{refused:?}"
        );
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_host_says_that_somebody_is_who_the_book_knows() {
    let (book, state) = last_week("key-known").await;
    let folder = state.parent().unwrap();
    let host = lesson(&book, Limits::default()).await;
    let m = terminal("M", &host, &folder.join("m"), true).await;
    joined(&m).await;
    host.known_as(id_of(&host, "M"), "mia").await.unwrap();
    let named = |v: &std::sync::Arc<fifthpeg_lesson::terminal::TerminalView>| {
        v.welcome.as_ref().is_some_and(|w| w.name == "Mia")
    };
    until(&mut m.view(), "named", named).await;
    let refused = host.known_as(id_of(&host, "Mia"), "Nobody").await;
    assert!(
        matches!(refused, Err(OrderError::Refused(_))),
        "{refused:?}"
    );
    host.end().await.unwrap();
    let people = Reader::open(&book).unwrap().people(CLASS).unwrap();
    assert_eq!(people.len(), 1, "{people:?}");
    assert_eq!(people[0].lessons, 2);
}
