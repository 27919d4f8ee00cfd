//! TLS 1.3 over a byte stream, with the channel binding of RFC 9266.

use std::sync::{Arc, LazyLock};

use fifthpeg_core::Cause;
use fifthpeg_core::text::tamed;
use fifthpeg_lock::{ChannelBinding, Fingerprint};
use fifthpeg_tls::{binding, nobody, student_binding, student_config};
use rustls::server::Acceptor;
use rustls::{ClientConfig, Error};
use tokio_rustls::{Accept, LazyConfigAcceptor, StartHandshake, TlsConnector, client, server};

use super::web::HTTP;
use super::{HostKey, WebKey};
use crate::LinkError;
use crate::channel::ByteStream;

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
) -> Result<(server::TlsStream<S>, ChannelBinding), LinkError> {
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

    /// Whether a browser is there: it says that it speaks HTTP.
    pub fn is_browser(&self) -> bool {
        let hello = self.0.client_hello();
        let mut spoken = hello.alpn().into_iter().flatten();
        spoken.any(|protocol| protocol == HTTP)
    }

    /// [`Greeted::answer`], to a browser.
    pub fn answer_browser(self, key: &WebKey) -> Answered<S> {
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
    pub async fn finish(self) -> Result<(server::TlsStream<S>, ChannelBinding), LinkError> {
        let stream = self.accept.await.map_err(not_secure)?;
        let binding = binding(stream.get_ref().1, self.host);
        Ok((stream, binding.map_err(|e| LinkError::NotSecure(e.into()))?))
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
) -> Result<(client::TlsStream<S>, ChannelBinding), LinkError> {
    static CONFIG: LazyLock<Result<Arc<ClientConfig>, Error>> = LazyLock::new(student_config);
    let config = CONFIG
        .as_ref()
        .map_err(|e| LinkError::NotSecure(e.into()))?;
    let stream = TlsConnector::from(config.clone())
        .connect(nobody(), stream)
        .await
        .map_err(not_secure)?;
    let binding = student_binding(stream.get_ref().1);
    Ok((stream, binding.map_err(|e| LinkError::NotSecure(e.into()))?))
}

fn not_secure(e: std::io::Error) -> LinkError {
    match e.get_ref().and_then(|inner| inner.downcast_ref::<Error>()) {
        Some(inner) => LinkError::NotSecure(Cause::told(tamed(&inner.to_string()), e)),
        // The other end hung up, which is what one does that knows no TLS.
        None => LinkError::NotSecure(e.into()),
    }
}
