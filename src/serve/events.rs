//! Tells pages that there is something new, as server-sent events (HTML standard, section 9.2).

use std::time::Duration;

use hyper::body::Bytes;
use tokio::sync::{mpsc, watch};

use super::body::Body;
use super::target::Asked;

/// How often something is sent that says nothing: a connection that is gone shows by that.
const BEAT: Duration = Duration::from_secs(15);

/// A body that says the number of what is new, whenever it is another than the page has seen.
pub(super) fn body(asked: &Asked, news: &watch::Receiver<u64>) -> Body {
    let (send, pieces) = mpsc::channel(4);
    let seen = asked.value("seen").and_then(|seen| seen.parse().ok());
    tokio::spawn(tell(send, news.clone(), seen));
    Body::Pieces(pieces)
}

async fn tell(send: mpsc::Sender<Bytes>, mut news: watch::Receiver<u64>, seen: Option<u64>) {
    let mut now = *news.borrow_and_update();
    let mut piece = match seen {
        Some(seen) if seen != now => said(now),
        _ => "retry: 1000\n\n".to_string(),
    };
    while send.send(Bytes::from(piece)).await.is_ok() {
        piece = match tokio::time::timeout(BEAT, news.changed()).await {
            Ok(Ok(())) => {
                now = *news.borrow_and_update();
                said(now)
            }
            // Whoever told the news is gone, and so is the server.
            Ok(Err(_)) => return,
            Err(_) => ": still here\n\n".to_string(),
        };
    }
}

fn said(number: u64) -> String {
    format!("retry: 1000\nevent: new\ndata: {number}\n\n")
}
