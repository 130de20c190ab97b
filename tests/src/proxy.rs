//! A network that can be cut: a TCP proxy between two real parts.

use crate::free_port;
use tokio::io::copy_bidirectional;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{mpsc, oneshot};
use tokio::task::JoinSet;

/// Passes connections on to another loopback port until it is cut.
pub struct Proxy {
    /// Where it listens, on loopback.
    pub port: u16,
    orders: mpsc::Sender<(Order, oneshot::Sender<usize>)>,
}

#[derive(Debug)]
enum Order {
    Cut,
    Mend,
}

impl Proxy {
    /// Listens on a free port and passes on to `to`.
    pub async fn start(to: u16) -> Self {
        let port = free_port();
        let (orders, given) = mpsc::channel(1);
        let listener = listen(port).await;
        tokio::spawn(run(listener, port, to, given));
        Self { port, orders }
    }

    /// Drops every connection and refuses new ones until [`Proxy::mend`]; how many were dropped.
    pub async fn cut(&self) -> usize {
        self.order(Order::Cut).await
    }

    /// Lets connections through again.
    pub async fn mend(&self) {
        self.order(Order::Mend).await;
    }

    async fn order(&self, order: Order) -> usize {
        let (reply, done) = oneshot::channel();
        self.orders.send((order, reply)).await.unwrap();
        done.await.unwrap()
    }
}

async fn listen(port: u16) -> TcpListener {
    TcpListener::bind(("127.0.0.1", port)).await.unwrap()
}

async fn run(
    listener: TcpListener,
    port: u16,
    to: u16,
    mut orders: mpsc::Receiver<(Order, oneshot::Sender<usize>)>,
) {
    let mut listener = Some(listener);
    let mut connections = JoinSet::new();
    loop {
        tokio::select! {
            order = orders.recv() => {
                let Some((order, reply)) = order else { return };
                let dropped = match order {
                    // Without a listener the port refuses, as a router that has lost its line does.
                    Order::Cut => { listener = None; drop_all(&mut connections).await }
                    Order::Mend => { listener = Some(listen(port).await); 0 }
                };
                let _ = reply.send(dropped);
            }
            socket = accept(listener.as_ref()) => { connections.spawn(pass(socket, to)); }
            Some(_) = connections.join_next() => {}
        }
    }
}

async fn accept(listener: Option<&TcpListener>) -> TcpStream {
    match listener {
        Some(listener) => listener.accept().await.unwrap().0,
        None => std::future::pending().await,
    }
}

async fn drop_all(connections: &mut JoinSet<()>) -> usize {
    let open = connections.len();
    connections.shutdown().await;
    open
}

async fn pass(mut from: TcpStream, to: u16) {
    // Either end may be killed at any time; that is what the tests are about.
    if let Ok(mut to) = TcpStream::connect(("127.0.0.1", to)).await {
        let _ = copy_bidirectional(&mut from, &mut to).await;
    }
}
