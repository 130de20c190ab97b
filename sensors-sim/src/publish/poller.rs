//! The task that owns the event loop of one connection and does nothing but poll it and hand over what happened:
//! a poll that is dropped half way starts the connect anew, and one that waits for anybody else can lock up.

use rumqttc::{Event, EventLoop, Outgoing, Packet};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};
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
    _task: JoinSet<()>,
}

impl Poller {
    pub(super) fn start(events: EventLoop) -> Self {
        // Not bounded itself, but by the outbox: two events for each message in it.
        let (tell, news) = unbounded_channel();
        let mut task = JoinSet::new();
        task.spawn(poll(events, tell));
        Self { news, _task: task }
    }

    pub(super) async fn next(&mut self) -> News {
        self.news.recv().await.unwrap_or_else(|| News::Lost("the connection task ended".to_owned()))
    }
}

async fn poll(mut events: EventLoop, tell: UnboundedSender<News>) {
    loop {
        match events.poll().await {
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

fn news(event: &Event) -> Option<News> {
    match event {
        Event::Incoming(Packet::ConnAck(_)) => Some(News::Connected),
        Event::Incoming(Packet::PubAck(ack)) => Some(News::Acknowledged(ack.pkid)),
        Event::Outgoing(Outgoing::Publish(packet)) => Some(News::Wrote(*packet)),
        Event::Outgoing(Outgoing::Disconnect) => Some(News::Left),
        _ => None,
    }
}
