//! What is checked before anything is done, and the headers every answer carries.
//!
//! The page is for this machine. A foreign web page that makes a browser here ask this server
//! (by a name that resolves to it, or by a form) is refused.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::Response;

use crate::engine::App;
use crate::pages::trouble::bare_page;
use crate::routes::html;

/// Nothing is loaded but this server's own style, scripts and icon; nothing inline runs.
const CONTENT_POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; \
     img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; \
     frame-ancestors 'none'";

/// An upload this many times over the limit is not even read to the end before it is refused.
const DRAIN_TIMES: u64 = 8;

/// Checks host, method, origin and announced size; then sets the headers.
pub async fn guard(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let mut response = match refuse(&app, &request) {
        Some(refusal) => refusal,
        None => match over_limit(&app, &request) {
            Some(size) => too_large(&app, size, request).await,
            None => next.run(request).await,
        },
    };
    set_headers(response.headers_mut());
    response
}

fn set_headers(headers: &mut HeaderMap) {
    let mut set = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, CONTENT_POLICY);
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    // "no-referrer" would make browsers send "Origin: null" with our own forms, and then they
    // could not be told from foreign ones. No link leaves this server, so nothing is told.
    set(header::REFERRER_POLICY, "same-origin");
    set(header::CACHE_CONTROL, "no-store");
    set(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    set(HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=()");
}

fn refuse(app: &App, request: &Request) -> Option<Response> {
    let host =
        request.headers().get(header::HOST).and_then(|v| v.to_str().ok()).unwrap_or_default();
    if !host_allowed(host, app.address, &app.options.host_names) {
        let page = bare_page(
            "This address is not ours",
            "The page was asked for under a name this program does not answer to.",
            "Type the address the program printed when it started, for example \
             http://127.0.0.1:8137/.",
        );
        return Some(html(StatusCode::FORBIDDEN, page));
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    if !reads && !origin_allowed(request.headers(), host) {
        let page = bare_page(
            "This form did not come from here",
            "Something was sent from another page, and was not taken.",
            "Nothing was changed. Open this program’s own Files page and send it from there.",
        );
        return Some(html(StatusCode::FORBIDDEN, page));
    }
    None
}

/// Plain addresses and `localhost` cannot be pointed here by a foreign name server; any other
/// name could.
fn host_allowed(host: &str, address: SocketAddr, names: &[String]) -> bool {
    let (name, port) = match host.rsplit_once(':') {
        Some((name, port)) if !port.contains(']') => (name, port.parse::<u16>().ok()),
        _ => (host, Some(80)),
    };
    if port != Some(address.port()) {
        return false;
    }
    let bare = name.trim_start_matches('[').trim_end_matches(']');
    if let Ok(ip) = bare.parse::<IpAddr>() {
        return ip.is_loopback() || ip == address.ip() || address.ip().is_unspecified();
    }
    name.eq_ignore_ascii_case("localhost") || names.iter().any(|n| n.eq_ignore_ascii_case(name))
}

/// Browsers say where a form comes from; programs without a browser say nothing.
fn origin_allowed(headers: &HeaderMap, host: &str) -> bool {
    let text = |name: &str| headers.get(name).map(|v| v.to_str().unwrap_or("unreadable"));
    match text("origin") {
        Some(origin) => {
            origin.strip_prefix("http://").is_some_and(|o| o.eq_ignore_ascii_case(host))
        }
        None => matches!(text("sec-fetch-site"), None | Some("same-origin" | "none")),
    }
}

/// The announced size, where it is over the limit.
fn over_limit(app: &App, request: &Request) -> Option<u64> {
    let announced = request.headers().get(header::CONTENT_LENGTH)?;
    let size: u64 = announced.to_str().ok()?.parse().ok()?;
    // Room for the form around the files.
    (size > app.options.max_upload_bytes.saturating_add(64 * 1024)).then_some(size)
}

/// The answer to an upload over the limit. A browser shows the answer only when it could send
/// everything first, so what is not hopelessly large is read and thrown away.
async fn too_large(app: &App, size: u64, request: Request) -> Response {
    let waits = request.headers().contains_key(header::EXPECT);
    if !waits && size <= app.options.max_upload_bytes.saturating_mul(DRAIN_TIMES) {
        drain(request.into_body()).await;
    }
    too_large_page(app.options.max_upload_bytes, Some(size))
}

/// What is wrong, and what to do.
pub fn too_large_page(limit: u64, size: Option<u64>) -> Response {
    let mb = |bytes: u64| format!("{:.1} MB", bytes as f64 / (1024.0 * 1024.0));
    let what = match size {
        Some(size) => format!(
            "The files together have {}; at most {} are taken at a time. Nothing was stored.",
            mb(size),
            mb(limit)
        ),
        None => format!(
            "The files together have more than {}, which is the most that is taken at a time. \
             Nothing was stored.",
            mb(limit)
        ),
    };
    let next = "Go back and send fewer files at a time, or take them in on the command line: \
                holdfast take FILE.csv";
    html(StatusCode::PAYLOAD_TOO_LARGE, bare_page("Too much at once", &what, next))
}

async fn drain(mut body: Body) {
    use axum::body::HttpBody as _;
    use std::future::poll_fn;
    use std::pin::Pin;
    while let Some(Ok(_)) = poll_fn(|cx| Pin::new(&mut body).poll_frame(cx)).await {}
}

#[cfg(test)]
mod tests {
    use super::*;

    fn allowed(host: &str, listen: &str) -> bool {
        host_allowed(host, listen.parse().unwrap(), &["bridge-pc".to_owned()])
    }

    #[test]
    fn only_names_that_nobody_else_can_point_here() {
        for host in ["127.0.0.1:8137", "localhost:8137", "[::1]:8137", "LOCALHOST:8137"] {
            assert!(allowed(host, "127.0.0.1:8137"), "{host}");
        }
        assert!(allowed("bridge-pc:8137", "127.0.0.1:8137"));
        assert!(allowed("192.168.1.5:8137", "0.0.0.0:8137"));
        assert!(allowed("192.168.1.5:8137", "192.168.1.5:8137"));
        assert!(allowed("127.0.0.1", "127.0.0.1:80"));
        for host in [
            "",
            "evil.example:8137",
            "127.0.0.1.evil.example:8137",
            "127.0.0.1:9999",
            "127.0.0.1",
            "192.168.1.5:8137",
            "localhost:8137@evil",
            "[::1]",
        ] {
            assert!(!allowed(host, "127.0.0.1:8137"), "{host}");
        }
        assert!(!allowed("evil.example:8137", "0.0.0.0:8137"));
    }

    #[test]
    fn forms_from_elsewhere_are_refused() {
        let check = |pairs: &[(&'static str, &'static str)]| {
            let mut h = HeaderMap::new();
            for (k, v) in pairs {
                h.insert(*k, HeaderValue::from_static(v));
            }
            origin_allowed(&h, "127.0.0.1:8137")
        };
        assert!(check(&[("origin", "http://127.0.0.1:8137")]));
        assert!(check(&[]));
        assert!(check(&[("sec-fetch-site", "same-origin")]));
        assert!(!check(&[("origin", "null")]));
        assert!(!check(&[("origin", "http://evil.example")]));
        assert!(!check(&[("origin", "http://localhost:8137")]));
        assert!(!check(&[("origin", "https://127.0.0.1:8137")]));
        assert!(!check(&[("sec-fetch-site", "cross-site")]));
    }
}
