//! Whole runs with a class key: replayed, relayed and reflected proofs, hosts
//! that pose, and keys that do not hold.

use std::sync::LazyLock;

use rand_core_06::OsRng;

use crate::{
    ChannelBinding, ClassKey, Fingerprint, HostLock, HostStep, Knows, LockError, MOST_KEYS,
    Passphrase, PrivateKey, StudentLock, StudentStep,
};
use fifthpeg_wire::{LockAsk, LockReply};

const HALL: &str = "Village hall";
const CLASS: &str = "Thursday";

static WORDS: LazyLock<Passphrase> =
    LazyLock::new(|| Passphrase::typed("acorn river candle tiger").unwrap());
static OWN: LazyLock<PrivateKey> = LazyLock::new(|| PrivateKey::of_host(&[3; 48]));

fn channel(exporter: u8, host: u8) -> ChannelBinding {
    ChannelBinding {
        exporter: [exporter; 32],
        host: Fingerprint([host; 32]),
    }
}

fn key() -> ClassKey {
    ClassKey {
        private: PrivateKey::from_bytes([5; 32]),
        host: OWN.public(),
        class: CLASS.to_owned(),
    }
}

fn with_key() -> Knows {
    Knows {
        keys: vec![key()],
        ..Knows::default()
    }
}

fn student(knows: Knows, at: ChannelBinding) -> (StudentLock, LockAsk) {
    StudentLock::begin(knows, (at, HALL), OsRng).unwrap()
}

fn host(at: ChannelBinding) -> HostLock<'static> {
    HostLock::new((&WORDS, &OWN), at, HALL).0
}

/// What the host says to this, where the key holds for `class`.
fn said(host: &mut HostLock<'_>, ask: LockAsk, class: Option<&str>) -> HostStep {
    let step = host.handle(ask, OsRng).unwrap();
    assert!(matches!(step, HostStep::LookUpKey { .. }), "{step:?}");
    host.class_key(class)
}

fn no_key() -> HostStep {
    HostStep::Say(LockReply::NoKey)
}

#[test]
fn a_key_opens_without_words_and_the_host_proves_itself() {
    let at = channel(1, 7);
    let (mut mia, ask) = student(with_key(), at);
    let mut host = host(at);
    let HostStep::Open(reply) = said(&mut host, ask, Some(CLASS)) else {
        panic!("not let in");
    };
    assert_eq!(mia.handle(reply, OsRng), Ok(StudentStep::Through));
    assert_eq!(mia.by_key(), Some(key().private.public()));
}

#[test]
fn a_proof_is_worth_nothing_over_another_channel_or_elsewhere() {
    let at = channel(1, 7);
    let (_, ask) = student(with_key(), at);
    // Played again over a new channel, and passed on by somebody in between.
    assert_eq!(
        said(&mut host(channel(2, 7)), ask.clone(), Some(CLASS)),
        no_key()
    );
    // At a host with another key, and in another class or lesson.
    assert_eq!(
        said(&mut host(channel(1, 8)), ask.clone(), Some(CLASS)),
        no_key()
    );
    assert_eq!(said(&mut host(at), ask.clone(), Some("Friday")), no_key());
    let (mut barn, _) = HostLock::new((&WORDS, &OWN), at, "Barn");
    assert_eq!(said(&mut barn, ask.clone(), Some(CLASS)), no_key());
    // At a host that proves itself by another half.
    let other = PrivateKey::of_host(&[4; 48]);
    let (mut posing, _) = HostLock::new((&WORDS, &other), at, HALL);
    assert_eq!(said(&mut posing, ask.clone(), Some(CLASS)), no_key());
    // And it was good where it belongs.
    let opened = said(&mut host(at), ask, Some(CLASS));
    assert!(matches!(opened, HostStep::Open(_)), "{opened:?}");
}

#[test]
fn a_proof_sent_back_to_where_it_came_from_is_none() {
    let at = channel(1, 7);
    let (mut mia, ask) = student(with_key(), at);
    let LockAsk::ClassKey { r, s, .. } = ask else {
        panic!("no key");
    };
    // To the student, as if it were the host's own.
    let reflected = mia.handle(LockReply::KeyOpen { r, s }, OsRng);
    assert_eq!(reflected, Err(LockError::NotTheHost));
    // To the host, its own as if it were a student's: even were the halves of
    // one key on both sides, the labels differ.
    let same = ClassKey {
        private: OWN.clone(),
        ..key()
    };
    let knows = Knows {
        keys: vec![same],
        ..Knows::default()
    };
    let (_, ask) = student(knows, at);
    let HostStep::Open(LockReply::KeyOpen { r, s }) = said(&mut host(at), ask, Some(CLASS)) else {
        panic!("not let in");
    };
    let public = OWN.public().0;
    let back = LockAsk::ClassKey { public, r, s };
    assert_eq!(said(&mut host(at), back, Some(CLASS)), no_key());
}

#[test]
fn a_host_that_has_only_the_students_public_half_is_not_believed() {
    let at = channel(1, 7);
    let thief = PrivateKey::of_host(&[9; 48]);
    let (mut mia, ask) = student(with_key(), at);
    let LockAsk::ClassKey { public, .. } = ask else {
        panic!("no key");
    };
    // It signs with a key of its own, over all that it knows.
    let (mut posing, _) = HostLock::new((&WORDS, &thief), at, HALL);
    let knows = Knows {
        keys: vec![ClassKey {
            host: thief.public(),
            ..key()
        }],
        ..Knows::default()
    };
    let (_, fitting) = student(knows, at);
    let HostStep::Open(reply) = said(&mut posing, fitting, Some(CLASS)) else {
        panic!("it opens to what it made up");
    };
    assert_eq!(mia.handle(reply, OsRng), Err(LockError::NotTheHost));
    // Nor does it get in anywhere by the public half.
    let zero = LockAsk::ClassKey {
        public,
        r: [0; 32],
        s: [0; 32],
    };
    assert_eq!(said(&mut host(at), zero, Some(CLASS)), no_key());
}

#[test]
fn a_key_of_small_order_signs_nothing() {
    // The neutral point of the curve (RFC 8032, section 5.1: y = 1), by which
    // lax rules take one signature for everything.
    let mut neutral = [0; 32];
    neutral[0] = 1;
    let ask = LockAsk::ClassKey {
        public: neutral,
        r: neutral,
        s: [0; 32],
    };
    assert_eq!(said(&mut host(channel(1, 7)), ask, Some(CLASS)), no_key());
}

#[test]
fn a_key_that_does_not_hold_any_more_leads_to_the_words_and_is_no_guess() {
    let at = channel(1, 7);
    let (mut mia, ask) = student(with_key(), at);
    let mut at_host = host(at);
    assert_eq!(said(&mut at_host, ask.clone(), None), no_key());
    assert_eq!(mia.handle(LockReply::NoKey, OsRng), Err(LockError::NoKey));
    // So many are looked up, and no more.
    for _ in 1..MOST_KEYS {
        assert_eq!(said(&mut at_host, ask.clone(), None), no_key());
    }
    assert!(at_host.handle(ask, OsRng).is_err());

    let knows = Knows {
        passphrase: Some(WORDS.clone()),
        ..with_key()
    };
    let (mut mia, ask) = student(knows, at);
    let mut at_host = host(at);
    assert_eq!(said(&mut at_host, ask.clone(), None), no_key());
    let Ok(StudentStep::Say(element)) = mia.handle(LockReply::NoKey, OsRng) else {
        panic!("no words");
    };
    let HostStep::Say(element) = at_host.handle(element, OsRng).unwrap() else {
        panic!("no element");
    };
    let Ok(StudentStep::Say(proof)) = mia.handle(element, OsRng) else {
        panic!("no proof");
    };
    assert_eq!(at_host.handle(proof, OsRng), Ok(HostStep::Guess));
    let HostStep::Open(reply) = at_host.judge() else {
        panic!("not let in");
    };
    assert_eq!(mia.handle(reply, OsRng), Ok(StudentStep::Through));
    assert_eq!(mia.by_key(), None);
}
