//! What the machine and tokio-tungstenite take by themselves: a server that
//! knows nothing of lessons, and a crowd of its clients.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use fifthpeg_link::channel::socket_config;
use fifthpeg_wire::{ClientFrame, HostFrame};
use futures_util::stream::SplitSink;
use futures_util::{SinkExt, StreamExt};
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::{Bytes, Message};

use crate::counting::{Counting, tell};
use crate::crowd::Crowd;
use crate::{Failure, clock};

/// The word that makes this program a crowd of bare clients.
pub const CLIENTS: &str = "bare-clients";

type Socket = WebSocketStream<TcpStream>;

/// A server with all its clients connected.
pub struct Bare {
    /// The clients.
    pub crowd: Crowd,
    sinks: Vec<SplitSink<Socket, Message>>,
    all_read: mpsc::UnboundedReceiver<Duration>,
}

/// What the server does with what it reads.
#[derive(Clone, Copy)]
pub enum Reads {
    /// Nothing.
    Only,
    /// Answers each frame by one of so many bytes.
    AndAnswers(usize),
}

impl Bare {
    /// Starts a server and its clients. One task for each connection reads.
    pub async fn start(clients: usize, reads: Reads) -> Result<Self, Failure> {
        let listener = TcpListener::bind("127.0.0.1:0").await?;
        let address = listener.local_addr()?;
        let taken = tokio::spawn(take_all(listener, clients, reads));
        let crowd = Crowd::start(CLIENTS, address, clients, "plain").await?;
        let (sinks, all_read) = taken.await??;
        Ok(Self {
            crowd,
            sinks,
            all_read,
        })
    }

    /// Sends each client a message of so many bytes, and gives back how long it
    /// took until the last one had it.
    pub async fn broadcast(&mut self, bytes: usize) -> Result<Duration, Failure> {
        let message = Bytes::from(vec![7; bytes]);
        let start = clock::now();
        for sink in &mut self.sinks {
            sink.send(Message::Binary(message.clone())).await?;
        }
        Ok(self.crowd.wait_for("frame").await? - start)
    }

    /// Has each client send a message of so many bytes, and gives back how long
    /// it took, from the first client's sending, until the last one was read,
    /// and until the last client had the answer where answers are given.
    pub async fn collect(&mut self, bytes: usize, answered: bool) -> Result<Duration, Failure> {
        self.crowd.order(&format!("say {bytes}")).await?;
        let start = self.crowd.wait_for("said-from").await?;
        let read = self.all_read.recv().await.ok_or("the server stopped")?;
        if answered {
            return Ok(self.crowd.wait_for("frame").await? - start);
        }
        Ok(read - start)
    }

    /// Has all clients leave.
    pub async fn end(self) -> Result<(), Failure> {
        self.crowd.end().await
    }
}

type Taken = (
    Vec<SplitSink<Socket, Message>>,
    mpsc::UnboundedReceiver<Duration>,
);

async fn take_all(listener: TcpListener, clients: usize, reads: Reads) -> Result<Taken, Failure> {
    let mut sinks = Vec::new();
    let (all_read, when) = mpsc::unbounded_channel();
    let count = Arc::new(AtomicUsize::new(0));
    for _ in 0..clients {
        let (stream, _) = listener.accept().await?;
        stream.set_nodelay(true)?;
        let config = socket_config::<ClientFrame, HostFrame>();
        let socket = tokio_tungstenite::accept_async_with_config(stream, Some(config)).await?;
        let (sink, mut stream) = socket.split();
        let (all_read, count) = (all_read.clone(), count.clone());
        let mut reply = match reads {
            Reads::Only => {
                sinks.push(sink);
                None
            }
            Reads::AndAnswers(bytes) => Some((sink, Bytes::from(vec![9; bytes]))),
        };
        tokio::spawn(async move {
            while let Some(Ok(Message::Binary(_))) = stream.next().await {
                let now = clock::now();
                let before = count.fetch_add(1, Ordering::Relaxed);
                if (before + 1).is_multiple_of(clients) && all_read.send(now).is_err() {
                    return;
                }
                if let Some((sink, answer)) = &mut reply
                    && sink.send(Message::Binary(answer.clone())).await.is_err()
                {
                    return;
                }
            }
        });
    }
    Ok((sinks, when))
}

/// Is a number of clients until its input ends.
pub async fn clients(address: SocketAddr, number: usize) -> Result<(), Failure> {
    let counting = Arc::new(Counting::new(number, &["frame"]));
    let mut sinks = Vec::new();
    for _ in 0..number {
        let stream = TcpStream::connect(address).await?;
        stream.set_nodelay(true)?;
        let config = socket_config::<HostFrame, ClientFrame>();
        let url = format!("ws://{address}/");
        let client = tokio_tungstenite::client_async_with_config(url, stream, Some(config));
        let (sink, mut stream) = client.await?.0.split();
        let counting = counting.clone();
        tokio::spawn(async move {
            while let Some(Ok(Message::Binary(_))) = stream.next().await {
                counting.count(0);
            }
        });
        sinks.push(sink);
    }
    tell("in", clock::now());
    let mut orders = BufReader::new(tokio::io::stdin()).lines();
    while let Some(order) = orders.next_line().await? {
        let bytes: usize = order.strip_prefix("say ").ok_or("no such order")?.parse()?;
        let message = Bytes::from(vec![5; bytes]);
        tell("said-from", clock::now());
        for sink in &mut sinks {
            sink.send(Message::Binary(message.clone())).await?;
        }
    }
    Ok(())
}
