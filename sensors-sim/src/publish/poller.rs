//! The task that owns the event loop of one connection and does nothing but poll it and hand over what happened:
//! a poll that is dropped half way starts the connect anew, and one that waits for anybody else can lock up.

use rumqttc::{Event, EventLoop, Outgoing, Packet};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};
use tokio::sync::watch;
use tokio::task::JoinSet;

/// What happened on a connection.
#[derive(Debug)]
pub(super) enum News {
    /// The broker let us in.
    Connected,
    /// A message went out under this packet id; 0 for quality of service 0.
    Wrote(u16),
    /// The broker has the message of this packet id.
    Acknowledged(u16),
    /// Our goodbye went out.
    Left,
    /// The connection is gone, or never was.
    Lost(String),
}

/// A running poll task; it ends when this is dropped.
pub(super) struct Poller {
    news: UnboundedReceiver<News>,
    frozen: watch::Sender<bool>,
    _task: JoinSet<()>,
}

impl Poller {
    pub(super) fn start(events: EventLoop) -> Self {
        // Not bounded itself, but by the outbox: two events for each message in it.
        let (tell, news) = unbounded_channel();
        let (frozen, freeze) = watch::channel(false);
        let mut task = JoinSet::new();
        task.spawn(poll(events, tell, freeze));
        Self { news, frozen, _task: task }
    }

    /// Nothing is read or written any more; the socket stays open until this is dropped.
    pub(super) fn freeze(&self) {
        self.frozen.send_replace(true);
    }

    pub(super) async fn next(&mut self) -> News {
        self.news.recv().await.unwrap_or_else(|| News::Lost("the connection task ended".to_owned()))
    }
}

async fn poll(mut events: EventLoop, tell: UnboundedSender<News>, mut freeze: watch::Receiver<bool>) {
    loop {
        let polled = tokio::select! {
            polled = events.poll() => Some(polled),
            // A poll that is broken off spoils the connection, which nobody will use again.
            () = frozen(&mut freeze) => None,
        };
        let Some(polled) = polled else { return std::future::pending().await };
        match polled {
            Ok(event) => {
                if news(&event).is_some_and(|n| tell.send(n).is_err()) {
                    return;
                }
            }
            Err(e) => {
                // Acknowledgements that came just before the break are still waiting in the library's state.
                let late = events.state.events.iter().filter_map(news);
                for n in late.chain([News::Lost(e.to_string())]) {
                    // Nobody listens any more: nothing is left to do for either.
                    let _ = tell.send(n);
                }
                return;
            }
        }
    }
}

/// Returns once the connection is to be frozen.
async fn frozen(freeze: &mut watch::Receiver<bool>) {
    if freeze.wait_for(|f| *f).await.is_err() {
        std::future::pending::<()>().await;
    }
}

fn news(event: &Event) -> Option<News> {
    match event {
        Event::Incoming(Packet::ConnAck(_)) => Some(News::Connected),
        Event::Incoming(Packet::PubAck(ack)) => Some(News::Acknowledged(ack.pkid)),
        Event::Outgoing(Outgoing::Publish(packet)) => Some(News::Wrote(*packet)),
        Event::Outgoing(Outgoing::Disconnect) => Some(News::Left),
        _ => None,
    }
}
