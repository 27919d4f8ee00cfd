//! Announcing a lesson.

use core::time::Duration;
use std::net::{IpAddr, SocketAddr};

use fifthpeg_wire::{PROTOCOL_NEWEST, PROTOCOL_OLDEST};
use mdns_sd::{DaemonEvent, Receiver, ServiceDaemon, ServiceInfo};

use super::name::{instance_name, instance_of, machine_name};
use super::{SERVICE_TYPE, TXT_LESSON, TXT_MACHINE, TXT_NEWEST, TXT_OLDEST};
use crate::LinkError;

/// How long the network is asked whether a name is free: three probes 250 ms
/// apart after up to 250 ms (RFC 6762 section 8.1), twice over for a clash.
const SETTLE: Duration = Duration::from_millis(2500);

/// How long a goodbye may take: it is sent twice, 120 ms apart.
const GOODBYE: Duration = Duration::from_millis(200);

/// A lesson as announced, until this is dropped or withdrawn.
pub struct Announcement {
    daemon: ServiceDaemon,
    full_name: String,
    name: String,
}

impl core::fmt::Debug for Announcement {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Announcement")
            .field("name", &self.name)
            .finish_non_exhaustive()
    }
}

impl Announcement {
    /// Announces a lesson that listens at `port` on every address of this
    /// machine, on each network with its own addresses, and follows when these
    /// change. Waits until the network has agreed to the name, up to 2.5 s.
    ///
    /// # Errors
    /// [`LinkError::Discovery`] if the network does not let itself be told.
    pub async fn start(lesson: &str, port: u16) -> Result<Self, LinkError> {
        Self::announce(lesson, port, &[]).await
    }

    /// Likewise for a lesson that listens at these addresses only. One that
    /// is unspecified (0.0.0.0 or ::) means every address.
    ///
    /// # Errors
    /// [`LinkError::NoAddress`] if there is none; otherwise as
    /// [`Announcement::start`].
    pub async fn start_at(lesson: &str, listening: &[SocketAddr]) -> Result<Self, LinkError> {
        let port = listening.first().ok_or(LinkError::NoAddress)?.port();
        let mut addresses: Vec<_> = listening
            .iter()
            .filter(|a| a.port() == port)
            .map(SocketAddr::ip)
            .collect();
        if addresses.iter().any(IpAddr::is_unspecified) {
            addresses.clear();
        }
        Self::announce(lesson, port, &addresses).await
    }

    async fn announce(lesson: &str, port: u16, addresses: &[IpAddr]) -> Result<Self, LinkError> {
        let daemon = ServiceDaemon::new().map_err(failed)?;
        let instance = instance_name(lesson);
        let machine = machine_name();
        // A host name of the lesson's own: the machine's belongs to the
        // machine's own announcer, and two lessons may run on one machine.
        let host = format!("{machine}-fifthpeg-{}-{port}.local.", std::process::id());
        let lesson_text: String = shortened(lesson);
        let properties = [
            (TXT_LESSON, lesson_text),
            (TXT_OLDEST, PROTOCOL_OLDEST.to_string()),
            (TXT_NEWEST, PROTOCOL_NEWEST.to_string()),
            (TXT_MACHINE, machine),
        ];
        let mut info = ServiceInfo::new(
            SERVICE_TYPE,
            &instance,
            &host,
            addresses,
            port,
            &properties[..],
        )
        .map_err(failed)?;
        if addresses.is_empty() {
            info = info.enable_addr_auto();
        }
        let full_name = info.get_fullname().to_owned();
        let events = daemon.monitor().map_err(failed)?;
        daemon.register(info).map_err(failed)?;
        let settled = tokio::time::timeout(SETTLE, settle(&events)).await;
        let name = settled
            .ok()
            .flatten()
            .and_then(|full| instance_of(&full, SERVICE_TYPE))
            .unwrap_or(instance);
        Ok(Self {
            daemon,
            full_name,
            name,
        })
    }

    /// The name students find it under.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Tells the network that the lesson is over, and waits a moment until it
    /// has been told.
    pub async fn withdraw(self) {
        self.say_goodbye();
        tokio::time::sleep(GOODBYE).await;
    }

    fn say_goodbye(&self) {
        // A daemon that has stopped has nothing left to withdraw.
        let _ = self.daemon.unregister(&self.full_name);
    }
}

impl Drop for Announcement {
    fn drop(&mut self) {
        self.say_goodbye();
        let _ = self.daemon.shutdown();
    }
}

/// The full name first announced, after any clash was resolved.
async fn settle(events: &Receiver<DaemonEvent>) -> Option<String> {
    loop {
        if let DaemonEvent::Announce(full_name, _) = events.recv_async().await.ok()? {
            return Some(full_name);
        }
    }
}

/// A TXT string holds 255 bytes with its key.
fn shortened(lesson: &str) -> String {
    let mut text = String::new();
    for letter in lesson.chars().filter(|c| !c.is_control()) {
        if text.len() + letter.len_utf8() > 200 {
            break;
        }
        text.push(letter);
    }
    text
}

pub(super) fn failed(e: mdns_sd::Error) -> LinkError {
    LinkError::Discovery(e.to_string())
}
