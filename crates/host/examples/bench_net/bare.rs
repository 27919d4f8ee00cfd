//! What the machine and tokio-tungstenite take by themselves: one message of
//! a call's size to each of a number of clients.

use std::time::{Duration, Instant};

use fifthpeg_link::channel::socket_config;
use fifthpeg_wire::{ClientFrame, HostFrame};
use futures_util::{SinkExt, StreamExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio_tungstenite::tungstenite::{Bytes, Message};

use crate::Failure;

/// Times `rounds` broadcasts of `bytes` to `clients`: from before the first
/// send until the last client has it.
pub async fn measure(
    clients: usize,
    rounds: usize,
    bytes: usize,
) -> Result<Vec<Duration>, Failure> {
    let listener = TcpListener::bind("127.0.0.1:0").await?;
    let address = listener.local_addr()?;
    let (received, mut receipts) = mpsc::channel(clients);
    let mut sinks = Vec::new();
    for _ in 0..clients {
        let config = socket_config::<HostFrame, ClientFrame>();
        let near = TcpStream::connect(address).await?;
        near.set_nodelay(true)?;
        let (far, _) = listener.accept().await?;
        far.set_nodelay(true)?;
        let url = format!("ws://{address}/");
        let client = tokio_tungstenite::client_async_with_config(url, near, Some(config));
        let config = socket_config::<ClientFrame, HostFrame>();
        let server = tokio_tungstenite::accept_async_with_config(far, Some(config));
        let (client, server) = tokio::try_join!(client, server)?;
        let mut client = client.0;
        let received = received.clone();
        tokio::spawn(async move {
            while let Some(Ok(Message::Binary(_))) = client.next().await {
                if received.send(Instant::now()).await.is_err() {
                    return;
                }
            }
        });
        sinks.push(server);
    }
    let message = Bytes::from(vec![7; bytes]);
    let mut times = Vec::new();
    for _ in 0..rounds {
        let start = Instant::now();
        for sink in &mut sinks {
            sink.send(Message::Binary(message.clone())).await?;
        }
        let mut last = start;
        for _ in 0..clients {
            last = last.max(receipts.recv().await.ok_or("a client stopped")?);
        }
        times.push(last - start);
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    Ok(times)
}
