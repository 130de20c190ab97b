//! What every answer carries, and whom we answer at all.

use crate::Site;
use crate::problem::Problem;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use std::time::Duration;
use tower_http::csrf::{CsrfLayer, ProtectionError};

/// No inline script, no inline style, nothing from elsewhere, no frame.
pub(crate) const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; \
    img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Names that always reach us: they cannot be pointed elsewhere.
const LOOPBACK: [&str; 3] = ["localhost", "127.0.0.1", "[::1]"];

/// A host without its port; an IPv6 address keeps its brackets.
fn bare(host: &str) -> &str {
    match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) && !name.is_empty() => name,
        _ => host,
    }
}

/// Whether that `Host` is ours: loopback with any port, or a name of the list (with a port in the list, the
/// port must agree). Guards against names that are pointed at this machine from elsewhere (DNS rebinding).
pub(crate) fn ours(host: &str, allowed: &[String]) -> bool {
    let name = bare(host);
    LOOPBACK.iter().any(|l| l.eq_ignore_ascii_case(name))
        || allowed.iter().any(|a| a.eq_ignore_ascii_case(host) || a.eq_ignore_ascii_case(name))
}

/// Names that the page may be asked for by.
pub(crate) struct Hosts {
    pub(crate) names: Vec<String>,
    /// Whether numbers are ours as well.
    pub(crate) by_number: bool,
}

/// Whether a host is an IP address. A name can be pointed at us from elsewhere, a number cannot: a page that was loaded from a
/// number was loaded from that machine.
fn is_number(host: &str) -> bool {
    let name = bare(host);
    let name = name.strip_prefix('[').and_then(|n| n.strip_suffix(']')).unwrap_or(name);
    name.parse::<std::net::IpAddr>().is_ok()
}

/// How long a page waits for the room's newest state; after that it shows the last it had.
const LOOK_WITHIN: Duration = Duration::from_secs(2);

/// Has the room drawn anew before it is shown.
pub(crate) async fn look(State(site): State<Site>, request: Request, next: Next) -> Response {
    // A service that is stopping, or too busy, still shows what it last knew.
    let _ = tokio::time::timeout(LOOK_WITHIN, site.keeper.look()).await;
    next.run(request).await
}

/// Answers 421 to a foreign `Host`.
pub(crate) async fn host(State(hosts): State<Arc<Hosts>>, request: Request, next: Next) -> Response {
    let allowed = &hosts.names;
    let ours = |h: &str| ours(h, allowed) || (hosts.by_number && is_number(h));
    let named = request.headers().get(header::HOST).and_then(|h| h.to_str().ok());
    let in_line = request.uri().authority().map(axum::http::uri::Authority::as_str);
    let fine = named.is_some_and(ours) && in_line.is_none_or(ours);
    if fine {
        return next.run(request).await;
    }
    let said = named.unwrap_or("(none)");
    tracing::warn!(host = said, "request for a foreign host name refused");
    let cure =
        "this name is not one of ours; add it to the allowed host names of the configuration if it should be";
    Problem::new(StatusCode::MISDIRECTED_REQUEST, format!("Host {said:?}: {cure}")).into_response()
}

/// Refuses a change asked for by another site.
pub(crate) fn csrf() -> CsrfLayer<impl Fn(ProtectionError) -> Response + Clone> {
    CsrfLayer::new().with_rejection_response(|error: ProtectionError| {
        tracing::warn!(%error, "change asked for by another site refused");
        let said = "this change was asked for by another site; open the page itself and try again";
        Problem::new(StatusCode::FORBIDDEN, said).into_response()
    })
}

/// Sets the headers that every answer carries.
pub(crate) async fn headers(request: Request, next: Next) -> Response<Body> {
    let mut answer = next.run(request).await;
    let headers = answer.headers_mut();
    let fixed = [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "same-origin"),
    ];
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_told_from_names() {
        for number in ["192.168.1.5", "192.168.1.5:4871", "[fd00::1]:80", "[fd00::1]"] {
            assert!(is_number(number), "{number}");
        }
        for name in ["192.168.1.5.evil.example", "box", "1.2.3", "", "0x7f.1:80"] {
            assert!(!is_number(name), "{name}");
        }
    }

    #[test]
    fn loopback_and_listed_names_are_ours_and_nothing_else() {
        let list = ["fishroom.lan".to_owned(), "box:8080".to_owned()];
        for good in ["localhost", "LOCALHOST:80", "127.0.0.1:4000", "[::1]:9", "fishroom.lan:81", "box:8080"]
        {
            assert!(ours(good, &list), "{good}");
        }
        for bad in
            ["", "evil.example", "localhost.evil.example", "127.0.0.1.evil:80", "box:8081", "::1", "box"]
        {
            assert!(!ours(bad, &list), "{bad}");
        }
    }
}
