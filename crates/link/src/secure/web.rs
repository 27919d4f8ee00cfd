//! What a host shows to browsers that come over https: a key of another kind than the
//! one terminals remember, since browsers take no Ed25519, with a certificate for the
//! host's addresses and names. Its signature is its own, so that browsers warn before
//! they take it, unless one was given that they know.

use core::fmt;
use core::net::IpAddr;
use core::time::Duration;
use std::path::Path;
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

use fifthpeg_lock::Fingerprint;
use fifthpeg_tls::fingerprint_of;
use rcgen::{
    CertificateParams, DistinguishedName, DnType, ExtendedKeyUsagePurpose, KeyPair,
    KeyUsagePurpose, PKCS_ECDSA_P256_SHA256, SanType, date_time_ymd,
};
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};

use super::key::server_config;
use super::key_file;
use crate::LinkError;
use crate::origin::HostName;

/// What browsers say that they speak (RFC 7301; RFC 9112). Terminals say nothing of it.
pub(super) const HTTP: &[u8] = b"http/1.1";

const DAY: Duration = Duration::from_secs(24 * 3600);
/// How many days a certificate holds. Apple's systems take one of 825 at most
/// ("Requirements for trusted certificates in iOS 13 and macOS 10.15",
/// support.apple.com/103769).
const HOLDS_DAYS: u32 = 820;
/// One that ends sooner than this many days is made anew.
const ENDS_SOON_DAYS: u64 = 30;

/// The key with its certificate.
#[derive(Clone)]
pub struct WebKey {
    fingerprint: Fingerprint,
    config: Arc<ServerConfig>,
}

impl WebKey {
    /// One for these addresses and names: the one in this file, if it is for all of them
    /// and holds for a while; else a new one, which is written there. Where the file
    /// cannot be used, one for this once.
    ///
    /// # Errors
    /// [`LinkError::Key`] if no key can be made at all.
    pub fn keep_or_make(
        path: Option<&Path>,
        addresses: &[IpAddr],
        names: &[HostName],
    ) -> Result<Self, LinkError> {
        let today = SystemTime::now()
            .duration_since(UNIX_EPOCH)
            .unwrap_or_default();
        let mut subjects: Vec<String> = addresses
            .iter()
            .map(|ip| ip.to_canonical().to_string())
            .collect();
        subjects.extend(names.iter().map(|name| name.name().to_owned()));
        subjects.sort();
        subjects.dedup();
        let kept = path.and_then(|path| key_file::read(path).ok().flatten());
        if let Some(key) = kept.and_then(|kept| still_good(&kept, &subjects, today)) {
            return Ok(key);
        }
        let text = made(&subjects, today).map_err(|e| LinkError::Key(e.into()))?;
        if let Some(path) = path {
            // Without the file it is another one next time, and browsers warn anew.
            let _ = std::fs::remove_file(path);
            let _ = key_file::write(path, &text);
        }
        Self::from_pem(&text)
    }

    /// One that was given: its certificate, those that vouch for it, and its key.
    ///
    /// # Errors
    /// [`LinkError::Key`] if it is not that.
    pub fn from_pem(pem: &str) -> Result<Self, LinkError> {
        let bytes = pem.as_bytes();
        let unread = |e: rustls::pki_types::pem::Error| LinkError::Key(e.into());
        let failed = |e: rustls::Error| LinkError::Key(e.into());
        let chain: Result<Vec<_>, _> = CertificateDer::pem_slice_iter(bytes).collect();
        let chain = chain.map_err(unread)?;
        let own = chain.first().map(fingerprint_of);
        let own = own.ok_or(LinkError::Key("there is no certificate in it".into()))?;
        let key = PrivateKeyDer::from_pem_slice(bytes).map_err(unread)?;
        let mut config = server_config(chain, key).map_err(failed)?;
        config.alpn_protocols = vec![HTTP.to_vec()];
        Ok(Self {
            fingerprint: own,
            config: Arc::new(config),
        })
    }

    /// What browsers show of the certificate: SHA-256 (FIPS 180-4) over it, in pairs.
    pub fn fingerprint_in_pairs(&self) -> String {
        let pairs = self.fingerprint.0.iter().map(|byte| format!("{byte:02X}"));
        pairs.collect::<Vec<_>>().join(" ")
    }

    pub(super) fn fingerprint(&self) -> Fingerprint {
        self.fingerprint
    }

    pub(super) fn config(&self) -> Arc<ServerConfig> {
        self.config.clone()
    }
}

impl fmt::Debug for WebKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "WebKey({})", self.fingerprint)
    }
}

/// What stands over key and certificate: the last day it holds, and what it is for.
fn head(last_day: u64, subjects: &[String]) -> String {
    format!("until day {last_day} for {}\n", subjects.join(" "))
}

fn still_good(kept: &str, subjects: &[String], today: Duration) -> Option<WebKey> {
    let rest = kept.strip_prefix("until day ")?;
    let (last_day, rest) = rest.split_once(" for ")?;
    let (of, _) = rest.split_once('\n')?;
    let left = last_day.parse::<u64>().ok()?.checked_sub(days(today))?;
    // A machine's own IPv6 addresses may change daily (RFC 8981): no reason for a new key,
    // and a new warning in every browser.
    let is_for =
        |subject: &String| subject.contains(':') || of.split(' ').any(|one| one == subject);
    let holds = (ENDS_SOON_DAYS..=u64::from(HOLDS_DAYS)).contains(&left);
    (holds && subjects.iter().all(is_for)).then(|| WebKey::from_pem(kept).ok())?
}

fn days(since: Duration) -> u64 {
    since.as_secs() / DAY.as_secs()
}

fn made(subjects: &[String], today: Duration) -> Result<String, rcgen::Error> {
    let key = KeyPair::generate_for(&PKCS_ECDSA_P256_SHA256)?;
    let mut params = CertificateParams::default();
    params.distinguished_name = DistinguishedName::new();
    params
        .distinguished_name
        .push(DnType::CommonName, "fifthpeg pages");
    for subject in subjects {
        params.subject_alt_names.push(match subject.parse() {
            Ok(ip) => SanType::IpAddress(ip),
            Err(_) => SanType::DnsName(subject.as_str().try_into()?),
        });
    }
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    // A phone's clock may be a little behind.
    let from = days(today).saturating_sub(1);
    let last = from + u64::from(HOLDS_DAYS);
    let day = |day: u64| date_time_ymd(1970, 1, 1) + DAY * u32::try_from(day).unwrap_or(u32::MAX);
    params.not_before = day(from);
    params.not_after = day(last);
    let certificate = params.self_signed(&key)?;
    let head = head(last, subjects);
    Ok(format!(
        "{head}{}{}",
        key.serialize_pem(),
        certificate.pem()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn subjects(of: &[&str]) -> Vec<String> {
        of.iter().map(|&subject| subject.to_owned()).collect()
    }

    #[test]
    fn one_that_is_kept_serves_until_it_ends_or_the_host_is_elsewhere() {
        let today = DAY * 20_700;
        let hall = subjects(&["192.168.1.20", "hall", "hall.local"]);
        let text = made(&hall, today).unwrap();
        let own = WebKey::from_pem(&text).unwrap().fingerprint();
        let again = |of: &[String], at| still_good(&text, of, at).map(|key| key.fingerprint());
        assert_eq!(again(&hall, today), Some(own));
        assert_eq!(again(&hall[1..], today), Some(own));
        assert_eq!(again(&subjects(&["192.168.1.21"]), today), None);
        assert_eq!(again(&hall, today + DAY * 788), Some(own));
        assert_eq!(again(&hall, today + DAY * 800), None);
        // A clock that was wrong when it was made.
        assert_eq!(again(&hall, DAY * 3), None);
        assert!(still_good("shopping list", &hall, today).is_none());
    }

    #[test]
    fn it_is_kept_in_a_file() {
        let folder = std::env::temp_dir().join(format!("fifthpeg-web-{}", std::process::id()));
        let path = folder.join("pages.key");
        let at = |ip: &str| {
            let ip = [ip.parse().unwrap()];
            let names = ["hall.local".parse().unwrap()];
            let key = WebKey::keep_or_make(Some(&path), &ip, &names).unwrap();
            key.fingerprint()
        };
        let hall = at("192.168.1.20");
        assert_eq!(at("192.168.1.20"), hall);
        assert_ne!(at("10.0.0.7"), hall);
        std::fs::remove_dir_all(&folder).unwrap();
        assert!(WebKey::keep_or_make(None, &[], &[]).is_ok());
        let nowhere = Path::new("/dev/null/nowhere/pages.key");
        assert!(WebKey::keep_or_make(Some(nowhere), &[], &[]).is_ok());
    }
}
