//! Hatchwarden: configuration, supervision, clock and command line; here the parts are joined into a service.

mod answers;
pub mod boxed;
pub mod check;
pub mod clock;
pub mod config;
mod csv_file;
pub mod decode;
pub mod demo;
pub mod engine;
pub mod export;
pub mod fit;
mod inner;
mod keys;
pub mod logging;
pub mod night;
mod outbox;
mod outlets;
pub mod people;
pub mod project;
pub mod replay;
pub mod room;
pub mod run;
pub mod service;
mod signal;
mod supervise;
mod vault;
mod ways;
