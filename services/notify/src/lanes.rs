//! Tries under way: one lane for each way out, so that a receiver that hangs holds up its own items and nobody else's.

use crate::{Failure, Item, Step};
use std::collections::BTreeMap;
use std::future::poll_fn;
use std::task::{Context, Poll};

/// One try under way.
struct Try {
    item: Item,
    tries: u32,
    step: Step<Result<(), Failure>>,
}

/// A try that has ended.
pub(crate) struct Tried {
    pub(crate) item: Item,
    /// Tries made, with this one.
    pub(crate) tries: u32,
    pub(crate) result: Result<(), Failure>,
}

/// At most one try for each way.
#[derive(Default)]
pub(crate) struct Lanes(BTreeMap<String, Try>);

impl Lanes {
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(crate) fn is_busy(&self, way: &str) -> bool {
        self.0.contains_key(way)
    }

    /// Begins a try of an item whose lane is free.
    pub(crate) fn begin(&mut self, item: Item, tries: u32, step: Step<Result<(), Failure>>) {
        self.0.insert(item.way.clone(), Try { item, tries, step });
    }

    /// The next try that ends; never, if none is under way.
    pub(crate) async fn ended(&mut self) -> Tried {
        poll_fn(|context| self.poll(context)).await
    }

    fn poll(&mut self, context: &mut Context<'_>) -> Poll<Tried> {
        let ended = self.0.iter_mut().find_map(|(way, begun)| match begun.step.as_mut().poll(context) {
            Poll::Ready(result) => Some((way.clone(), result)),
            Poll::Pending => None,
        });
        let Some((way, result)) = ended else { return Poll::Pending };
        // It was there just now.
        let Some(Try { item, tries, .. }) = self.0.remove(&way) else { return Poll::Pending };
        Poll::Ready(Tried { item, tries, result })
    }
}
