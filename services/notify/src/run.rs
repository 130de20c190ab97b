//! The loop that empties the outbox.

use crate::fate::{Fate, Known};
use crate::health::{Health, Troubles};
use crate::lanes::{Lanes, Tried};
use crate::{Failure, Item, Outbox, Step, Way};
use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::{Instant, sleep, timeout};

/// Items taken from the outbox at once.
const AT_ONCE: usize = 20;
/// The most taken at once while some way has nothing to do: behind many items of a slow way one may wait for a quick one.
const MOST_AT_ONCE: usize = 2_560;
/// The outbox is looked at least this often: it knows when a failed item is due again.
const LOOK: Duration = Duration::from_secs(1);
/// How long tries under way may still take when the service stops, which itself waits ten seconds for its parts.
const FINISH: Duration = Duration::from_secs(8);

/// Seconds since 1970.
type UnixClock = Arc<dyn Fn() -> i64 + Send + Sync>;

/// Delivers what is due until `stop` is set or its sender is gone. `clock` gives seconds since 1970 for signatures.
///
/// Every way is a lane of its own: it tries one item at a time, the longest due first, while the other ways go on with theirs.
/// Ways that fail are told by `troubles`. Tries that have begun are finished first, for eight seconds at most; what is not
/// finished then stays in the outbox.
///
/// An outbox that cannot keep what became of an item offers it again at once; that is noticed by
/// its count of tries, and costs the receiver no repeat.
pub async fn run(
    outbox: Arc<dyn Outbox>,
    ways: Vec<Box<dyn Way>>,
    clock: UnixClock,
    troubles: watch::Sender<Troubles>,
    mut stop: watch::Receiver<bool>,
) {
    let changed = outbox.changed();
    let health = Health::new(ways.iter().map(|w| w.name()), troubles);
    let mut deliverer =
        Deliverer { outbox, ways, clock, health, known: HashMap::new(), lanes: Lanes::default() };
    while !*stop.borrow() {
        // Made before the look, so that no change after it is slept through.
        let change = changed.notified();
        deliverer.look().await;
        tokio::select! {
            tried = deliverer.lanes.ended() => deliverer.end(tried).await,
            () = change => {}
            () = sleep(LOOK) => {}
            ended = stop.changed() => if ended.is_err() { break },
        }
    }
    deliverer.finish().await;
}

struct Deliverer {
    outbox: Arc<dyn Outbox>,
    ways: Vec<Box<dyn Way>>,
    clock: UnixClock,
    health: Health,
    /// The fates of the items last offered, by id.
    known: HashMap<String, Known>,
    lanes: Lanes,
}

impl Deliverer {
    /// Begins a try in each lane that is free and has an item due.
    async fn look(&mut self) {
        let mut limit = AT_ONCE;
        loop {
            let items = self.outbox.due(limit).await;
            let all = items.len() < limit;
            self.known.retain(|id, _| items.iter().any(|item| item.id == *id));
            for item in items {
                self.take(item).await;
            }
            if all || limit >= MOST_AT_ONCE || self.ways.iter().all(|w| self.lanes.is_busy(w.name())) {
                return;
            }
            limit *= 2;
        }
    }

    /// Begins to try an item if its lane is free, unless its fate is known and only was not kept.
    async fn take(&mut self, item: Item) {
        if self.lanes.is_busy(&item.way) {
            return;
        }
        let known = self.known.get(&item.id).filter(|k| k.made > item.tries);
        if let Some(known) = known.filter(|k| !k.is_due()) {
            return keep(&*self.outbox, &item.id, known, known.at.elapsed()).await;
        }
        let tries = known.map_or(item.tries, |k| k.made).saturating_add(1);
        let step = self.attempt(&item);
        self.lanes.begin(item, tries, step);
    }

    fn attempt(&self, item: &Item) -> Step<Result<(), Failure>> {
        if let Some(way) = self.ways.iter().find(|w| w.name() == item.way) {
            return way.deliver(item, (self.clock)());
        }
        let reason =
            format!("there is no way out named {:?}; it was removed from the configuration", item.way);
        Box::pin(async { Err(Failure::Never(reason)) })
    }

    /// Takes down how a try ended.
    async fn end(&mut self, Tried { item, tries, result }: Tried) {
        let fate = Fate::of(result, tries);
        fate.log(&item, tries);
        self.health.note(&item.way, tries, &fate, (self.clock)());
        let known = Known { made: tries, at: Instant::now(), fate };
        keep(&*self.outbox, &item.id, &known, Duration::ZERO).await;
        self.known.insert(item.id, known);
    }

    async fn finish(&mut self) {
        let all = async {
            while !self.lanes.is_empty() {
                let tried = self.lanes.ended().await;
                self.end(tried).await;
            }
        };
        if timeout(FINISH, all).await.is_err() {
            tracing::warn!("deliveries under way were broken off; they are tried again at the next start");
        }
    }
}

/// Has the outbox keep what became of an item that long ago.
async fn keep(outbox: &dyn Outbox, id: &str, known: &Known, ago: Duration) {
    let id = id.to_owned();
    match &known.fate {
        Fate::Delivered => outbox.delivered(id).await,
        Fate::Failed { reason, next_in } => {
            let next_in = next_in.map(|wait| wait.saturating_sub(ago));
            outbox.failed(id, reason.clone(), known.made, next_in).await;
        }
    }
}
