//! Idempotency keys: a change that is asked for twice under one key is done once, and both are answered alike.
//!
//! The header is `Idempotency-Key` of draft-ietf-httpapi-idempotency-key-header. What was answered is kept through
//! [`crate::keeper::Keeper::answers`]. The answer to a change that the service writes to its store is known before it is done, and
//! goes to the disk in the same transaction: [`current`] hands it to whoever writes. So a crash leaves both or neither.

mod key;
mod layer;
mod table;

pub(crate) use key::LONGEST_KEY;
pub(crate) use layer::{Again, layer, too_large};
pub(crate) use table::Table;

use crate::access::Hash;
use crate::keeper::Answer;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use units::{Span, Time};

/// An answer is kept at least for so long.
pub const KEPT: Span = Span::hours(24);
/// So many are kept in that time; more are refused, so that nobody can fill the disk.
pub(crate) const MOST: usize = 10_000;

/// What was answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// Status of HTTP.
    pub status: u16,
    /// Content type, where there is a body.
    pub kind: Option<String>,
    /// Where what was made is found.
    pub location: Option<String>,
    /// The body.
    pub body: String,
}

impl Said {
    /// 204, which is the answer to most changes.
    fn done() -> Self {
        Self { status: 204, kind: None, location: None, body: String::new() }
    }
}

/// An answer under the key of whoever asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// SHA-256 of who asked and of the key.
    pub key: Hash,
    /// SHA-256 of the request.
    pub fingerprint: Hash,
    /// When it was done.
    pub at: Time,
    /// The answer.
    pub said: Said,
}

/// Keeps answers for at least [`KEPT`], on disk when a method answers.
pub trait Answers: Send + Sync + 'static {
    /// The one under a key.
    fn find(&self, key: Hash) -> Answer<Option<Kept>>;
    /// Keeps one; it replaces the one under its key.
    fn keep(&self, kept: Kept) -> Answer<()>;
    /// How many are not older than a time.
    fn since(&self, from: Time) -> Answer<usize>;
}

/// A change that is asked for under a key.
#[derive(Debug)]
pub struct Once {
    key: Hash,
    fingerprint: Hash,
    promised: Mutex<Said>,
    taken: AtomicBool,
}

impl Once {
    /// A change under a key, with the fingerprint of what is asked; answered by 204 unless something else is said.
    pub fn new(key: Hash, fingerprint: Hash) -> Self {
        Self { key, fingerprint, promised: Mutex::new(Said::done()), taken: AtomicBool::new(false) }
    }

    /// The answer to keep in the transaction that makes the change; whoever takes it writes both or neither.
    pub fn take(&self, now: Time) -> Kept {
        self.taken.store(true, Ordering::SeqCst);
        self.kept(self.promised(), now)
    }

    fn is_taken(&self) -> bool {
        self.taken.load(Ordering::SeqCst)
    }

    fn promised(&self) -> Said {
        self.promised.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn kept(&self, said: Said, at: Time) -> Kept {
        Kept { key: self.key, fingerprint: self.fingerprint, at, said }
    }
}

tokio::task_local! {
    static ONCE: Arc<Once>;
}

/// Does some work under a key.
pub async fn with<T>(once: Arc<Once>, work: impl Future<Output = T>) -> T {
    ONCE.scope(once, work).await
}

/// The key of the request that is being answered, if it came with one.
pub fn current() -> Option<Arc<Once>> {
    ONCE.try_with(Clone::clone).ok()
}

/// Says before a change is made what will be answered once it is: 201 with this place and body. Without it, 204.
pub(crate) fn will_answer(location: &str, body: Option<&serde_json::Value>) {
    let Some(once) = current() else { return };
    let said = Said {
        status: 201,
        kind: body.map(|_| "application/json".to_owned()),
        location: Some(location.to_owned()),
        body: body.map(ToString::to_string).unwrap_or_default(),
    };
    *once.promised.lock().unwrap_or_else(PoisonError::into_inner) = said;
}
