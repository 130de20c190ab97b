//! The loop that empties the outbox.

use crate::backoff::next_try;
use crate::{Failure, Item, Outbox, Way};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// Items taken from the outbox at once.
const AT_ONCE: usize = 20;
/// The outbox is looked at least this often: it knows when a failed item is due again.
const LOOK: Duration = Duration::from_secs(1);

/// Delivers what is due until `stop` is set. `clock` gives seconds since 1970 for signatures.
pub async fn run(
    outbox: Arc<dyn Outbox>,
    ways: Vec<Box<dyn Way>>,
    clock: Arc<dyn Fn() -> i64 + Send + Sync>,
    mut stop: watch::Receiver<bool>,
) {
    let changed = outbox.changed();
    while !*stop.borrow() {
        let items = outbox.due(AT_ONCE).await;
        if items.is_empty() {
            tokio::select! {
                () = changed.notified() => {}
                () = tokio::time::sleep(LOOK) => {}
                ended = stop.changed() => if ended.is_err() { return },
            }
        }
        for item in items {
            if *stop.borrow() {
                return;
            }
            deliver(&*outbox, &ways, item, clock()).await;
        }
    }
}

async fn deliver(outbox: &dyn Outbox, ways: &[Box<dyn Way>], item: Item, unix_seconds: i64) {
    let tried = match ways.iter().find(|w| w.name() == item.way) {
        Some(way) => way.deliver(&item, unix_seconds).await,
        None => Err(Failure::Never(format!(
            "there is no way out named {:?}; it was removed from the configuration",
            item.way
        ))),
    };
    let tries = item.tries + 1;
    match tried {
        Ok(()) => {
            tracing::info!(id = item.id, way = item.way, tries, "delivered");
            outbox.delivered(item.id).await;
        }
        Err(failure) => {
            let (reason, next_in) = match failure {
                Failure::Later { reason, after } => {
                    (reason, next_try(tries).map(|wait| wait.max(after.unwrap_or_default())))
                }
                Failure::Never(reason) => (reason, None),
            };
            let wait =
                next_in.map_or_else(|| "given up".to_owned(), |d| format!("again in {} s", d.as_secs()));
            tracing::warn!(id = item.id, way = item.way, tries, reason, wait, "not delivered");
            outbox.failed(item.id, reason, tries, next_in).await;
        }
    }
}
