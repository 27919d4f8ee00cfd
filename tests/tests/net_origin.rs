//! Web pages before the door: who asks over HTTP, from where, and for what.

use std::net::SocketAddr;

use fifthpeg_host::{Counter, Host, HostConfig, Lock, Notice};
use fifthpeg_tests::net::{on_loopback, setup};
use fifthpeg_tests::peers::{counted, notice};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

async fn open_lesson() -> Host {
    let config = HostConfig {
        lock: Lock::Open,
        host_names: vec!["banjo.example".parse().expect("a name")],
        ..on_loopback(setup("Village hall"))
    };
    fifthpeg_host::start(config).await.expect("it starts")
}

/// The same to a request for a page.
async fn asked(address: SocketAddr, path: &str, headers: &[(&str, String)]) -> String {
    first_line(address, path, headers, "Connection: close").await
}

/// The first line of what the host answers to the opening of a WebSocket, as a
/// browser asks for one (RFC 6455 section 1.3 has this key).
async fn answer(address: SocketAddr, path: &str, headers: &[(&str, String)]) -> String {
    let opens = "Upgrade: websocket\r\nConnection: Upgrade\r\n\
                 Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13";
    first_line(address, path, headers, opens).await
}

async fn first_line(
    address: SocketAddr,
    path: &str,
    headers: &[(&str, String)],
    more: &str,
) -> String {
    let mut stream = TcpStream::connect(address).await.expect("it listens");
    let mut request = format!("GET {path} HTTP/1.1\r\n");
    for (name, value) in headers {
        request += &format!("{name}: {value}\r\n");
    }
    request += &format!("{more}\r\n\r\n");
    stream.write_all(request.as_bytes()).await.expect("taken");
    let mut answer = vec![0; 12];
    stream.read_exact(&mut answer).await.expect("an answer");
    String::from_utf8(answer).expect("text")
}

const COMES_IN: &str = "HTTP/1.1 101";
const FOREIGN: &str = "HTTP/1.1 403";
const NOT_OURS: &str = "HTTP/1.1 404";

#[tokio::test]
async fn a_page_from_elsewhere_does_not_come_in_whatever_it_calls_the_host() {
    let host = open_lesson().await;
    let mut notices = host.notices();
    let at = host.local_addrs()[0];
    let own_host = ("Host", at.to_string());
    let rebound = ("Host", format!("evil.example:{}", at.port()));
    for (host, origin) in [
        (&own_host, "http://evil.example".to_owned()),
        // A name of somebody else's that was made to lead here.
        (&rebound, format!("http://evil.example:{}", at.port())),
        (&own_host, "null".to_owned()),
        (&own_host, format!("https://{at}")),
        (&own_host, "http://127.0.0.1".to_owned()),
    ] {
        let headers = [host.clone(), ("Origin", origin)];
        assert_eq!(answer(at, "/", &headers).await, FOREIGN, "{headers:?}");
    }
    let told = notice(&mut notices, |n| matches!(n, Notice::NotJoined { .. })).await;
    assert!(
        told.to_string().contains("web page from elsewhere"),
        "{told}"
    );
    counted(&host, Counter::NotJoined, 5).await;
}

#[tokio::test]
async fn neither_is_a_page_from_elsewhere_given_ours_nor_led_to_the_lock() {
    let config = on_loopback(setup("Village hall"));
    let host = fifthpeg_host::start(config).await.expect("it starts");
    let at = host.local_addrs()[0];
    let from = |origin: &str| [("Host", at.to_string()), ("Origin", origin.to_owned())];
    let own = format!("http://{at}");
    for foreign in ["http://evil.example", "null", &format!("https://{at}")] {
        let within = answer(at, "/within", &from(foreign)).await;
        assert_eq!(within, FOREIGN, "{foreign}");
        for path in ["/", "/hall"] {
            assert_eq!(asked(at, path, &from(foreign)).await, FOREIGN, "{foreign}");
        }
    }
    assert_eq!(answer(at, "/within", &from(&own)).await, COMES_IN);
    // Built without the page, it says so.
    let given = asked(at, "/", &from(&own)).await;
    assert_ne!(given, FOREIGN);
}

#[tokio::test]
async fn terminals_and_pages_of_this_host_come_in() {
    let host = open_lesson().await;
    let at = host.local_addrs()[0];
    let port = at.port();
    // Terminals send none, and what they call the host does not matter.
    let rebound = ("Host", "evil.example".to_owned());
    assert_eq!(
        answer(at, "/", std::slice::from_ref(&rebound)).await,
        COMES_IN
    );
    for origin in [
        format!("http://{at}"),
        format!("http://localhost:{port}"),
        format!("http://banjo.example:{port}"),
    ] {
        let headers = [rebound.clone(), ("Origin", origin)];
        assert_eq!(answer(at, "/", &headers).await, COMES_IN, "{headers:?}");
    }
}

#[tokio::test]
async fn nothing_is_served_but_what_is_ours() {
    let host = open_lesson().await;
    let at = host.local_addrs()[0];
    let own = [("Host", at.to_string())];
    for path in ["/lesson", "/?", "//", "/..", &format!("http://{at}/")] {
        assert_eq!(answer(at, path, &own).await, NOT_OURS, "{path}");
    }
}
