//! How a phone gets into the lesson: the page's address, the words that open it, and
//! a link with both.

use std::net::{IpAddr, SocketAddr};
use std::path::Path;
use std::sync::Arc;

use fifthpeg_link::origin::{HostName, own_names};
use fifthpeg_link::secure::WebKey;
use fifthpeg_log::Chain;
use tokio::net::TcpListener;
use tracing::warn;

use crate::lock::PageWords;
use crate::{Certificate, Host, HostConfig, HostError, Lock, pages};

/// How a phone gets in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invite {
    /// What to type as an address.
    pub address: String,
    /// The words of this lesson's pages; none in an open lesson.
    pub words: Option<String>,
    /// Address and words in one, for a QR code. What stands behind the `#` stays in
    /// the browser.
    pub link: String,
    /// What a phone is to show of the certificate before its microphone is used;
    /// none where browsers trust it.
    pub fingerprint: Option<String>,
}

/// What pages have of their own in a lesson: words, and a certificate.
#[derive(Debug, Clone)]
pub(crate) struct OfPages {
    pub(crate) words: PageWords,
    pub(crate) web: Option<WebKey>,
    /// Where browsers trust it: scheme, name and port.
    pub(crate) trusted: Option<Arc<str>>,
    pub(crate) names: Arc<[HostName]>,
}

impl OfPages {
    pub(crate) fn make(config: &HostConfig, at: &[TcpListener]) -> Result<Self, HostError> {
        let mut names = own_names();
        names.extend(config.host_names.iter().cloned());
        let listening: Vec<_> = at.iter().filter_map(|l| l.local_addr().ok()).collect();
        let made = |path: Option<&Path>| {
            let at: Vec<_> = reachable(&listening).iter().map(SocketAddr::ip).collect();
            WebKey::keep_or_make(path, &at, &names)
                .inspect_err(|e| warn!(name: "no-web-key", error = %Chain(e)))
                .ok()
        };
        let web = match &config.certificate {
            _ if at.is_empty() || pages::PAGE.is_none() => None,
            Certificate::Given(web) => Some(web.clone()),
            Certificate::Own(path) => made(path.as_deref()),
        };
        let port = listening.first().map(SocketAddr::port);
        let trusted = match (&config.certificate, config.host_names.first(), port) {
            (Certificate::Given(_), Some(name), Some(port)) => Some(name.over_https(port).into()),
            _ => None,
        };
        Ok(Self {
            words: PageWords::make().map_err(HostError::Random)?,
            web,
            trusted,
            names: names.into(),
        })
    }
}

impl OfPages {
    /// What the door is to know of it.
    pub(crate) fn for_door(&self) -> (Option<WebKey>, Option<Arc<str>>, Arc<[HostName]>) {
        (self.web.clone(), self.trusted.clone(), self.names.clone())
    }
}

impl Host {
    /// How a phone gets in; `None` if this program was built without the page, or
    /// no network is used.
    pub fn invite(&self) -> Option<Invite> {
        let reachable = self.reachable();
        // An IPv4 address is what a hand can type.
        let typed = reachable
            .iter()
            .find(|at| at.is_ipv4() && !at.ip().is_loopback());
        let at = typed.or(reachable.first()).filter(|_| self.has_page())?;
        let trusted = self.pages.trusted.as_ref();
        let address = trusted.map_or_else(|| format!("http://{at}/"), |at| format!("{at}/"));
        let words = self.page_words();
        let link = match &words {
            Some(words) => format!("{address}#{}", words.replace(' ', "-")),
            None => address.clone(),
        };
        Some(Invite {
            address,
            words,
            link,
            fingerprint: match trusted {
                Some(_) => None,
                None => self.pages.web.as_ref().map(WebKey::fingerprint_in_pairs),
            },
        })
    }

    /// The words that let a page in a browser in, in a locked lesson; not the
    /// class's.
    pub fn page_words(&self) -> Option<String> {
        let locked = matches!(self.lock(), Lock::Passphrase { .. });
        locked.then(|| self.pages.words.now().shown().to_owned())
    }

    /// Makes others: the old ones let no newcomer in any more, and who is in stays
    /// in.
    ///
    /// # Errors
    /// [`HostError::Random`] if the system gives no randomness; the old ones hold.
    pub fn renew_page_words(&self) -> Result<(), HostError> {
        self.pages.words.renew().map_err(HostError::Random)
    }

    /// Whether this program has a page to serve: it may be built without.
    pub fn has_page(&self) -> bool {
        pages::PAGE.is_some()
    }

    /// The addresses that a student can type: each of this machine's own where the
    /// host listens on all of them.
    pub fn reachable(&self) -> Vec<SocketAddr> {
        reachable(&self.local_addrs())
    }
}

fn reachable(listening: &[SocketAddr]) -> Vec<SocketAddr> {
    let mut addresses = Vec::new();
    let mut of_one_link = Vec::new();
    for &local in listening {
        if local.ip().is_unspecified() {
            let mine = if_addrs::get_if_addrs().unwrap_or_default();
            for ip in mine.iter().map(if_addrs::Interface::ip) {
                if ip.is_ipv4() == local.is_ipv4() {
                    let kind = match is_link_local(ip) {
                        true => &mut of_one_link,
                        false => &mut addresses,
                    };
                    kind.push(SocketAddr::new(ip, local.port()));
                }
            }
        } else {
            addresses.push(local);
        }
    }
    if addresses.iter().all(|address| address.ip().is_loopback()) {
        addresses.append(&mut of_one_link);
    }
    // Loopback last: it serves this machine alone.
    addresses.sort_by_key(|address| address.ip().is_loopback());
    addresses.dedup();
    addresses
}

/// IPv6 addresses that hold for one link only: long, and shown only where there
/// is nothing else.
fn is_link_local(ip: IpAddr) -> bool {
    matches!(ip, IpAddr::V6(six) if six.is_unicast_link_local())
}
