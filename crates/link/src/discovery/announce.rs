//! Announcing a lesson.

use core::time::Duration;
use std::net::{IpAddr, SocketAddr};

use fifthpeg_wire::{PROTOCOL_NEWEST, PROTOCOL_OLDEST};
use mdns_sd::{ServiceDaemon, ServiceInfo};

use super::find::{Asking, Claim};
use super::name::{
    MAX_TXT_NAME_BYTES, NameLooks, free_number, instance_name, machine_name, numbered, printable,
};
use super::{
    DOOR_LOCKED, DOOR_OPEN, SERVICE_TYPE, TXT_DOOR, TXT_LESSON, TXT_MACHINE, TXT_NEWEST,
    TXT_NUMBER, TXT_OLDEST,
};
use crate::LinkError;

/// How long the network is asked which names are taken, before one is chosen
/// and again after. Answers come within 120 ms (RFC 6762 section 6).
const LOOK: Duration = Duration::from_millis(350);

/// How often a name may turn out to be taken by somebody else at the same
/// moment, before it is left to the finding side.
const ROUNDS: u32 = 4;

/// How long is listened before a name is taken. A lesson that answered somebody
/// within the last second keeps quiet (RFC 6762 section 6), and is asked again
/// after one second (section 5.2).
const FIRST_LOOK: Duration = Duration::from_millis(1300);
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
    /// change. If the name is taken, a number is added: "Hall (2)". Returns
    /// when the name is settled, after about 1.7 s.
    ///
    /// # Errors
    /// [`LinkError::Discovery`] if the network does not let itself be told.
    pub async fn start(lesson: &str, port: u16) -> Result<Self, LinkError> {
        Self::announce(lesson, port, &[], false).await
    }

    /// Likewise for a lesson that listens at these addresses only, and is said to
    /// be open or locked. One that
    /// is unspecified (0.0.0.0 or ::) means every address.
    ///
    /// # Errors
    /// [`LinkError::NoAddress`] if there is none; otherwise as
    /// [`Announcement::start`].
    pub async fn start_at(
        lesson: &str,
        listening: &[SocketAddr],
        open: bool,
    ) -> Result<Self, LinkError> {
        let port = listening.first().ok_or(LinkError::NoAddress)?.port();
        let mut addresses: Vec<_> = listening
            .iter()
            .filter(|a| a.port() == port)
            .map(SocketAddr::ip)
            .collect();
        if addresses.iter().any(IpAddr::is_unspecified) {
            addresses.clear();
        }
        Self::announce(lesson, port, &addresses, open).await
    }

    async fn announce(
        lesson: &str,
        port: u16,
        addresses: &[IpAddr],
        open: bool,
    ) -> Result<Self, LinkError> {
        let mut asking = Asking::start()?;
        let daemon = ServiceDaemon::new().map_err(failed)?;
        let record = Record {
            lesson: printable(lesson, MAX_TXT_NAME_BYTES),
            machine: machine_name(),
            port,
            addresses,
            open,
        };
        asking.listen(FIRST_LOOK, |_| false).await?;
        let number = record.free_number(asking.claims());
        let mut announced = Self {
            full_name: record.register(&daemon, number)?,
            daemon,
            name: numbered(&record.lesson, number),
        };
        for _ in 0..ROUNDS {
            asking.listen(LOOK, |_| false).await?;
            if !announced.gives_way(asking.claims()) {
                break;
            }
            let mine = announced.full_name.to_lowercase();
            let others = asking.claims().filter(|c| c.order() != mine);
            let number = record.free_number(others);
            // Under another instance name, since what others hold of the old
            // one may live on with them for a while.
            let full_name = record.register(&announced.daemon, number)?;
            announced.say_goodbye();
            announced.full_name = full_name;
            announced.name = numbered(&record.lesson, number);
        }
        Ok(announced)
    }

    /// Whether somebody else took the same name at the same moment, and comes
    /// first.
    fn gives_way<'c>(&self, mut claims: impl Iterator<Item = &'c Claim>) -> bool {
        let mine = self.full_name.to_lowercase();
        let name: NameLooks = [&self.name].into_iter().collect();
        claims.any(|c| c.order() < mine && name.has(&c.name()))
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

/// What is announced, but for the number.
struct Record<'a> {
    lesson: String,
    machine: String,
    port: u16,
    addresses: &'a [IpAddr],
    open: bool,
}

impl Record<'_> {
    fn free_number<'c>(&self, claims: impl Iterator<Item = &'c Claim>) -> u32 {
        let taken: NameLooks = claims.map(Claim::name).collect();
        free_number(&self.lesson, &taken)
    }

    /// Announces it under an instance name of its own; gives back the full
    /// name.
    fn register(&self, daemon: &ServiceDaemon, number: u32) -> Result<String, LinkError> {
        // A host name of the lesson's own: the machine's belongs to the
        // machine's own announcer, and two lessons may run on one machine.
        let random = getrandom::u64().map_err(|e| LinkError::Discovery(e.into()))?;
        let host = format!("{}-fifthpeg-{random:016x}.local.", self.machine);
        let instance = instance_name(&self.lesson, random);
        let door = if self.open { DOOR_OPEN } else { DOOR_LOCKED };
        let mut properties = vec![
            (TXT_LESSON, self.lesson.clone()),
            (TXT_OLDEST, PROTOCOL_OLDEST.to_string()),
            (TXT_NEWEST, PROTOCOL_NEWEST.to_string()),
            (TXT_DOOR, door.to_owned()),
            (TXT_MACHINE, self.machine.clone()),
        ];
        if number > 1 {
            properties.push((TXT_NUMBER, number.to_string()));
        }
        let mut info = ServiceInfo::new(
            SERVICE_TYPE,
            &instance,
            &host,
            self.addresses,
            self.port,
            &properties[..],
        )
        .map_err(failed)?;
        if self.addresses.is_empty() {
            info = info.enable_addr_auto();
        }
        // Both names hold 64 random bits, so asking whether they are free
        // would only cost three quarters of a second.
        info.set_requires_probe(false);
        let full_name = info.get_fullname().to_owned();
        daemon.register(info).map_err(failed)?;
        Ok(full_name)
    }
}

pub(super) fn failed(e: mdns_sd::Error) -> LinkError {
    LinkError::Discovery(e.into())
}
