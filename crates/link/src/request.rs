//! The head of a request, looked at before anything is decided: a terminal or a
//! page that opens a WebSocket, or a browser that asks for a page.

use core::pin::Pin;
use core::task::{Context, Poll};
use std::io;

use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, ReadBuf};

use crate::channel::ByteStream;

/// The longest head that is read. Browsers send about one tenth of it.
pub const HEAD_BYTES: usize = 8 * 1024;
const MOST_HEADERS: usize = 64;

/// What a request wants.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PageRequest {
    /// The path, as it stands there.
    pub path: String,
    /// It opens a WebSocket.
    pub upgrades: bool,
    /// A page asks, and says where it is from.
    pub of_page: bool,
}

/// A stream that is read from its beginning again.
#[derive(Debug)]
pub struct Rewound<S> {
    head: Vec<u8>,
    read: usize,
    stream: S,
}

/// Reads the head of a request. The stream that comes back begins with it. `None` for
/// whatever is no request, which is for others to complain of.
pub async fn look<S: ByteStream>(mut stream: S) -> (Option<PageRequest>, Rewound<S>) {
    let mut head = Vec::new();
    let wanted = loop {
        let mut more = [0; 1024];
        let room = HEAD_BYTES.saturating_sub(head.len()).min(more.len());
        match stream.read(&mut more[..room]).await {
            Ok(0) | Err(_) => break None,
            Ok(many) => head.extend_from_slice(&more[..many]),
        }
        match read(&head) {
            Head::Whole(wanted) => break Some(wanted),
            Head::Part => {}
            Head::NoRequest => break None,
        }
    };
    let rewound = Rewound {
        head,
        read: 0,
        stream,
    };
    (wanted, rewound)
}

enum Head {
    Whole(PageRequest),
    Part,
    NoRequest,
}

fn read(head: &[u8]) -> Head {
    let mut headers = [httparse::EMPTY_HEADER; MOST_HEADERS];
    let mut request = httparse::Request::new(&mut headers);
    match request.parse(head) {
        Ok(httparse::Status::Complete(_)) => {}
        Ok(httparse::Status::Partial) => return Head::Part,
        Err(_) => return Head::NoRequest,
    }
    let has = |name: &str, value: Option<&[u8]>| {
        request.headers.iter().any(|header| {
            header.name.eq_ignore_ascii_case(name)
                && value.is_none_or(|value| header.value.eq_ignore_ascii_case(value))
        })
    };
    Head::Whole(PageRequest {
        path: request.path.unwrap_or_default().to_owned(),
        upgrades: has("upgrade", Some(b"websocket")),
        of_page: has("origin", None),
    })
}

impl<S: AsyncRead + Unpin> AsyncRead for Rewound<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let rest = &self.head[self.read..];
        if rest.is_empty() {
            return Pin::new(&mut self.stream).poll_read(cx, into);
        }
        let many = rest.len().min(into.remaining());
        into.put_slice(&rest[..many]);
        self.read += many;
        if self.read == self.head.len() {
            self.head = Vec::new();
            self.read = 0;
        }
        Poll::Ready(Ok(()))
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Rewound<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(cx, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncWriteExt, duplex};

    use super::*;

    async fn looked(bytes: &[u8]) -> Option<PageRequest> {
        let (mut here, there) = duplex(64 * 1024);
        here.write_all(bytes).await.unwrap();
        drop(here);
        let (wanted, mut rewound) = look(there).await;
        let mut all = Vec::new();
        rewound.read_to_end(&mut all).await.unwrap();
        assert_eq!(all, bytes, "nothing of it is lost");
        wanted
    }

    #[tokio::test]
    async fn a_head_is_looked_at() {
        let page = looked(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n").await.unwrap();
        assert_eq!((page.path.as_str(), page.upgrades), ("/", false));
        let socket = b"GET /within HTTP/1.1\r\nUpgrade: WebSocket\r\nOrigin: http://a\r\n\r\nmore";
        let socket = looked(socket).await.unwrap();
        assert!(socket.upgrades && socket.of_page);
    }

    #[tokio::test]
    async fn what_is_no_request_or_has_no_end_is_not_waited_for() {
        assert_eq!(looked(b"\x01\x02\r\n").await, None);
        assert_eq!(looked(b"GET / HT").await, None);
        let endless = [b"GET / HTTP/1.1\r\nX: ".as_slice(), &vec![b'a'; HEAD_BYTES]].concat();
        assert_eq!(looked(&endless).await, None);
    }
}
