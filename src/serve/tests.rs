use hyper::{Request, Uri};

use super::guard::refused;
use super::*;
use crate::text::encoded;

fn status(method: &str, headers: &[(&str, &str)]) -> u16 {
    let mut request = Request::builder().method(method).uri("/matrix");
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    refused(&request.body(()).unwrap(), 4000).map_or(200, |reply| reply.status)
}

#[test]
fn only_this_machine_and_its_own_pages_may_ask() {
    let own = ("host", "127.0.0.1:4000");
    assert_eq!(status("GET", &[own]), 200);
    assert_eq!(status("HEAD", &[("host", "LOCALHOST:4000")]), 200);
    assert_eq!(status("GET", &[own, ("origin", "http://127.0.0.1:4000")]), 200);
    for host in ["127.0.0.1", "127.0.0.1:4001", "evil.example:4000", "127.0.0.1:4000.evil.example", "[::1]:4000", ""] {
        assert_eq!(status("GET", &[("host", host)]), 403, "{host}");
    }
    assert_eq!(status("GET", &[]), 403);
    assert_eq!(status("GET", &[own, own]), 403);
    for origin in
        ["null", "http://localhost:4000", "https://127.0.0.1:4000", "http://evil.example", "http://127.0.0.1:4001"]
    {
        assert_eq!(status("GET", &[own, ("origin", origin)]), 403, "{origin}");
    }
    assert_eq!(status("GET", &[own, ("origin", "http://127.0.0.1:4000"), ("origin", "null")]), 403);
}

#[test]
fn pages_of_others_may_lead_here_and_load_nothing() {
    let own = ("host", "127.0.0.1:4000");
    let fetched = |site, mode, dest| {
        status("GET", &[own, ("sec-fetch-site", site), ("sec-fetch-mode", mode), ("sec-fetch-dest", dest)])
    };
    assert_eq!(fetched("same-origin", "cors", "empty"), 200);
    assert_eq!(fetched("none", "navigate", "document"), 200);
    assert_eq!(fetched("cross-site", "navigate", "document"), 200);
    for site in ["cross-site", "same-site", "what"] {
        assert_eq!(fetched(site, "no-cors", "script"), 403);
        assert_eq!(fetched(site, "navigate", "iframe"), 403);
    }
}

#[test]
fn there_is_only_reading() {
    for method in ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "WHAT"] {
        assert_eq!(status(method, &[("host", "localhost:4000")]), 405, "{method}");
        assert_eq!(status(method, &[("host", "evil.example")]), 403, "{method}");
    }
}

fn asked(target: &str) -> Option<Asked> {
    Asked::of(&target.parse::<Uri>().unwrap())
}

#[test]
fn an_address_is_decoded_once_and_leads_nowhere_else() {
    let page = asked("/requirement/A%20%C3%A9?at=x%26y&q=a+b&q=&q=c").unwrap();
    assert_eq!(page.parts, ["requirement", "A é"]);
    assert_eq!((page.value("at"), page.values("q").collect::<Vec<_>>()), (Some("x&y"), vec!["a b", "c"]));
    assert_eq!(asked("/").unwrap(), Asked::default());
    assert_eq!((asked("/a/").unwrap().folder, asked("/a").unwrap().folder), (true, false));
    assert_eq!(asked("/%252e%252e/x").unwrap().parts, ["%2e%2e", "x"]);
    for target in
        ["/../x", "/a/%2e%2e/x", "/a%2fb", "/a%5cb", "/a%00", "/%", "/%4", "/%zz", "/%ff", "//x", "/a//", "/x?a=%f"]
    {
        assert_eq!(asked(target), None, "{target}");
    }
    assert!(
        asked(&format!("/x?{}", "a=1&".repeat(256))).is_some()
            && asked(&format!("/x?{}", "a=1&".repeat(257))).is_none()
    );
}

#[test]
fn what_is_encoded_comes_back() {
    for text in ["MOV-003", "a/b c", "é\"<%>", "..", "+&="] {
        let target = format!("/x?q={}", encoded(text));
        assert_eq!(asked(&target).unwrap().value("q"), Some(text));
    }
}
