//! Why messages could not be handed over.

use super::Broker;

/// Messages could not be handed over to the broker.
#[derive(Debug, thiserror::Error)]
pub enum PublishError {
    /// The broker could not be reached, refused the connection, or acknowledged nothing, time after time.
    #[error(
        "broker {broker} took nothing in {tries} tries ({cause}); {unsent} messages are not acknowledged: check the address and that the broker allows this client"
    )]
    Broker {
        /// Where.
        broker: Broker,
        /// Connections tried.
        tries: u32,
        /// What the last of them came to.
        cause: String,
        /// Messages that the broker has not acknowledged.
        unsent: usize,
    },
    /// A topic in which MQTT does not allow publishing.
    #[error("topic {0:?} cannot be published to; leave out '+' and '#', and do not leave it empty")]
    Topic(String),
}
