//! The room over real MQTT 3.1.1: [`publish_all`] for a backlog, [`run_live`] for a room in real
//! time or faster, [`run_flat_out`] for one that waits for nobody but the broker.
//!
//! A message counts as sent when the broker has acknowledged it, not when the client library took it. Each connection
//! has an outbox that is trimmed by acknowledgements alone; after a break everything unacknowledged is sent again, so a
//! message may arrive twice but none is lost.
//!
//! Live, every device has a client of its own with the id `sim-<room>-<device>` and a session that outlives the
//! connection. It publishes `online` and has the will `offline`, both retained, on
//! `hatchwarden/<room>/<device>/availability`. Those words speak of the device alone; a reader of the default topic
//! shape takes no reading from a topic that ends in `/availability`.

mod broker;
mod bulk;
mod courier;
mod error;
mod live;
mod outbox;
mod poller;

pub use broker::{BadBroker, Broker};
pub use bulk::publish_all;
pub use error::PublishError;
pub use live::{run_flat_out, run_live};
