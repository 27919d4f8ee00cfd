//! Who may open a WebSocket or ask for a page: any terminal, and pages that
//! this host served itself.
//!
//! A browser lets a page from anywhere open a WebSocket to any machine it can
//! reach, and says in `Origin` where the page is from (RFC 6455 section 10.2,
//! RFC 6454). A terminal says nothing there. What the request calls this
//! machine (`Host`) is the page's word as well: a name that somebody else owns may
//! be made to lead here. So an origin is held against what this machine knows of
//! itself: the address at which the connection came in, and names.

use core::fmt;
use core::str::FromStr;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use fifthpeg_core::text::tamed;
use fifthpeg_wire::{OPEN_PATH, WITHIN_PATH};
use tokio_tungstenite::tungstenite::http::header::ORIGIN;
use tokio_tungstenite::tungstenite::http::{HeaderMap, Uri};

use crate::discovery;

/// The paths of WebSockets that are ours.
const PATHS: [&str; 2] = [OPEN_PATH, WITHIN_PATH];

/// A name under which pages may reach this host: its own, or one given to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HostName {
    /// In small letters.
    name: String,
    /// Where somebody in front of the host takes connections, if it is not the
    /// host's own port.
    port: Option<u16>,
}

/// What was written is no name of a machine.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{}\" is no name of a machine: write it as in a browser's address line, such as \
     hall.example or hall.example:8443", tamed(.0)
)]
pub struct NoHostName(String);

impl FromStr for HostName {
    type Err = NoHostName;

    fn from_str(text: &str) -> Result<Self, NoHostName> {
        let no_name = || NoHostName(text.to_owned());
        let (name, port) = match text.rsplit_once(':') {
            Some((name, port)) => (name, Some(port.parse().map_err(|_| no_name())?)),
            None => (text, None),
        };
        // RFC 1123 section 2.1.
        let fits = |label: &str| {
            (1..=63).contains(&label.len())
                && label
                    .bytes()
                    .all(|b| b.is_ascii_alphanumeric() || b == b'-')
        };
        let name = name.strip_suffix('.').unwrap_or(name).to_ascii_lowercase();
        if name.len() > 253 || !name.split('.').all(fits) {
            return Err(no_name());
        }
        Ok(Self { name, port })
    }
}

impl HostName {
    /// The name, in small letters.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The origin of a page under this name over https (RFC 6454 section 6.2), from a host
    /// that listens at that port.
    pub fn over_https(&self, port: u16) -> String {
        match self.port.unwrap_or(port) {
            443 => format!("https://{}", self.name),
            port => format!("https://{}:{port}", self.name),
        }
    }
}

/// The names of this machine itself, to which others may be added.
pub fn own_names() -> Vec<HostName> {
    let name = discovery::machine_name();
    [name.clone(), format!("{name}.local")]
        .iter()
        .filter_map(|name| name.parse().ok())
        .collect()
}

/// What one connection is held against.
#[derive(Debug, Clone)]
pub struct OriginGate {
    /// Where it came in.
    at: Option<SocketAddr>,
    /// How it is spoken.
    encrypted: bool,
    names: Arc<[HostName]>,
}

/// Somebody who has no business here. Displays as what it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stranger {
    /// It asked for something that is not of a lesson.
    Path(String),
    /// A page from elsewhere.
    Page(String),
}

impl fmt::Display for Stranger {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Path(path) => write!(f, "it asked for {path}, which is nothing here"),
            Self::Page(origin) => write!(
                f,
                "a web page from elsewhere ({origin}) wanted in; if it is this host's own, name it \
                 with --host-name"
            ),
        }
    }
}

impl OriginGate {
    /// For whatever is no page.
    pub fn for_terminals() -> Self {
        Self {
            at: None,
            encrypted: false,
            names: Arc::new([]),
        }
    }

    /// For a connection that came in there.
    pub fn at(at: SocketAddr, encrypted: bool, names: Arc<[HostName]>) -> Self {
        Self {
            at: Some(at),
            encrypted,
            names,
        }
    }

    /// Whether what comes in here is encrypted.
    pub fn is_encrypted(&self) -> bool {
        self.encrypted
    }

    /// Whether a request may go on: the one place that decides it.
    ///
    /// # Errors
    /// [`Stranger`], who is to be turned away.
    pub fn admits(&self, asked: &Uri, headers: &HeaderMap) -> Result<(), Stranger> {
        // In a request to the host itself stands a path and nothing else (RFC
        // 9112 section 3.2.1).
        if asked.authority().is_some() || !PATHS.contains(&asked.to_string().as_str()) {
            return Err(Stranger::Path(shortened(&asked.to_string())));
        }
        self.admits_origin(headers)
    }

    /// Whether a request comes from no page, or from one of this host's.
    ///
    /// # Errors
    /// [`Stranger`], who is to be turned away.
    pub fn admits_origin(&self, headers: &HeaderMap) -> Result<(), Stranger> {
        let mut origins = headers.get_all(ORIGIN).iter();
        let Some(origin) = origins.next() else {
            return Ok(());
        };
        let one = origins.next().is_none();
        let text = String::from_utf8_lossy(origin.as_bytes());
        if one && self.is_own(&text) {
            return Ok(());
        }
        Err(Stranger::Page(shortened(&text)))
    }

    /// Whether a page of that origin is this host's (RFC 6454 section 4: scheme,
    /// host and port).
    fn is_own(&self, origin: &str) -> bool {
        let (scheme, usual_port) = if self.encrypted {
            ("https://", 443)
        } else {
            ("http://", 80)
        };
        let (Some(at), Some(rest)) = (self.at, origin.strip_prefix(scheme)) else {
            return false;
        };
        let (host, port) = match rest.rsplit_once(':') {
            // The colons of an IPv6 address are within brackets.
            Some((host, port)) if !port.ends_with(']') => match port.parse() {
                Ok(port) => (host, port),
                Err(_) => return false,
            },
            _ => (rest, usual_port),
        };
        let bare = host
            .strip_prefix('[')
            .and_then(|host| host.strip_suffix(']'));
        if let Ok(ip) = bare.unwrap_or(host).parse::<IpAddr>() {
            return ip.to_canonical() == at.ip().to_canonical() && port == at.port();
        }
        let host = host.to_ascii_lowercase();
        let is_here = host == "localhost" && at.ip().to_canonical().is_loopback();
        (is_here && port == at.port())
            || self
                .names
                .iter()
                .any(|own| own.name == host && port == own.port.unwrap_or(at.port()))
    }
}

/// As much as a notice has room for, safe to show.
fn shortened(text: &str) -> String {
    tamed(&text.chars().take(60).collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio_tungstenite::tungstenite::http::HeaderValue;

    fn gate(at: &str, encrypted: bool) -> OriginGate {
        let mut names = vec!["Hall-Laptop".parse().unwrap()];
        names.push("banjo.example:8443".parse().unwrap());
        OriginGate::at(at.parse().unwrap(), encrypted, names.into())
    }

    fn asks(
        gate: &OriginGate,
        path: &str,
        headers: &[(&'static str, &str)],
    ) -> Result<(), Stranger> {
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(*name, HeaderValue::from_str(value).unwrap());
        }
        gate.admits(&path.parse().unwrap(), &map)
    }

    #[test]
    fn terminals_and_own_pages_pass() {
        let open = gate("192.168.1.20:4750", false);
        assert_eq!(asks(&open, "/", &[]), Ok(()));
        for own in [
            "http://192.168.1.20:4750",
            "http://hall-laptop:4750",
            "http://HALL-LAPTOP:4750",
            "http://banjo.example:8443",
        ] {
            assert_eq!(asks(&open, "/", &[("origin", own)]), Ok(()), "{own}");
        }
        let here = gate("127.0.0.1:4750", true);
        assert_eq!(
            asks(&here, "/", &[("origin", "https://localhost:4750")]),
            Ok(())
        );
        // A socket for both families says an IPv4 address so.
        let both = gate("[::ffff:192.168.1.20]:80", false);
        assert_eq!(
            asks(&both, "/", &[("origin", "http://192.168.1.20")]),
            Ok(())
        );
        let six = gate("[2001:db8::7]:4750", false);
        assert_eq!(
            asks(&six, "/", &[("origin", "http://[2001:db8::7]:4750")]),
            Ok(())
        );
    }

    #[test]
    fn foreign_pages_and_rebound_names_do_not_whatever_host_they_name() {
        let open = gate("192.168.1.20:4750", false);
        for foreign in [
            "http://evil.example",
            "http://evil.example:4750",
            "https://192.168.1.20:4750",
            "http://192.168.1.20",
            "http://192.168.1.20:4751",
            "http://192.168.1.21:4750",
            "http://hall-laptop.evil.example:4750",
            "http://hall-laptop@evil.example:4750",
            "http://evil.example/hall-laptop:4750",
            "http://localhost:4750",
            "http://banjo.example:4750",
            "http://[::1]:4750",
            "null",
            "",
            "file://",
        ] {
            let rebound = [("host", "evil.example:4750"), ("origin", foreign)];
            let own_host = [("host", "192.168.1.20:4750"), ("origin", foreign)];
            for headers in [rebound, own_host] {
                let told = asks(&open, "/", &headers);
                assert_eq!(told, Err(Stranger::Page(foreign.to_owned())), "{foreign}");
            }
        }
        // One of two is one too many.
        let own = ("origin", "http://192.168.1.20:4750");
        let two = [own, ("origin", "http://evil.example")];
        assert!(asks(&open, "/", &two).is_err());
        assert!(asks(&OriginGate::for_terminals(), "/", &[own]).is_err());
    }

    #[test]
    fn only_our_paths_are_served() {
        let open = gate("192.168.1.20:4750", false);
        assert_eq!(asks(&open, "/within", &[]), Ok(()));
        for path in [
            "/x",
            "/within/",
            "//",
            "/?a",
            "/index.html",
            "http://192.168.1.20:4750/",
            "*",
        ] {
            let told = asks(&open, path, &[]);
            assert!(matches!(told, Err(Stranger::Path(_))), "{path}");
        }
    }

    #[test]
    fn a_host_name_is_one_of_a_machine() {
        for name in ["hall", "hall.example.", "Hall-2.local:80"] {
            assert!(name.parse::<HostName>().is_ok(), "{name}");
        }
        for name in [
            "",
            "http://hall",
            "a b",
            "hall:x",
            "hall:70000",
            "ha_ll",
            "é.example",
            ".",
        ] {
            assert!(name.parse::<HostName>().is_err(), "{name}");
        }
        assert!(!own_names().is_empty());
    }
}
