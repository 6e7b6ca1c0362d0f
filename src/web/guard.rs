//! What every request must pass before anything looks at it.

use axum::extract::{Request, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::state::Shared;

pub const COOKIE: &str = "quarterturn_key";
pub const ENTRY: &str = "/enter";

/// Refuses foreign hosts, cross-site changes and requests without the token; adds the headers
/// that keep a browser from doing more than it must.
pub async fn guard(State(app): State<Shared>, request: Request, next: Next) -> Response {
    let answer = match refuse(&app, &request) {
        Some((status, text)) => (status, text).into_response(),
        None => next.run(request).await,
    };
    harden(answer)
}

fn refuse(app: &Shared, request: &Request) -> Option<(StatusCode, &'static str)> {
    let headers = request.headers();
    let host = text(headers, header::HOST);
    // A name that only points here (DNS rebinding) is not this server's own.
    if !app.hosts.iter().any(|h| Some(h.as_str()) == host) {
        return Some((
            StatusCode::MISDIRECTED_REQUEST,
            "This address is not the one that `quarterturn show` printed. Open that one.",
        ));
    }
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
    if changes && !same_origin(headers, host) {
        return Some((
            StatusCode::FORBIDDEN,
            "This request came from another page. Use the forms of the local page itself.",
        ));
    }
    if request.uri().path() == ENTRY {
        return None;
    }
    if !cookie(headers).is_some_and(|c| equal(c, &app.token)) {
        return Some((
            StatusCode::UNAUTHORIZED,
            "Open the whole address that `quarterturn show` printed, or scan its code again.",
        ));
    }
    None
}

fn text(headers: &HeaderMap, name: HeaderName) -> Option<&str> {
    headers.get(name)?.to_str().ok()
}

/// A form of this page sends its own origin; a request without one is let in only where the
/// browser vouches for it.
fn same_origin(headers: &HeaderMap, host: Option<&str>) -> bool {
    let site = headers.get("sec-fetch-site").and_then(|v| v.to_str().ok());
    if site.is_some_and(|s| s != "same-origin") {
        return false;
    }
    match text(headers, header::ORIGIN) {
        Some(origin) => origin
            .strip_prefix("http://")
            .is_some_and(|o| Some(o) == host),
        None => site == Some("same-origin"),
    }
}

fn cookie(headers: &HeaderMap) -> Option<&str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|v| v.to_str().ok())
        .flat_map(|v| v.split(';'))
        .find_map(|pair| pair.trim().strip_prefix(COOKIE)?.strip_prefix('='))
}

/// Compares without telling by its duration where two texts differ.
pub fn equal(a: &str, b: &str) -> bool {
    a.len() == b.len()
        && a.bytes()
            .zip(b.bytes())
            .fold(0, |acc, (x, y)| acc | (x ^ y))
            == 0
}

fn harden(mut answer: Response) -> Response {
    let headers = answer.headers_mut();
    let fixed = [
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "same-origin"),
        (header::CACHE_CONTROL, "no-store"),
    ];
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.insert(
        HeaderName::from_static("cross-origin-resource-policy"),
        HeaderValue::from_static("same-origin"),
    );
    headers
        .entry(header::CONTENT_SECURITY_POLICY)
        .or_insert(HeaderValue::from_static(
            "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
        ));
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs
            .iter()
            .map(|(k, v)| (HeaderName::from_static(k), HeaderValue::from_static(v)))
            .collect()
    }

    #[test]
    fn only_this_pages_own_forms_may_change_anything() {
        let ok = |pairs: &[_]| same_origin(&headers(pairs), Some("127.0.0.1:8"));
        assert!(ok(&[("origin", "http://127.0.0.1:8")]));
        assert!(ok(&[("sec-fetch-site", "same-origin")]));
        assert!(!ok(&[]));
        assert!(!ok(&[("origin", "null")]));
        assert!(!ok(&[("origin", "http://127.0.0.1:80")]));
        assert!(!ok(&[
            ("origin", "http://127.0.0.1:8"),
            ("sec-fetch-site", "cross-site")
        ]));
    }

    #[test]
    fn the_key_is_found_among_other_cookies_and_compared_whole() {
        let h = headers(&[("cookie", "a=b; quarterturn_key=0f; c=d")]);
        assert_eq!(cookie(&h), Some("0f"));
        assert_eq!(cookie(&headers(&[("cookie", "quarterturn_keyy=0f")])), None);
        assert!(equal("0f", "0f") && !equal("0f", "0e") && !equal("0f", "0f0"));
    }
}
