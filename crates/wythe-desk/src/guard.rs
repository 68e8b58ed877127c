//! Who may ask, and what a page may do.
//!
//! The desk listens on this machine only. Against pages of other origins that a browser on this
//! machine shows, the name in `Host` must be one the desk was started under (a name rebound to
//! 127.0.0.1 is not), and whatever changes something must come from the desk's own origin.
//! Against other users of this machine, everything needs the key that was printed at the start;
//! the first page puts it into a cookie that scripts cannot read and that other sites cannot send.

use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};

use crate::desk::Desk;

/// What a page of the desk may load: its own files, and pictures and sound from itself.
pub const PAGE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self' data: blob:; media-src 'self' blob:; connect-src 'self'; frame-src 'self'; \
    base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/// What a document shown inside the report page may load: nothing; its style stands in the file.
pub const DOCUMENT_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'self'";

/// Largest form: a project file written out, every byte as three.
pub const LARGEST_FORM: usize = 3 * wythe_project::LARGEST_TEXT as usize + 4096;

/// Whether two texts are equal, in a time that tells only their length.
pub fn same(a: &str, b: &str) -> bool {
    let (a, b) = (a.as_bytes(), b.as_bytes());
    if a.len() != b.len() {
        return false;
    }
    a.iter().zip(b).fold(0u8, |differs, (x, y)| differs | (x ^ y)) == 0
}

/// A word nobody guesses: 128 random bits as hexadecimal digits.
///
/// # Errors
/// The operating system's, where it has no random numbers.
pub fn secret() -> std::io::Result<String> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes).map_err(|e| std::io::Error::other(e.to_string()))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// A cookie's value.
pub fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|v| v.to_str().ok())
        .flat_map(|v| v.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(n, _)| *n == name)
        .map(|(_, value)| value)
}

/// Why a request is refused before anybody looks at what it asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// Sent to a name the desk does not go by.
    Host,
    /// A change asked for by another site.
    Origin,
    /// Neither the key nor the cookie.
    Key,
}

/// Judges a request by its head; the key is looked for in the cookie of that name.
pub fn judge(
    method: &Method,
    headers: &HeaderMap,
    hosts: &[String],
    (name, key): (&str, &str),
) -> Result<(), Refusal> {
    sender(method, headers, hosts)?;
    match cookie(headers, name) {
        Some(given) if same(given, key) => Ok(()),
        _ => Err(Refusal::Key),
    }
}

/// Judges whom a request is for and where it comes from, whoever sends it.
pub fn sender(method: &Method, headers: &HeaderMap, hosts: &[String]) -> Result<(), Refusal> {
    let host = headers.get(header::HOST).and_then(|v| v.to_str().ok()).unwrap_or_default();
    if !hosts.iter().any(|h| h.eq_ignore_ascii_case(host)) {
        return Err(Refusal::Host);
    }
    let changes = !matches!(*method, Method::GET | Method::HEAD);
    let site = headers.get("sec-fetch-site").and_then(|v| v.to_str().ok());
    if changes {
        let own = headers
            .get(header::ORIGIN)
            .and_then(|v| v.to_str().ok())
            .and_then(|o| o.strip_prefix("http://"))
            .is_some_and(|o| o.eq_ignore_ascii_case(host));
        // A browser that tells where a request comes from may not contradict its origin.
        if !own || site.is_some_and(|s| s != "same-origin") {
            return Err(Refusal::Origin);
        }
    }
    Ok(())
}

/// Lets through what may pass and says with every answer what a page may do.
pub async fn guard(State(desk): State<Arc<Desk>>, request: Request, next: Next) -> Response {
    let path = request.uri().path().to_owned();
    let verdict =
        judge(request.method(), request.headers(), &desk.hosts, (&desk.cookie, &desk.key));
    // Recordings have bounds of their own; nothing else is large.
    let stated = request.headers().get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok());
    let large = stated.is_some_and(|l| l.parse().is_ok_and(|l: u64| l > LARGEST_FORM as u64));
    let mut answer = match verdict {
        Ok(()) if large && !path.starts_with("/upload/") => {
            refused(StatusCode::PAYLOAD_TOO_LARGE, "No form of the desk is as large as that.")
        }
        Ok(()) => next.run(request).await,
        Err(Refusal::Key) if path == "/" && request.method() == Method::GET => {
            let given = request.uri().query().and_then(|q| q.strip_prefix("key="));
            match given {
                Some(k) if same(k, &desk.key) => {
                    let mut welcome = Redirect::to("/").into_response();
                    let cookie =
                        format!("{}={}; Path=/; HttpOnly; SameSite=Strict", desk.cookie, desk.key);
                    if let Ok(value) = HeaderValue::from_str(&cookie) {
                        welcome.headers_mut().insert(header::SET_COOKIE, value);
                    }
                    welcome
                }
                _ => refused(
                    StatusCode::FORBIDDEN,
                    "Open the desk with the address that was printed when it started: it holds the \
                     key.",
                ),
            }
        }
        Err(Refusal::Key) => refused(
            StatusCode::FORBIDDEN,
            "This needs the key of the desk. Open it with the address that was printed when it \
             started.",
        ),
        Err(Refusal::Host) => {
            refused(StatusCode::MISDIRECTED_REQUEST, "The desk does not go by this name.")
        }
        Err(Refusal::Origin) => {
            refused(StatusCode::FORBIDDEN, "A change can only be asked for by a page of the desk.")
        }
    };
    say_what_a_page_may(answer.headers_mut());
    answer
}

/// Says with an answer what its page may do.
pub fn say_what_a_page_may(headers: &mut HeaderMap) {
    let mut set = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, PAGE_POLICY);
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    // With `no-referrer` a browser sends forms with the origin `null`, which is refused here.
    set(header::REFERRER_POLICY, "same-origin");
    set(header::CACHE_CONTROL, "no-store");
    set(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
}

/// An answer that refuses.
pub fn refused(status: StatusCode, why: &'static str) -> Response {
    (status, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], why).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOST: &str = "127.0.0.1:7000";
    const NAME: &str = "wythe_desk";

    fn head(pairs: &[(&'static str, &str)]) -> HeaderMap {
        pairs
            .iter()
            .map(|(n, v)| (HeaderName::from_static(n), HeaderValue::from_str(v).unwrap()))
            .collect()
    }

    fn asked(method: Method, pairs: &[(&'static str, &str)]) -> Result<(), Refusal> {
        judge(
            &method,
            &head(pairs),
            &[HOST.to_owned(), "localhost:7000".to_owned()],
            (NAME, "secret"),
        )
    }

    #[test]
    fn a_name_rebound_to_this_machine_is_refused() {
        let cookie = ("cookie", "wythe_desk=secret");
        assert_eq!(asked(Method::GET, &[("host", HOST), cookie]), Ok(()));
        assert_eq!(asked(Method::GET, &[("host", "localhost:7000"), cookie]), Ok(()));
        for host in ["evil.example:7000", "127.0.0.1", "127.0.0.1:7001", ""] {
            assert_eq!(asked(Method::GET, &[("host", host), cookie]), Err(Refusal::Host), "{host}");
        }
        assert_eq!(asked(Method::GET, &[cookie]), Err(Refusal::Host));
    }

    #[test]
    fn another_site_changes_nothing() {
        let cookie = ("cookie", "a=b; wythe_desk=secret");
        let own = ("origin", "http://127.0.0.1:7000");
        assert_eq!(asked(Method::POST, &[("host", HOST), own, cookie]), Ok(()));
        for origin in ["http://evil.example", "null", "https://127.0.0.1:7000", "http://127.0.0.1"]
        {
            let got = asked(Method::POST, &[("host", HOST), ("origin", origin), cookie]);
            assert_eq!(got, Err(Refusal::Origin), "{origin}");
        }
        assert_eq!(asked(Method::POST, &[("host", HOST), cookie]), Err(Refusal::Origin));
        let crossed = [("host", HOST), own, cookie, ("sec-fetch-site", "cross-site")];
        assert_eq!(asked(Method::PUT, &crossed), Err(Refusal::Origin));
    }

    #[test]
    fn nothing_without_the_key() {
        let own = ("origin", "http://127.0.0.1:7000");
        for cookie in ["", "wythe_desk=", "wythe_desk=secre", "wythe_desk=Secret", "x=secret"] {
            let got = asked(Method::POST, &[("host", HOST), own, ("cookie", cookie)]);
            assert_eq!(got, Err(Refusal::Key), "{cookie}");
        }
    }

    #[test]
    fn secrets_differ() {
        let (a, b) = (secret().unwrap(), secret().unwrap());
        assert!(a.len() == 32 && a != b && same(&a, &a) && !same(&a, &b));
    }
}
