//! A body that is written while it is sent.

use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll};

use axum::body::{Bytes, HttpBody};
use hyper::body::Frame;
use tokio::sync::mpsc::Receiver;

/// The pieces of a body as they come; it ends when their sender is dropped.
#[derive(Debug)]
pub(crate) struct Frames {
    pieces: Receiver<Bytes>,
}

impl Frames {
    pub(crate) fn new(pieces: Receiver<Bytes>) -> Self {
        Self { pieces }
    }
}

impl HttpBody for Frames {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Self::Data>, Self::Error>>> {
        self.pieces.poll_recv(context).map(|piece| piece.map(|piece| Ok(Frame::data(piece))))
    }
}
