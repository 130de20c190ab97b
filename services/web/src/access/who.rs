//! Who asks, for as long as a request is answered.
//!
//! The gate sets it round the handler, so that a name that was proved takes the place of one that was typed wherever a
//! handler or a drawing asks for it, without each of them having to be handed it.

use super::role::{Need, Role};
use super::vault::{Hash, How};
use std::sync::{Arc, OnceLock};

/// Whoever asks.
#[derive(Debug)]
pub(crate) struct Asker {
    /// The name that was proved; `None` at the machine itself.
    pub(crate) name: Option<String>,
    /// What is allowed.
    pub(crate) role: Role,
    /// How that is known.
    pub(crate) how: How,
    /// The person, where it is one.
    pub(crate) person: Option<u64>,
    /// The number of the token, where it is one.
    pub(crate) token: Option<u64>,
    /// The session, where it is one.
    pub(crate) session: Option<Hash>,
    /// From where.
    pub(crate) address: String,
    /// The name that was typed, or stands behind a link.
    pub(crate) typed: OnceLock<String>,
}

tokio::task_local! {
    static ASKER: Arc<Asker>;
}

/// Does some work for whoever asks.
pub(crate) async fn with<T>(asker: Arc<Asker>, work: impl Future<Output = T>) -> T {
    ASKER.scope(asker, work).await
}

/// Draws for whoever asks.
pub(crate) fn with_now<T>(asker: Option<Arc<Asker>>, work: impl FnOnce() -> T) -> T {
    match asker {
        Some(asker) => ASKER.sync_scope(asker, work),
        None => work(),
    }
}

/// Whoever asks just now.
pub(crate) fn current() -> Option<Arc<Asker>> {
    ASKER.try_with(Clone::clone).ok()
}

/// The name that was proved.
pub(crate) fn name() -> Option<String> {
    current()?.name.clone()
}

/// Whether that is allowed; outside of any request it is.
pub(crate) fn may(need: Need) -> bool {
    current().is_none_or(|asker| asker.role.may(need))
}

/// The name that was proved; else the one that was typed, which is remembered for the audit log.
pub(crate) fn proved_or(typed: String) -> String {
    match current() {
        Some(asker) => match &asker.name {
            Some(name) => name.clone(),
            None => asker.typed.get_or_init(|| typed).clone(),
        },
        None => typed,
    }
}
