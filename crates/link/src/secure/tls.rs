//! TLS 1.3 (RFC 8446), with the channel binding of RFC 9266.

use std::sync::{Arc, LazyLock};

use fifthpeg_core::Cause;
use fifthpeg_lock::{Binding, Fingerprint};
use rustls::client::Resumption;
use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::crypto::{CryptoProvider, verify_tls13_signature};
use rustls::pki_types::{CertificateDer, IpAddr, Ipv4Addr, ServerName, UnixTime};
use rustls::server::Acceptor;
use rustls::{ClientConfig, DigitallySignedStruct, Error, PeerIncompatible, SignatureScheme};
use tokio_rustls::{Accept, LazyConfigAcceptor, StartHandshake, TlsConnector, client, server};

use super::HostKey;
use super::key::fingerprint_of;
use crate::channel::ByteStream;
use crate::{LinkError, tame};

/// The longest piece of plain bytes in one record: a lesson's frames are short,
/// and what is written is copied piece by piece.
pub(super) const FRAGMENT_BYTES: usize = 4096;

/// RFC 9266 section 4.
const EXPORTER_LABEL: &[u8] = b"EXPORTER-Channel-Binding";

pub(super) fn provider() -> Arc<CryptoProvider> {
    static PROVIDER: LazyLock<Arc<CryptoProvider>> =
        LazyLock::new(|| Arc::new(rustls::crypto::ring::default_provider()));
    PROVIDER.clone()
}

/// Whether a connection that begins with this byte begins with TLS: a record of
/// the handshake (RFC 8446 section 5.1). A WebSocket begins with a letter.
pub fn begins_tls(first: u8) -> bool {
    first == 22
}

/// The host's end.
///
/// # Errors
/// [`LinkError::NotSecure`] if the other end does not open TLS 1.3.
pub async fn host<S: ByteStream>(
    stream: S,
    key: &HostKey,
) -> Result<(server::TlsStream<S>, Binding), LinkError> {
    greeted(stream).await?.answer(key).finish().await
}

/// The host's end, once the other has said what it opens with: [`host`] in
/// parts, for who decides when to do the costly one.
pub struct Greeted<S>(StartHandshake<S>);

/// The host's end, with everything worked out.
pub struct Answered<S> {
    accept: Accept<S>,
    host: Fingerprint,
}

/// Waits for what the other end opens with.
///
/// # Errors
/// [`LinkError::NotSecure`] if it does not open TLS.
pub async fn greeted<S: ByteStream>(stream: S) -> Result<Greeted<S>, LinkError> {
    let start = LazyConfigAcceptor::new(Acceptor::default(), stream);
    Ok(Greeted(start.await.map_err(not_secure)?))
}

impl<S: ByteStream> Greeted<S> {
    /// Agrees on keys and signs: the costly part, which waits for nothing.
    pub fn answer(self, key: &HostKey) -> Answered<S> {
        Answered {
            accept: self.0.into_stream(key.config()),
            host: key.fingerprint(),
        }
    }
}

impl<S: ByteStream> Answered<S> {
    /// Says it, and hears the other end out.
    ///
    /// # Errors
    /// [`LinkError::NotSecure`] if the other end does not open TLS 1.3.
    pub async fn finish(self) -> Result<(server::TlsStream<S>, Binding), LinkError> {
        let stream = self.accept.await.map_err(not_secure)?;
        let exported =
            stream
                .get_ref()
                .1
                .export_keying_material([0; 32], EXPORTER_LABEL, Some(b""));
        let binding = Binding {
            exporter: exported.map_err(|e| LinkError::NotSecure(e.into()))?,
            host: self.host,
        };
        Ok((stream, binding))
    }
}

/// The student's end. Any certificate is taken, and the fingerprint of the one
/// that was shown is in the binding: who it belongs to is proved over the
/// channel.
///
/// # Errors
/// [`LinkError::NotSecure`] if the other end does not answer in TLS 1.3.
pub async fn student<S: ByteStream>(
    stream: S,
) -> Result<(client::TlsStream<S>, Binding), LinkError> {
    static CONFIG: LazyLock<Result<Arc<ClientConfig>, Error>> = LazyLock::new(config);
    let config = CONFIG
        .as_ref()
        .map_err(|e| LinkError::NotSecure(e.into()))?;
    // No name goes out: with an address there is none to ask for.
    let nobody = ServerName::IpAddress(IpAddr::V4(Ipv4Addr::from([0, 0, 0, 0])));
    let stream = TlsConnector::from(config.clone())
        .connect(nobody, stream)
        .await
        .map_err(not_secure)?;
    let connection = stream.get_ref().1;
    let host: Option<Fingerprint> = connection
        .peer_certificates()
        .and_then(|shown| shown.first())
        .map(fingerprint_of);
    let exported = connection.export_keying_material([0; 32], EXPORTER_LABEL, Some(b""));
    let binding = Binding {
        exporter: exported.map_err(|e| LinkError::NotSecure(e.into()))?,
        host: host.ok_or_else(|| LinkError::NotSecure("no certificate was shown".into()))?,
    };
    Ok((stream, binding))
}

fn config() -> Result<Arc<ClientConfig>, Error> {
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

fn not_secure(e: std::io::Error) -> LinkError {
    match e.get_ref().and_then(|inner| inner.downcast_ref::<Error>()) {
        Some(inner) => LinkError::NotSecure(Cause::told(tame(&inner.to_string()), e)),
        // The other end hung up, which is what one does that knows no TLS.
        None => LinkError::NotSecure(e.into()),
    }
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
