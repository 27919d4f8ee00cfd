//! A process of its own that holds many connections, as whoever started it
//! sees it: orders go in as lines, news come out as lines.

use std::net::SocketAddr;
use std::process::Stdio;
use std::time::Duration;

use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader, Lines};
use tokio::process::{Child, ChildStdin, ChildStdout, Command};
use tokio::time::timeout;

use crate::Failure;

/// Nothing that is measured takes longer.
const PATIENCE: Duration = Duration::from_secs(600);

/// The process.
pub struct Crowd {
    child: Child,
    orders: ChildStdin,
    news: Lines<BufReader<ChildStdout>>,
}

impl Crowd {
    /// Starts this program again as a crowd of `kind` that connects to
    /// `address`, and waits until all are in.
    pub async fn start(
        kind: &str,
        address: SocketAddr,
        number: usize,
        way: &str,
    ) -> Result<Self, Failure> {
        let mut child = Command::new(std::env::current_exe()?)
            .args([kind, &address.to_string(), &number.to_string(), way])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .kill_on_drop(true)
            .spawn()?;
        let orders = child.stdin.take().ok_or("no way to give orders")?;
        let news = child.stdout.take().ok_or("no way to hear news")?;
        let mut crowd = Self {
            child,
            orders,
            news: BufReader::new(news).lines(),
        };
        crowd.wait_for("in").await?;
        Ok(crowd)
    }

    /// Has each of the crowd do something.
    pub async fn order(&mut self, order: &str) -> Result<(), Failure> {
        self.orders
            .write_all(format!("{order}\n").as_bytes())
            .await?;
        Ok(self.orders.flush().await?)
    }

    /// [`Crowd::wait_for`], where another thing may be said instead.
    pub async fn wait_for_either(&mut self, one: &str, other: &str) -> Result<Duration, Failure> {
        self.wait_for_any(&[one, other]).await
    }

    /// Waits until the crowd says so; gives back when it was, on
    /// [`crate::clock::now`]. Other news are passed over.
    pub async fn wait_for(&mut self, what: &str) -> Result<Duration, Failure> {
        self.wait_for_any(&[what]).await
    }

    async fn wait_for_any(&mut self, whats: &[&str]) -> Result<Duration, Failure> {
        let what = whats.join(" or ");
        let heard = async {
            while let Some(line) = self.news.next_line().await? {
                if let Some((said, nanos)) = line.rsplit_once(' ')
                    && whats.contains(&said)
                {
                    return Ok(Duration::from_nanos(nanos.parse()?));
                }
            }
            Err(format!("the crowd ended before it said '{what}'").into())
        };
        timeout(PATIENCE, heard)
            .await
            .unwrap_or_else(|_| Err(format!("the crowd never said '{what}'").into()))
    }

    /// Has all leave.
    pub async fn end(mut self) -> Result<(), Failure> {
        drop(self.orders);
        self.child.wait().await?;
        Ok(())
    }
}
