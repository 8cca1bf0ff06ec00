//! What an answer says: a whole text, or pieces as they come.

use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll};

use hyper::body::{Body as HttpBody, Bytes, Frame, SizeHint};
use tokio::sync::mpsc::Receiver;

/// The body of an answer.
pub(super) enum Body {
    /// All of it, until it was sent.
    Whole(Option<Bytes>),
    /// Piece by piece, until there is nobody to send any.
    Pieces(Receiver<Bytes>),
}

impl Default for Body {
    fn default() -> Self {
        Body::Whole(None)
    }
}

impl Body {
    pub(super) fn whole(text: String) -> Body {
        Body::Whole(Some(Bytes::from(text)))
    }
}

impl HttpBody for Body {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        match self.get_mut() {
            Body::Whole(text) => Poll::Ready(text.take().map(|text| Ok(Frame::data(text)))),
            Body::Pieces(pieces) => pieces.poll_recv(context).map(|piece| piece.map(|piece| Ok(Frame::data(piece)))),
        }
    }

    fn is_end_stream(&self) -> bool {
        matches!(self, Body::Whole(None))
    }

    fn size_hint(&self) -> SizeHint {
        match self {
            Body::Whole(text) => SizeHint::with_exact(text.as_ref().map_or(0, |text| text.len() as u64)),
            Body::Pieces(_) => SizeHint::default(),
        }
    }
}
