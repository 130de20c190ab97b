//! What becomes of an item.

use crate::backoff::next_try;
use crate::{Failure, Item};
use std::time::Duration;
use tokio::time::Instant;

/// How a try ended.
pub(crate) enum Fate {
    Delivered,
    /// Tried again after that wait, or given up.
    Failed {
        reason: String,
        next_in: Option<Duration>,
    },
}

impl Fate {
    /// Of an item that has now been tried that often.
    pub(crate) fn of(tried: Result<(), Failure>, tries: u32) -> Self {
        match tried {
            Ok(()) => Self::Delivered,
            Err(Failure::Never(reason)) => Self::Failed { reason, next_in: None },
            Err(Failure::Later { reason, after }) => {
                let next_in = next_try(tries).map(|wait| wait.max(after.unwrap_or_default()));
                Self::Failed { reason, next_in }
            }
        }
    }

    pub(crate) fn log(&self, item: &Item, tries: u32) {
        let (id, way) = (&item.id, &item.way);
        match self {
            Self::Delivered => tracing::info!(id, way, tries, "delivered"),
            Self::Failed { reason, next_in: Some(wait) } => {
                let wait_seconds = wait.as_secs();
                tracing::warn!(id, way, tries, reason, wait_seconds, "not delivered; it is tried again");
            }
            Self::Failed { reason, next_in: None } => {
                tracing::error!(id, way, tries, reason, "not delivered and given up");
            }
        }
    }
}

/// A fate that the outbox has been told, and may not have kept.
pub(crate) struct Known {
    /// Tries made so far.
    pub(crate) made: u32,
    /// When the last of them ended.
    pub(crate) at: Instant,
    pub(crate) fate: Fate,
}

impl Known {
    pub(crate) fn is_due(&self) -> bool {
        matches!(self.fate, Fate::Failed { next_in: Some(wait), .. } if self.at.elapsed() >= wait)
    }
}
