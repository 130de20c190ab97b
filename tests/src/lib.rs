//! What the end-to-end tests share: starting real parts on free loopback ports, and waiting for events.
#![allow(clippy::unwrap_used, reason = "test code: a broken expectation is the failure to report")]

mod axe;
mod broker;
mod browser;
mod certificates;
mod chance;
mod deployed;
mod foreign;
mod http;
mod line;
mod process;
mod proxy;
mod publisher;
mod python;
mod receiver;
mod rows;
mod service;
mod small_disk;
mod stream;

pub use axe::Axe;
pub use broker::{Mosquitto, Saves};
pub use browser::{Browser, Screen};
pub use certificates::Certificates;
pub use chance::Chance;
pub use deployed::Deployed;
pub use foreign::{mosquitto_pub, mosquitto_pub_fails, mosquitto_sub};
pub use http::{Api, Events};
pub use process::{Child, free_port};
pub use proxy::Proxy;
pub use publisher::Publisher;
pub use python::{paho_proof, paho_publish, paho_talk};
pub use receiver::{Delivery, Held, hold, receive};
pub use rows::Rows;
pub use service::{Hatchwarden, RoomFile, binary, program};
pub use small_disk::SmallDisk;
pub use stream::Stream;

use std::time::Duration;

/// How long anything may take before a test gives up; never a measure of speed.
pub const PATIENCE: Duration = Duration::from_secs(60);
