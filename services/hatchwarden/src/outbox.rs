//! The outbox in the store, as the deliverer sees it.

use crate::clock::Clock;
use notify::{Item, Outbox};
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;
use store::{Batch, OutboxChange, Store};
use tokio::sync::Notify;
use units::Span;

/// An item is in the store before it is tried, and its fate is written there too.
pub(crate) struct StoreOutbox {
    store: Store,
    clock: Clock,
    changed: Arc<Notify>,
}

type Step<T> = Pin<Box<dyn Future<Output = T> + Send>>;

impl StoreOutbox {
    pub(crate) fn new(store: Store, clock: Clock, changed: Arc<Notify>) -> Self {
        Self { store, clock, changed }
    }

    fn keep(&self, change: OutboxChange) -> Step<()> {
        let store = self.store.clone();
        Box::pin(async move {
            let batch = Batch { outbox_changes: vec![change], ..Batch::default() };
            if let Err(failed) = store.commit(batch).await {
                // It will be tried again: the receiver tells a repeat by its id.
                tracing::warn!(error = %failed.error, "the fate of a delivery could not be kept");
            }
        })
    }
}

impl Outbox for StoreOutbox {
    fn due(&self, limit: usize) -> Step<Vec<Item>> {
        let (store, now) = (self.store.clone(), self.clock.now());
        Box::pin(async move {
            let read = tokio::task::spawn_blocking(move || store.reader()?.outbox_due(now, limit)).await;
            let items = match read {
                Ok(Ok(items)) => items,
                Ok(Err(error)) => {
                    tracing::error!(%error, "the outbox cannot be read");
                    Vec::new()
                }
                Err(_) => Vec::new(),
            };
            items
                .into_iter()
                .map(|i| Item { id: i.row.id, way: i.row.way, body: i.row.body, tries: i.tries })
                .collect()
        })
    }

    fn delivered(&self, id: String) -> Step<()> {
        self.keep(OutboxChange::Delivered { id, at: self.clock.now() })
    }

    fn failed(&self, id: String, error: String, _tries: u32, next_in: Option<Duration>) -> Step<()> {
        let now = self.clock.now();
        let next_try =
            next_in.map(|d| now + Span::from_millis(i64::try_from(d.as_millis()).unwrap_or(i64::MAX)));
        self.keep(OutboxChange::Failed { id, at: now, error, next_try })
    }

    fn changed(&self) -> Arc<Notify> {
        self.changed.clone()
    }
}
