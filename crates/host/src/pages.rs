//! The page for students with a phone: what it is made of, and giving it to
//! browsers over HTTP on the lesson's own port.

use core::convert::Infallible;
use std::net::IpAddr;

use fifthpeg_link::channel::ByteStream;
use fifthpeg_link::origin::OriginGate;
use http_body_util::Full;
use hyper::body::{Bytes, Incoming};
use hyper::header::{self, HeaderName, HeaderValue};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::TokioIo;
use tokio::time::{Instant, timeout};

use crate::Notice;
use crate::shared::{Allowance, Shared};

/// What `scripts/build-page` made: all of it is compressed already (gzip).
pub(crate) struct Made {
    /// Its Content-Security-Policy, with the hashes of what stands in it.
    policy: &'static str,
    html: &'static [u8],
    /// Path, with the content's hash in it; kind; bytes.
    files: &'static [(&'static str, &'static str, &'static [u8])],
}

/// The page, if this program was built with it.
pub(crate) const PAGE: Option<Made> = include!(concat!(env!("OUT_DIR"), "/page.rs"));

const NO_PAGE: &str = "This fifthpeg was built without the page for phones. Join with a terminal \
                       (fifthpeg join), or build the page with scripts/build-page and the program \
                       again.\n";

/// Answers one request of a browser. It takes no joiner's room meanwhile.
pub(crate) async fn serve<S: ByteStream + 'static>(
    shared: &Shared,
    stream: S,
    gate: &OriginGate,
    (ip, allowance): (IpAddr, &Allowance),
) {
    shared.browsers.note(ip);
    let within = shared.limits.page_within;
    allowance.step_aside(Instant::now() + within);
    let limit = shared.limits.pages;
    if shared.pages.available_permits() == 0 {
        shared.tell(Notice::PagesWait { limit });
    }
    // The semaphore is never closed.
    let Ok(_room) = shared.pages.acquire().await else {
        return;
    };
    let trusted = shared.trusted.as_deref().filter(|_| !gate.is_encrypted());
    let answer =
        service_fn(|request| async move { Ok::<_, Infallible>(answer(&request, gate, trusted)) });
    let served = http1::Builder::new()
        .keep_alive(false)
        .max_buf_size(16 * 1024)
        .serve_connection(TokioIo::new(stream), answer);
    // A browser that goes away has what it wanted, or will ask again.
    let _ = timeout(within, served).await;
}

fn answer(
    request: &Request<Incoming>,
    gate: &OriginGate,
    trusted: Option<&str>,
) -> Response<Full<Bytes>> {
    let told =
        |status, text: &'static str| response(status, "text/plain; charset=utf-8", text.as_bytes());
    if gate.admits_origin(request.headers()).is_err() {
        return told(
            StatusCode::FORBIDDEN,
            "This page is for its own host's lesson.\n",
        );
    }
    if request.method() != Method::GET && request.method() != Method::HEAD {
        return told(
            StatusCode::METHOD_NOT_ALLOWED,
            "There is only a page to be read here.\n",
        );
    }
    let Some(page) = &PAGE else {
        return told(StatusCode::NOT_FOUND, NO_PAGE);
    };
    let path = request.uri().path();
    if request.uri().query().is_some() {
        return told(
            StatusCode::NOT_FOUND,
            "There is nothing of that name here.\n",
        );
    }
    let file = page.files.iter().find(|(at, ..)| *at == path);
    let is_page = path == "/" || path == "/hall";
    // What stands behind the "#" goes with it (RFC 9110 section 10.2.2).
    if let Some(to) = trusted.filter(|_| is_page)
        && let Ok(to) = HeaderValue::from_str(&format!("{to}{path}"))
    {
        let mut response = told(StatusCode::TEMPORARY_REDIRECT, "This page is over https.\n");
        response.headers_mut().insert(header::LOCATION, to);
        return response;
    }
    let mut response = match file {
        _ if is_page => response(StatusCode::OK, "text/html; charset=utf-8", page.html),
        Some((_, kind, bytes)) => response(StatusCode::OK, kind, bytes),
        None => {
            return told(
                StatusCode::NOT_FOUND,
                "There is nothing of that name here.\n",
            );
        }
    };
    let kept = if is_page {
        "no-cache"
    } else {
        "public, max-age=31536000, immutable"
    };
    let headers = response.headers_mut();
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(kept));
    headers.insert(header::CONTENT_ENCODING, HeaderValue::from_static("gzip"));
    headers.insert(
        header::CONTENT_SECURITY_POLICY,
        HeaderValue::from_static(page.policy),
    );
    // A page that shares nothing with others has the finer clock. In the clear browsers
    // heed neither, and complain.
    if gate.is_encrypted() {
        for (name, value) in [
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-embedder-policy", "require-corp"),
        ] {
            headers.insert(
                HeaderName::from_static(name),
                HeaderValue::from_static(value),
            );
        }
    }
    response
}

fn response(status: StatusCode, kind: &'static str, body: &'static [u8]) -> Response<Full<Bytes>> {
    let mut response = Response::new(Full::new(Bytes::from_static(body)));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_TYPE, kind),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}
