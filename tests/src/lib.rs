//! What the end-to-end tests share: starting real parts on free loopback ports, and waiting for events.
#![allow(clippy::unwrap_used, reason = "test code: a broken expectation is the failure to report")]

mod broker;
mod browser;
mod http;
mod process;
mod python;
mod receiver;
mod service;

pub use broker::Mosquitto;
pub use browser::{Browser, Screen};
pub use http::{Api, Events};
pub use process::{Child, free_port};
pub use python::paho_publish;
pub use receiver::{Delivery, receive};
pub use service::{Hatchwarden, RoomFile, binary};

use std::time::Duration;

/// How long anything may take before a test gives up; never a measure of speed.
pub const PATIENCE: Duration = Duration::from_secs(60);
