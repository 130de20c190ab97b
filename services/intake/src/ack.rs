use std::fmt;
use tokio::sync::OwnedSemaphorePermit;

/// The promise to tell the sender that a message is safe.
///
/// Dropping it tells the sender nothing, so an unsaved message is delivered again. As long as it
/// lives, its message counts as held in memory (see [`broker::open`](crate::broker::open)).
pub struct Ack {
    tell: Option<Box<dyn FnOnce() + Send>>,
    held: Option<OwnedSemaphorePermit>,
}

impl Ack {
    /// An acknowledgement that runs `f` when it is done.
    pub fn new(f: impl FnOnce() + Send + 'static) -> Self {
        Self { tell: Some(Box::new(f)), held: None }
    }

    /// For messages that nobody waits to hear about.
    #[must_use]
    pub fn none() -> Self {
        Self { tell: None, held: None }
    }

    /// The message is safe.
    pub fn done(self) {
        if let Some(f) = self.tell {
            f();
        }
    }

    /// Keeps the message's share of memory until this is done or dropped.
    pub(crate) fn hold(&mut self, share: OwnedSemaphorePermit) {
        self.held = Some(share);
    }

    pub(crate) fn holds(&self) -> bool {
        self.held.is_some()
    }
}

impl fmt::Debug for Ack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.tell.is_some() { "Ack(awaited)" } else { "Ack(none)" })
    }
}
