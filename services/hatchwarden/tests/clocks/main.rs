//! Clocks that are wrong: summer time, a machine whose clock is set, devices whose clocks leap. None of it may raise or lose
//! an alarm. The whole service runs in a box.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, reason = "test code")]

mod away;
mod device;
mod machine;
mod summer;
mod world;
