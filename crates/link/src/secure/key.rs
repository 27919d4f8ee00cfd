//! A host's key and certificate.

use core::fmt;
use std::sync::Arc;

use fifthpeg_lock::{Fingerprint, PrivateKey};
use fifthpeg_tls::{FRAGMENT_BYTES, fingerprint_of, provider};
use rcgen::{CertificateParams, DistinguishedName, DnType, KeyPair, PKCS_ED25519};
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::NoServerSessionStorage;

use crate::LinkError;

/// What a host is known by: a key of its own and a certificate that it signed
/// itself. Made once, and the same from lesson to lesson.
#[derive(Clone)]
pub struct HostKey {
    pem: Arc<String>,
    fingerprint: Fingerprint,
    for_keys: PrivateKey,
    config: Arc<ServerConfig>,
}

impl HostKey {
    /// A new one.
    ///
    /// # Errors
    /// [`LinkError::Key`] if the system gives no randomness.
    pub fn make() -> Result<Self, LinkError> {
        let failed = |e: rcgen::Error| LinkError::Key(e.into());
        let key = KeyPair::generate_for(&PKCS_ED25519).map_err(failed)?;
        let mut params = CertificateParams::default();
        // Nothing of the machine or of anybody: it is read by strangers.
        params.distinguished_name = DistinguishedName::new();
        params
            .distinguished_name
            .push(DnType::CommonName, "fifthpeg host");
        let certificate = params.self_signed(&key).map_err(failed)?;
        let pem = format!("{}{}", key.serialize_pem(), certificate.pem());
        Self::from_pem(&pem)
    }

    /// From what [`HostKey::to_pem`] gave.
    ///
    /// # Errors
    /// [`LinkError::Key`] if it is not a key with its certificate.
    pub fn from_pem(pem: &str) -> Result<Self, LinkError> {
        let bytes = pem.as_bytes();
        let unread = |e: rustls::pki_types::pem::Error| LinkError::Key(e.into());
        let failed = |e: rustls::Error| LinkError::Key(e.into());
        let certificate = CertificateDer::from_pem_slice(bytes).map_err(unread)?;
        let key = PrivateKeyDer::from_pem_slice(bytes).map_err(unread)?;
        let fingerprint = fingerprint_of(&certificate);
        let for_keys = PrivateKey::of_host(key.secret_der());
        let config = server_config(vec![certificate], key).map_err(failed)?;
        Ok(Self {
            pem: Arc::new(pem.to_owned()),
            fingerprint,
            for_keys,
            config: Arc::new(config),
        })
    }

    /// Key and certificate, to be kept where only their owner reads.
    pub fn to_pem(&self) -> &str {
        &self.pem
    }

    /// What students know it by.
    pub fn fingerprint(&self) -> Fingerprint {
        self.fingerprint
    }

    /// What it proves itself by to whoever comes with a class key.
    pub fn for_class_keys(&self) -> &PrivateKey {
        &self.for_keys
    }

    pub(super) fn config(&self) -> Arc<ServerConfig> {
        self.config.clone()
    }
}

impl fmt::Debug for HostKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "HostKey({})", self.fingerprint)
    }
}

/// A host's end of TLS 1.3 with this certificate.
pub(super) fn server_config(
    chain: Vec<CertificateDer<'static>>,
    key: PrivateKeyDer<'static>,
) -> Result<ServerConfig, rustls::Error> {
    let mut config = ServerConfig::builder_with_provider(provider())
        .with_protocol_versions(&[&rustls::version::TLS13])?
        .with_no_client_auth()
        .with_single_cert(chain, key)?;
    // A lesson's connections are long: nothing is kept for another one.
    config.session_storage = Arc::new(NoServerSessionStorage {});
    config.send_tls13_tickets = 0;
    config.max_fragment_size = Some(FRAGMENT_BYTES);
    Ok(config)
}
