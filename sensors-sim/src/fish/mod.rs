//! Eggs and young: how they develop and die in truth.

mod brood;
mod clutch;
mod law;
mod lives;

pub(crate) use brood::Brood;
