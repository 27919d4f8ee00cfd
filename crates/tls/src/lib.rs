//! TLS 1.3 (RFC 8446) as locked lessons use it, with the channel binding of RFC
//! 9266, without sockets: terminals and the page in a browser have it from here.

use std::sync::{Arc, LazyLock};

use fifthpeg_lock::{ChannelBinding, Fingerprint};
use rustls::client::Resumption;
use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::crypto::{CryptoProvider, verify_tls13_signature};
use rustls::pki_types::{CertificateDer, IpAddr, Ipv4Addr, ServerName, UnixTime};
use rustls::{
    ClientConfig, ClientConnection, CommonState, ConnectionCommon, DigitallySignedStruct, Error,
    PeerIncompatible, SignatureScheme,
};
use sha2::{Digest, Sha256};

/// The longest piece of plain bytes in one record: a lesson's frames are short,
/// and what is written is copied piece by piece.
pub const FRAGMENT_BYTES: usize = 4096;

/// RFC 9266 section 4.
const EXPORTER_LABEL: &[u8] = b"EXPORTER-Channel-Binding";

/// Where the cryptography comes from.
pub fn provider() -> Arc<CryptoProvider> {
    static PROVIDER: LazyLock<Arc<CryptoProvider>> =
        LazyLock::new(|| Arc::new(rustls::crypto::ring::default_provider()));
    PROVIDER.clone()
}

/// How a certificate is known.
pub fn fingerprint_of(certificate: &CertificateDer<'_>) -> Fingerprint {
    Fingerprint(Sha256::digest(certificate).into())
}

/// No name goes out: with an address there is none to ask for.
pub fn nobody() -> ServerName<'static> {
    ServerName::IpAddress(IpAddr::V4(Ipv4Addr::from([0, 0, 0, 0])))
}

/// A student's end. Any certificate is taken, and the fingerprint of the one
/// that was shown is in the binding: who it belongs to is proved over the
/// channel.
///
/// # Errors
/// If the cryptography lacks what TLS 1.3 needs.
pub fn student_config() -> Result<Arc<ClientConfig>, Error> {
    let provider = provider();
    let shown = Shown(provider.clone());
    let mut config = ClientConfig::builder_with_provider(provider)
        .with_protocol_versions(&[&rustls::version::TLS13])?
        .dangerous()
        .with_custom_certificate_verifier(Arc::new(shown))
        .with_no_client_auth();
    config.resumption = Resumption::disabled();
    config.enable_sni = false;
    config.max_fragment_size = Some(FRAGMENT_BYTES);
    Ok(Arc::new(config))
}

/// What a student's proof is bound to, once the handshake is over.
///
/// # Errors
/// If it is not over, or no certificate was shown.
pub fn student_binding(connection: &ClientConnection) -> Result<ChannelBinding, Error> {
    let host = shown_to(connection).ok_or(Error::NoCertificatesPresented)?;
    binding(connection, host)
}

/// What a proof is bound to: this channel, and the host of that fingerprint.
///
/// # Errors
/// If the handshake is not over.
pub fn binding<Data>(
    connection: &ConnectionCommon<Data>,
    host: Fingerprint,
) -> Result<ChannelBinding, Error> {
    let exporter = connection.export_keying_material([0; 32], EXPORTER_LABEL, Some(b""))?;
    Ok(ChannelBinding { exporter, host })
}

fn shown_to(connection: &CommonState) -> Option<Fingerprint> {
    connection
        .peer_certificates()
        .and_then(|shown| shown.first())
        .map(fingerprint_of)
}

/// Takes any certificate whose owner signs the handshake with its key.
#[derive(Debug)]
struct Shown(Arc<CryptoProvider>);

impl ServerCertVerifier for Shown {
    fn verify_server_cert(
        &self,
        _end_entity: &CertificateDer<'_>,
        _intermediates: &[CertificateDer<'_>],
        _server_name: &ServerName<'_>,
        _ocsp_response: &[u8],
        _now: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        Ok(ServerCertVerified::assertion())
    }

    fn verify_tls12_signature(
        &self,
        _message: &[u8],
        _cert: &CertificateDer<'_>,
        _dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        Err(PeerIncompatible::Tls12NotOffered.into())
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        cert: &CertificateDer<'_>,
        dss: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        let known = &self.0.signature_verification_algorithms;
        verify_tls13_signature(message, cert, dss, known)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.0.signature_verification_algorithms.supported_schemes()
    }
}
