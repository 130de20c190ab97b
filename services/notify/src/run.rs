//! The loop that empties the outbox.

use crate::backoff::next_try;
use crate::{Failure, Item, Outbox, Way};
use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::{Instant, sleep};

/// Items taken from the outbox at once.
const AT_ONCE: usize = 20;
/// The outbox is looked at least this often: it knows when a failed item is due again.
const LOOK: Duration = Duration::from_secs(1);

/// Delivers what is due until `stop` is set or its sender is gone. `clock` gives seconds since
/// 1970 for signatures. A try that has begun is finished first, which its way bounds in time.
///
/// An outbox that cannot keep what became of an item offers it again at once; that is noticed by
/// its count of tries, and costs the receiver no repeat.
pub async fn run(
    outbox: Arc<dyn Outbox>,
    ways: Vec<Box<dyn Way>>,
    clock: Arc<dyn Fn() -> i64 + Send + Sync>,
    mut stop: watch::Receiver<bool>,
) {
    let changed = outbox.changed();
    let mut deliverer = Deliverer { outbox, ways, known: HashMap::new() };
    while !*stop.borrow() {
        // Made before the look, so that no change after it is slept through.
        let change = changed.notified();
        let items = deliverer.outbox.due(AT_ONCE).await;
        deliverer.known.retain(|id, _| items.iter().any(|item| item.id == *id));
        let mut tried = false;
        for item in items {
            if *stop.borrow() {
                return;
            }
            tried |= deliverer.take(item, clock()).await;
        }
        if !tried {
            tokio::select! {
                () = change => {}
                () = sleep(LOOK) => {}
                ended = stop.changed() => if ended.is_err() { return },
            }
        }
    }
}

/// What became of an item.
enum Fate {
    Delivered,
    /// Tried again after that wait, or given up.
    Failed {
        reason: String,
        next_in: Option<Duration>,
    },
}

struct Known {
    /// Tries made so far.
    made: u32,
    /// When the last of them ended.
    at: Instant,
    fate: Fate,
}

struct Deliverer {
    outbox: Arc<dyn Outbox>,
    ways: Vec<Box<dyn Way>>,
    /// The fates of the items last offered, by id.
    known: HashMap<String, Known>,
}

impl Deliverer {
    /// Tries an item, unless its fate is known and only was not kept; true if tried.
    async fn take(&mut self, item: Item, unix_seconds: i64) -> bool {
        let known = self.known.get(&item.id).filter(|k| k.made > item.tries);
        if let Some(known) = known.filter(|k| !k.is_due()) {
            self.keep(&item.id, known, known.at.elapsed()).await;
            return false;
        }
        let tries = known.map_or(item.tries, |k| k.made).saturating_add(1);
        let fate = self.attempt(&item, tries, unix_seconds).await;
        log(&item, tries, &fate);
        let known = Known { made: tries, at: Instant::now(), fate };
        self.keep(&item.id, &known, Duration::ZERO).await;
        self.known.insert(item.id, known);
        true
    }

    async fn attempt(&self, item: &Item, tries: u32, unix_seconds: i64) -> Fate {
        let tried = match self.ways.iter().find(|w| w.name() == item.way) {
            Some(way) => way.deliver(item, unix_seconds).await,
            None => Err(Failure::Never(format!(
                "there is no way out named {:?}; it was removed from the configuration",
                item.way
            ))),
        };
        match tried {
            Ok(()) => Fate::Delivered,
            Err(Failure::Never(reason)) => Fate::Failed { reason, next_in: None },
            Err(Failure::Later { reason, after }) => {
                let next_in = next_try(tries).map(|wait| wait.max(after.unwrap_or_default()));
                Fate::Failed { reason, next_in }
            }
        }
    }

    /// Has the outbox keep what became of an item that long ago.
    async fn keep(&self, id: &str, known: &Known, ago: Duration) {
        let id = id.to_owned();
        match &known.fate {
            Fate::Delivered => self.outbox.delivered(id).await,
            Fate::Failed { reason, next_in } => {
                let next_in = next_in.map(|wait| wait.saturating_sub(ago));
                self.outbox.failed(id, reason.clone(), known.made, next_in).await;
            }
        }
    }
}

impl Known {
    fn is_due(&self) -> bool {
        matches!(self.fate, Fate::Failed { next_in: Some(wait), .. } if self.at.elapsed() >= wait)
    }
}

fn log(item: &Item, tries: u32, fate: &Fate) {
    let (id, way) = (&item.id, &item.way);
    match fate {
        Fate::Delivered => tracing::info!(id, way, tries, "delivered"),
        Fate::Failed { reason, next_in: Some(wait) } => {
            tracing::warn!(
                id,
                way,
                tries,
                reason,
                wait_seconds = wait.as_secs(),
                "not delivered; it is tried again"
            );
        }
        Fate::Failed { reason, next_in: None } => {
            tracing::error!(id, way, tries, reason, "not delivered and given up");
        }
    }
}
