//! A page server for one machine: HTTP/1.1 on the loopback, reading only.
//!
//! In: a [`Site`] that turns an [`Asked`] into a [`Reply`], and a number that goes up whenever the site says something new. Out:
//! answers, and an event for every page that listens. It knows nothing of projects and keeps nothing.
//!
//! Whatever a browser can be made to send by another page is refused before the site sees it (`guard.rs`). Everything is
//! bounded: connections, the size and time of a head, how long an answer may take to be taken. A handler that panics is an answer
//! that says so, and no more.
//!
//! This stands on hyper alone: what a framework above it would add is not used here, and hides the bound on the time of a head.

mod body;
mod events;
mod guard;
mod target;
#[cfg(test)]
mod tests;

use std::convert::Infallible;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use hyper::header::HeaderValue;
use hyper::service::service_fn;
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};

use body::Body;
pub use target::Asked;

/// At most so many connections at a time; who comes then is told so.
pub const MOST_CONNECTIONS: usize = 64;
/// The longest head of a request, in bytes.
pub const LONGEST_HEAD: usize = 16 << 10;
/// How long the head of a request may take.
pub const HEAD_TIME: Duration = Duration::from_secs(5);
/// How long an answer may take, from the connection to its last byte.
const ANSWER_TIME: Duration = Duration::from_secs(60);
/// How long somebody may listen; browsers begin again by themselves.
const LISTEN_TIME: Duration = Duration::from_secs(3600);
/// How many answers are worked out at a time.
const WORKERS: usize = 4;
/// Where pages listen for what is new.
pub const EVENTS: &str = "-/events";

/// What every answer carries: nothing is run or loaded that is not of this server, and nothing is kept or told to anybody.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self' data:; \
                      base-uri 'none'; form-action 'self'; frame-ancestors 'none'";
const HEADERS: &[(&str, &str)] = &[
    ("content-security-policy", POLICY),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cache-control", "no-store"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("connection", "close"),
];

/// An answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reply {
    /// The status, such as 200.
    pub status: u16,
    /// What sort of text it is, such as `text/html; charset=utf-8`.
    pub sort: &'static str,
    /// The text.
    pub text: String,
    /// Where to go instead: an address of this server, in the characters of one.
    pub elsewhere: Option<String>,
}

impl Reply {
    /// A page.
    pub fn page(status: u16, text: String) -> Reply {
        Reply::of(status, "text/html; charset=utf-8", text)
    }

    /// A text of some sort.
    pub fn of(status: u16, sort: &'static str, text: impl Into<String>) -> Reply {
        Reply { status, sort, text: text.into(), elsewhere: None }
    }

    /// That a page stands at another address.
    pub fn elsewhere(address: String) -> Reply {
        Reply { elsewhere: Some(address), ..Reply::words(308, "it stands elsewhere") }
    }

    /// A few words, for whoever is no browser of ours.
    fn words(status: u16, words: &str) -> Reply {
        Reply::of(status, "text/plain; charset=utf-8", format!("{words}\n"))
    }
}

/// What there is to read.
pub trait Site: Send + Sync + 'static {
    /// Answers; this may take its time, and is called on several threads.
    fn reply(&self, asked: &Asked) -> Reply;
}

/// The server, before it answers anybody.
pub struct Server {
    runtime: tokio::runtime::Runtime,
    listener: TcpListener,
    address: SocketAddr,
}

impl Server {
    /// Takes a port of the loopback; 0 takes any that is free.
    ///
    /// # Errors
    /// If it cannot be had.
    pub fn bind(port: u16) -> std::io::Result<Server> {
        let mut builder = tokio::runtime::Builder::new_current_thread();
        let runtime = builder.enable_io().enable_time().max_blocking_threads(WORKERS).build()?;
        let listener = runtime.block_on(TcpListener::bind((Ipv4Addr::LOCALHOST, port)))?;
        let address = listener.local_addr()?;
        Ok(Server { runtime, listener, address })
    }

    /// Where it listens.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Answers until `news` has no sender any more; its number is that of what the site says now.
    pub fn run(self, site: Arc<dyn Site>, news: watch::Receiver<u64>) {
        let shared = Arc::new(Shared { site, news, port: self.address.port() });
        self.runtime.block_on(accept(&self.listener, &shared));
    }
}

struct Shared {
    site: Arc<dyn Site>,
    news: watch::Receiver<u64>,
    port: u16,
}

async fn accept(listener: &TcpListener, shared: &Arc<Shared>) {
    let room = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    let mut news = shared.news.clone();
    loop {
        let gone = async { while news.changed().await.is_ok() {} };
        let Some(accepted) = first(listener.accept(), gone).await else { return };
        // Without descriptors there is nothing to do but to wait for some.
        let Ok((stream, _)) = accepted else {
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        match room.clone().try_acquire_owned() {
            Ok(permit) => drop(tokio::spawn(connection(stream, shared.clone(), permit))),
            Err(_) => turn_away(&stream),
        }
    }
}

/// What comes of the one, unless the other ends first.
async fn first<T>(one: impl Future<Output = T>, other: impl Future<Output = ()>) -> Option<T> {
    let (mut one, mut other) = (std::pin::pin!(one), std::pin::pin!(other));
    std::future::poll_fn(|context| {
        if let std::task::Poll::Ready(value) = one.as_mut().poll(context) {
            return std::task::Poll::Ready(Some(value));
        }
        other.as_mut().poll(context).map(|()| None)
    })
    .await
}

/// Says that there is no room, if the system takes the words at once.
fn turn_away(stream: &TcpStream) {
    let _ = stream.try_write(b"HTTP/1.1 503 Service Unavailable\r\nconnection: close\r\ncontent-length: 0\r\n\r\n");
}

/// One connection, which is one request.
async fn connection(stream: TcpStream, shared: Arc<Shared>, permit: OwnedSemaphorePermit) {
    let listens = Arc::new(AtomicBool::new(false));
    let told = listens.clone();
    let service = service_fn(move |request| answer(request, shared.clone(), told.clone()));
    let mut http = hyper::server::conn::http1::Builder::new();
    http.timer(TokioTimer::new()).header_read_timeout(HEAD_TIME).max_buf_size(LONGEST_HEAD).keep_alive(false);
    let mut own = std::pin::pin!(http.serve_connection(TokioIo::new(stream), service));
    if tokio::time::timeout(ANSWER_TIME, own.as_mut()).await.is_err() && listens.load(Ordering::Relaxed) {
        let _ = tokio::time::timeout(LISTEN_TIME, own).await;
    }
    drop(permit);
}

async fn answer<B>(
    request: Request<B>,
    shared: Arc<Shared>,
    listens: Arc<AtomicBool>,
) -> Result<Response<Body>, Infallible> {
    let reply = match guard::refused(&request, shared.port) {
        Some(reply) => reply,
        None => match Asked::of(request.uri()) {
            None => Reply::words(404, "there is no such page"),
            Some(asked) if asked.address() == EVENTS => {
                listens.store(true, Ordering::Relaxed);
                let body =
                    if request.method() == Method::HEAD { Body::default() } else { events::body(&asked, &shared.news) };
                return Ok(dressed(200, "text/event-stream", body));
            }
            Some(asked) => worked_out(asked, shared).await,
        },
    };
    let mut response = dressed(reply.status, reply.sort, Body::whole(reply.text));
    if let Some(place) = reply.elsewhere.and_then(|place| HeaderValue::try_from(place).ok()) {
        response.headers_mut().insert(hyper::header::LOCATION, place);
    }
    Ok(response)
}

/// The site's answer, worked out where it holds nobody up.
async fn worked_out(asked: Asked, shared: Arc<Shared>) -> Reply {
    let done = tokio::task::spawn_blocking(move || shared.site.reply(&asked)).await;
    done.unwrap_or_else(|_| {
        Reply::words(500, "this page could not be made: a fault of slipmark, please report it with its address")
    })
}

fn dressed(status: u16, sort: &'static str, body: Body) -> Response<Body> {
    let mut response = Response::new(body);
    *response.status_mut() = StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(*name, HeaderValue::from_static(value));
    }
    headers.insert(hyper::header::CONTENT_TYPE, HeaderValue::from_static(sort));
    if status == 405 {
        headers.insert(hyper::header::ALLOW, HeaderValue::from_static("GET, HEAD"));
    }
    response
}
