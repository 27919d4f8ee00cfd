//! A piece of network between a student and a host, which can break.

use std::net::SocketAddr;
use std::time::Duration;

use tokio::io::AsyncWriteExt;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// What a forwarder does with what passes through it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Open,
    /// Nothing passes and nothing is read; connections stay up.
    Stalled,
    /// What the host says does not pass.
    Deaf,
    /// Connections are cut and new ones refused.
    Cut,
}

/// A piece of network between a student and a host, which can break.
pub struct Forwarder {
    address: SocketAddr,
    way: watch::Sender<Way>,
    host: watch::Sender<SocketAddr>,
    task: tokio::task::JoinHandle<()>,
}

impl Forwarder {
    /// Leads to `host`.
    pub async fn to(host: SocketAddr) -> Self {
        Self::delayed(host, Duration::ZERO).await
    }

    /// Leads to `host`, and takes this long each way.
    pub async fn delayed(host: SocketAddr, delay: Duration) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let address = listener.local_addr().expect("an address");
        let (way, watching) = watch::channel(Way::Open);
        let (host, leads_to) = watch::channel(host);
        let task = tokio::spawn(async move {
            loop {
                let Ok((near, _)) = listener.accept().await else {
                    return;
                };
                if *watching.borrow() == Way::Cut {
                    continue;
                }
                let host = *leads_to.borrow();
                if let Ok(far) = TcpStream::connect(host).await {
                    tokio::spawn(forward(near, far, watching.clone(), delay));
                }
            }
        });
        Self {
            address,
            way,
            host,
            task,
        }
    }

    /// Where students connect to.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Leads new connections to another host.
    pub fn lead_to(&self, host: SocketAddr) {
        self.host.send_replace(host);
    }

    /// Cuts every connection, and refuses new ones.
    pub fn cut(&self) {
        self.way.send_replace(Way::Cut);
    }

    /// Lets nothing through, without telling either end.
    pub fn stall(&self) {
        self.way.send_replace(Way::Stalled);
    }

    /// Lets pass what students say, and nothing of what the host says.
    pub fn deafen(&self) {
        self.way.send_replace(Way::Deaf);
    }

    /// Works again.
    pub fn mend(&self) {
        self.way.send_replace(Way::Open);
    }
}

impl Drop for Forwarder {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn forward(
    mut near: TcpStream,
    mut far: TcpStream,
    mut way: watch::Receiver<Way>,
    delay: Duration,
) {
    loop {
        let now = *way.borrow_and_update();
        let passed = match now {
            Way::Cut => return,
            Way::Stalled => way.changed().await.map_err(|_| end()),
            Way::Deaf => tokio::select! {
                changed = way.changed() => changed.map_err(|_| end()),
                () = ready(&near) => pass(&near, &mut far, delay).await,
            },
            Way::Open => tokio::select! {
                changed = way.changed() => changed.map_err(|_| end()),
                () = ready(&near) => pass(&near, &mut far, delay).await,
                () = ready(&far) => pass(&far, &mut near, delay).await,
            },
        };
        if passed.is_err() {
            return;
        }
    }
}

fn end() -> std::io::Error {
    std::io::ErrorKind::UnexpectedEof.into()
}

/// Hands on what is there. Never given up half way, so no byte is lost.
async fn pass(from: &TcpStream, to: &mut TcpStream, delay: Duration) -> std::io::Result<()> {
    let mut bytes = [0; 4096];
    match from.try_read(&mut bytes) {
        Ok(0) => Err(end()),
        Ok(n) => {
            tokio::time::sleep(delay).await;
            to.write_all(&bytes[..n]).await
        }
        Err(e) if e.kind() == std::io::ErrorKind::WouldBlock => Ok(()),
        Err(e) => Err(e),
    }
}

async fn ready(stream: &TcpStream) {
    // An error shows in the read that follows.
    let _ = stream.readable().await;
}
