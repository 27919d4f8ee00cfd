//! Finding lessons.

use core::time::Duration;
use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr, SocketAddrV6};

use fifthpeg_core::text::may_be_named;
use fifthpeg_core::text::tamed;
use fifthpeg_lesson::names::tidy;
use mdns_sd::{Receiver, ResolvedService, ScopedIp, ServiceDaemon, ServiceEvent};
use tracing::debug;

use super::announce::failed;
use super::name::{NameLooks, free_number, numbered};
use super::{
    DOOR_OPEN, MAX_ADDRESSES, SERVICE_TYPE, TXT_DOOR, TXT_LESSON, TXT_MACHINE, TXT_NEWEST,
    TXT_NUMBER, TXT_OLDEST,
};
use crate::LinkError;

/// The most lessons that are listed.
pub const MAX_LESSONS: usize = 64;

/// A lesson found on the network, as it announces itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundLesson {
    /// The name people see; no two in a list are the same.
    pub name: String,
    /// The lesson's own name in full, without the number a clash added.
    pub lesson: String,
    /// Where it may be reached: this machine first, then the likeliest; at
    /// most [`MAX_ADDRESSES`].
    pub addresses: Vec<SocketAddr>,
    /// The name of its machine, for people.
    pub host_name: String,
    /// The oldest and newest protocol version it speaks, if it says so.
    pub protocol: Option<(u16, u16)>,
    /// Whether it says that it is open. Only for people: nothing proves it.
    pub open: bool,
}

/// Every lesson that answers within `wait`, by name.
///
/// # Errors
/// [`LinkError::Discovery`] if the network cannot be asked.
pub async fn find(wait: Duration) -> Result<Vec<FoundLesson>, LinkError> {
    Finder::start()?.look(wait, |_| false).await
}

/// How long is listened on after it is enough: a lesson's addresses come
/// network by network, a little apart.
const GATHER: Duration = Duration::from_millis(60);

/// Looks for lessons for as long as it is kept. Looking on with one finder
/// finds more than looking afresh: it keeps what it heard, and asks the network
/// less and less often, as RFC 6762 section 5.2 wants.
pub struct Finder(Asking);

impl Finder {
    /// Begins to ask the network.
    ///
    /// # Errors
    /// [`LinkError::Discovery`] if the network cannot be asked.
    pub fn start() -> Result<Self, LinkError> {
        Asking::start().map(Self)
    }

    /// Listens for so long, or until soon after `enough` says so of the lessons
    /// that are known; every lesson known by then, by name.
    ///
    /// # Errors
    /// [`LinkError::Discovery`] if the network cannot be asked any more.
    pub async fn look(
        &mut self,
        wait: Duration,
        enough: impl Fn(&[FoundLesson]) -> bool + Send,
    ) -> Result<Vec<FoundLesson>, LinkError> {
        let is_enough = self
            .0
            .listen(wait, |claims| enough(&lessons(claims)))
            .await?;
        if is_enough {
            self.0.listen(GATHER, |_| false).await?;
        }
        let found = lessons(&self.0.claims);
        debug!(name: "looked", count = found.len());
        Ok(found)
    }
}

impl std::fmt::Debug for Finder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Finder").field(&self.0.claims).finish()
    }
}

/// What one host says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Claim {
    full_name: String,
    lesson: String,
    number: u32,
    addresses: Vec<SocketAddr>,
    host_name: String,
    protocol: Option<(u16, u16)>,
    open: bool,
}

impl Claim {
    /// The name it wants to be known by.
    pub fn name(&self) -> String {
        numbered(&self.lesson, self.number)
    }

    /// Who gives way to whom: the later in this order to the earlier.
    pub fn order(&self) -> String {
        self.full_name.to_lowercase()
    }
}

/// Claims by their full name.
type Claims = BTreeMap<String, Claim>;

/// A question to the network that ends when this is dropped.
pub(super) struct Asking {
    daemon: ServiceDaemon,
    events: Receiver<ServiceEvent>,
    claims: Claims,
}

impl Asking {
    pub fn start() -> Result<Self, LinkError> {
        let daemon = ServiceDaemon::new().map_err(failed)?;
        let events = daemon.browse(SERVICE_TYPE).map_err(failed)?;
        Ok(Self {
            daemon,
            events,
            claims: Claims::new(),
        })
    }

    /// Takes in what comes for so long, or until it is enough; whether it was.
    pub async fn listen(
        &mut self,
        wait: Duration,
        enough: impl Fn(&Claims) -> bool,
    ) -> Result<bool, LinkError> {
        let deadline = tokio::time::Instant::now() + wait;
        while let Ok(event) = tokio::time::timeout_at(deadline, self.events.recv_async()).await {
            let event = event.map_err(|e| LinkError::Discovery(e.into()))?;
            if take(&mut self.claims, event) && enough(&self.claims) {
                return Ok(true);
            }
            // A flood of records never lets the wait run out by itself.
            if tokio::time::Instant::now() >= deadline {
                break;
            }
        }
        Ok(false)
    }

    pub fn claims(&self) -> impl Iterator<Item = &Claim> {
        self.claims.values()
    }
}

impl Drop for Asking {
    fn drop(&mut self) {
        // One that has stopped already is what is wanted.
        let _ = self.daemon.shutdown();
    }
}

/// The claims as lessons, each under a name of its own, sorted by it.
fn lessons(claims: &Claims) -> Vec<FoundLesson> {
    let mut in_order: Vec<_> = claims.values().collect();
    in_order.sort_by_key(|c| c.order());
    let mut taken = NameLooks::default();
    let mut lessons = Vec::with_capacity(in_order.len());
    for claim in in_order {
        let mut name = claim.name();
        if taken.has(&name) {
            name = numbered(&claim.lesson, free_number(&claim.lesson, &taken));
        }
        taken.add(&name);
        lessons.push(FoundLesson {
            name,
            lesson: claim.lesson.clone(),
            addresses: claim.addresses.clone(),
            host_name: claim.host_name.clone(),
            protocol: claim.protocol,
            open: claim.open,
        });
    }
    lessons.sort_by(|a, b| a.name.cmp(&b.name));
    lessons
}

/// Takes in one event; whether it changed anything.
fn take(claims: &mut Claims, event: ServiceEvent) -> bool {
    match event {
        ServiceEvent::ServiceResolved(service) => {
            let Some(claim) = read(&service) else {
                return false;
            };
            if claims.len() >= MAX_LESSONS && !claims.contains_key(&claim.full_name) {
                return false;
            }
            claims.insert(claim.full_name.clone(), claim);
            true
        }
        ServiceEvent::ServiceRemoved(_, full_name) => claims.remove(&full_name).is_some(),
        _ => false,
    }
}

/// What a resolved record says, if it makes sense.
fn read(service: &ResolvedService) -> Option<Claim> {
    let said = |key| {
        let text = service.get_property_val_str(key)?;
        (!text.is_empty() && may_be_named(text)).then_some(text)
    };
    // Where it is missing the rest of the record is still on its way.
    // A host tidies its lesson's name before it announces it.
    let lesson = tidy(said(TXT_LESSON)?).ok()?;
    let version = |key| said(key)?.parse::<u16>().ok();
    let mut addresses: Vec<_> = service
        .addresses
        .iter()
        .filter_map(|ip| socket_address(ip, service.port))
        .collect();
    addresses.sort_by_key(|a| (unlikeliness(a.ip()), *a));
    addresses.dedup();
    addresses.truncate(MAX_ADDRESSES);
    if addresses.is_empty() || service.port == 0 {
        return None;
    }
    let host_name = said(TXT_MACHINE).unwrap_or(service.host.trim_end_matches('.'));
    Some(Claim {
        full_name: service.fullname.clone(),
        lesson,
        number: said(TXT_NUMBER).and_then(|n| n.parse().ok()).unwrap_or(1),
        addresses,
        host_name: tamed(host_name),
        protocol: version(TXT_OLDEST).zip(version(TXT_NEWEST)),
        open: said(TXT_DOOR) == Some(DOOR_OPEN),
    })
}

/// Address and port; a link-local IPv6 address with the interface it was heard
/// on, since it means nothing without.
fn socket_address(ip: &ScopedIp, port: u16) -> Option<SocketAddr> {
    match ip {
        ScopedIp::V4(v4) => Some(SocketAddr::from((*v4.addr(), port))),
        ScopedIp::V6(v6) => {
            let scope = match v6.addr().is_unicast_link_local() {
                true => v6.scope_id().index,
                false => 0,
            };
            Some(SocketAddrV6::new(*v6.addr(), port, 0, scope).into())
        }
        _ => None,
    }
    .filter(|a| !a.ip().is_unspecified() && !a.ip().is_multicast())
}

/// This machine, then IPv4, then IPv6, then addresses of one link.
fn unlikeliness(ip: IpAddr) -> u8 {
    match ip {
        ip if ip.is_loopback() => 0,
        IpAddr::V4(v4) if v4.is_link_local() => 3,
        IpAddr::V4(_) => 1,
        IpAddr::V6(v6) if v6.is_unicast_link_local() => 4,
        IpAddr::V6(_) => 2,
    }
}
