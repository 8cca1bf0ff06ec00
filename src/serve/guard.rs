//! Refuses what another page could make a browser send.
//!
//! A page of a stranger can have requests sent to the loopback, and by a name of its own that leads there (DNS rebinding) read the
//! answers. So the name that was asked for must be one that only this machine has, and whoever is known to ask must be a
//! page of this server. Nothing here changes anything, so that no other method than reading has a meaning.

use hyper::header::{HeaderMap, HeaderName, ORIGIN};
use hyper::{Method, Request};

use super::Reply;

/// The names of the loopback that a browser shows.
const NAMES: &[&str] = &["127.0.0.1", "localhost"];

/// What to say instead of an answer, if there is to be none.
pub(super) fn refused<B>(request: &Request<B>, port: u16) -> Option<Reply> {
    let headers = request.headers();
    let Some(host) = NAMES.iter().map(|name| format!("{name}:{port}")).find(|own| is(headers, "host", own)) else {
        return Some(Reply::words(403, "only this machine may ask, by the address that was printed"));
    };
    let by_another = headers.contains_key(ORIGIN) && !is(headers, "origin", &format!("http://{host}"));
    if by_another || is_fetched_by_another(headers) || request.uri().authority().is_some() {
        return Some(Reply::words(403, "only pages of this server may ask"));
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    (!reads).then(|| Reply::words(405, "there is only reading here"))
}

/// Whether a header is there exactly once and says this.
fn is(headers: &HeaderMap, name: &'static str, value: &str) -> bool {
    let mut all = headers.get_all(HeaderName::from_static(name)).iter();
    all.next().is_some_and(|own| own.as_bytes().eq_ignore_ascii_case(value.as_bytes())) && all.next().is_none()
}

/// Whether a browser says that the page of somebody else asks, for anything but to be left for this one (Fetch Metadata, W3C).
fn is_fetched_by_another(headers: &HeaderMap) -> bool {
    let own = |name| is(headers, "sec-fetch-site", name);
    let known = headers.contains_key("sec-fetch-site") && !own("same-origin") && !own("none");
    known && !(is(headers, "sec-fetch-mode", "navigate") && is(headers, "sec-fetch-dest", "document"))
}
