//! `hatchwarden export` and `hatchwarden import` as commands.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, reason = "test code")]

mod faults;
mod house;
mod round;
mod wrong_use;
