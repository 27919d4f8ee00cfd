//! Finding lessons.

use core::time::Duration;
use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr, SocketAddrV6};

use mdns_sd::{Receiver, ResolvedService, ScopedIp, ServiceDaemon, ServiceEvent};

use super::announce::failed;
use super::name::instance_of;
use super::{MAX_ADDRESSES, SERVICE_TYPE, TXT_LESSON, TXT_MACHINE, TXT_NEWEST, TXT_OLDEST};
use crate::LinkError;

/// The most lessons that are listed.
pub const MAX_LESSONS: usize = 64;

/// A lesson found on the network, as it announces itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundLesson {
    /// The name it is announced under; no two on a network are the same.
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
}

/// Every lesson that answers within `wait`, by name.
///
/// # Errors
/// [`LinkError::Discovery`] if the network cannot be asked.
pub async fn find(wait: Duration) -> Result<Vec<FoundLesson>, LinkError> {
    find_until(wait, |_| false).await
}

/// Likewise, but stops as soon as `enough` says so of the lessons found so far.
///
/// # Errors
/// [`LinkError::Discovery`] if the network cannot be asked.
pub async fn find_until(
    wait: Duration,
    enough: impl Fn(&[FoundLesson]) -> bool + Send,
) -> Result<Vec<FoundLesson>, LinkError> {
    let asking = Asking::start()?;
    let deadline = tokio::time::Instant::now() + wait;
    let mut lessons = BTreeMap::new();
    while let Ok(event) = tokio::time::timeout_at(deadline, asking.events.recv_async()).await {
        let event = event.map_err(|e| LinkError::Discovery(e.to_string()))?;
        take(&mut lessons, event);
        let so_far: Vec<_> = lessons.values().cloned().collect();
        if enough(&so_far) {
            break;
        }
    }
    Ok(lessons.into_values().collect())
}

/// A question to the network that ends when this is dropped.
struct Asking {
    daemon: ServiceDaemon,
    events: Receiver<ServiceEvent>,
}

impl Asking {
    fn start() -> Result<Self, LinkError> {
        let daemon = ServiceDaemon::new().map_err(failed)?;
        let events = daemon.browse(SERVICE_TYPE).map_err(failed)?;
        Ok(Self { daemon, events })
    }
}

impl Drop for Asking {
    fn drop(&mut self) {
        // One that has stopped already is what is wanted.
        let _ = self.daemon.shutdown();
    }
}

fn take(lessons: &mut BTreeMap<String, FoundLesson>, event: ServiceEvent) {
    match event {
        ServiceEvent::ServiceResolved(service) => {
            if let Some(lesson) = read(&service)
                && (lessons.len() < MAX_LESSONS || lessons.contains_key(&lesson.name))
            {
                lessons.insert(lesson.name.clone(), lesson);
            }
        }
        ServiceEvent::ServiceRemoved(_, full_name) => {
            if let Some(name) = instance_of(&full_name, SERVICE_TYPE) {
                lessons.remove(&name);
            }
        }
        _ => {}
    }
}

/// What a resolved record says, if it makes sense.
fn read(service: &ResolvedService) -> Option<FoundLesson> {
    let name = instance_of(&service.fullname, SERVICE_TYPE)?;
    let said = |key| {
        let text = service.get_property_val_str(key)?;
        (!text.is_empty() && !text.chars().any(char::is_control)).then_some(text)
    };
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
    let host_name = match said(TXT_MACHINE) {
        Some(machine) => machine.to_owned(),
        None => service
            .host
            .trim_end_matches('.')
            .chars()
            .filter(|c| !c.is_control())
            .collect(),
    };
    Some(FoundLesson {
        lesson: said(TXT_LESSON).unwrap_or(&name).to_owned(),
        name,
        addresses,
        host_name,
        protocol: version(TXT_OLDEST).zip(version(TXT_NEWEST)),
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
