use std::fmt;

/// The promise to tell the sender that a message is safe.
///
/// Dropping it tells the sender nothing, so an unsaved message is delivered again.
pub struct Ack(Option<Box<dyn FnOnce() + Send>>);

impl Ack {
    /// An acknowledgement that runs `f` when it is done.
    pub fn new(f: impl FnOnce() + Send + 'static) -> Self {
        Self(Some(Box::new(f)))
    }

    /// For messages that nobody waits to hear about.
    #[must_use]
    pub fn none() -> Self {
        Self(None)
    }

    /// Keeps something until the message is safe, or the promise dropped.
    #[must_use]
    pub(crate) fn holding(self, kept: impl Send + 'static) -> Self {
        Self::new(move || {
            self.done();
            drop(kept);
        })
    }

    /// The message is safe.
    pub fn done(self) {
        if let Some(f) = self.0 {
            f();
        }
    }
}

impl fmt::Debug for Ack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_some() { "Ack(awaited)" } else { "Ack(none)" })
    }
}
