//! A connection whose task panics.

use super::*;
use crate::gate::Gate;
use crate::settings::Limits;
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::io::ReadBuf;
use tokio::sync::mpsc;

/// Sends a CONNECT, then panics when it is read again.
struct Bomb {
    connect: Vec<u8>,
}

impl AsyncRead for Bomb {
    fn poll_read(
        mut self: Pin<&mut Self>,
        _: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        assert!(!self.connect.is_empty(), "the bomb goes off, as it should");
        buffer.put_slice(&self.connect);
        self.connect.clear();
        Poll::Ready(Ok(()))
    }
}

impl AsyncWrite for Bomb {
    fn poll_write(self: Pin<&mut Self>, _: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        Poll::Ready(Ok(bytes.len()))
    }

    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }
}

#[tokio::test]
async fn the_session_of_a_panicked_connection_is_detached_and_its_will_published() {
    let (sender, mut messages) = mpsc::channel(10);
    let broker = Arc::new(Broker::new(Limits::default(), Gate::anonymous(), sender));
    let mut tasks = Tasks::new(Arc::clone(&broker));
    let head: &[u8] = &[0x10, 24, 0, 4, b'M', b'Q', b'T', b'T', 4, 6, 0, 2, 0, 3];
    let connect = [head, b"TU1", &[0, 1, b'w', 0, 4], b"gone"].concat();
    tasks.start(Bomb { connect }, None, None);
    assert_eq!(broker.counts().connections, 1);
    tasks.ended().await;
    tasks.ended().await;
    assert_eq!(messages.recv().await.unwrap().topic, "w");
    assert_eq!((broker.counts().connections, broker.counts().sessions), (0, 0));
}

#[tokio::test]
async fn connections_above_the_limit_are_closed_at_once() {
    let (sender, _messages) = mpsc::channel(10);
    let broker =
        Arc::new(Broker::new(Limits { connections: 1, ..Limits::default() }, Gate::anonymous(), sender));
    let mut tasks = Tasks::new(Arc::clone(&broker));
    let (_first, socket) = tokio::io::duplex(64);
    tasks.start(socket, None, None);
    let (mut second, socket) = tokio::io::duplex(64);
    tasks.start(socket, None, None);
    let mut nothing = [0];
    assert_eq!(tokio::io::AsyncReadExt::read(&mut second, &mut nothing).await.unwrap(), 0);
    assert_eq!((broker.counts().connections, broker.counts().refused_packets), (1, 1));
    tasks.finish().await;
    assert_eq!(broker.counts().connections, 0);
}
