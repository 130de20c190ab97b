//! Reading who may do what, and what they were answered.

use super::Reader;
use crate::access::{AuditItem, Hash, PersonRow, SessionRow, TokenRow};
use crate::table::{access, answers, audit};
use crate::{AnswerRow, ReadError};
use units::Time;

/// # Errors
/// As every method of a [`Reader`].
impl Reader {
    /// All people by name.
    pub fn people(&self) -> Result<Vec<PersonRow>, ReadError> {
        self.read(access::people)
    }

    /// The person of a name, however its letters are written, large or small.
    pub fn person(&self, name: &str) -> Result<Option<PersonRow>, ReadError> {
        self.read(|c| access::person(c, name))
    }

    /// A session by the hash of its secret, with its person.
    pub fn session(&self, hash: &Hash) -> Result<Option<(SessionRow, PersonRow)>, ReadError> {
        self.read(|c| access::session(c, hash))
    }

    /// All sessions, the last used first.
    pub fn sessions(&self) -> Result<Vec<SessionRow>, ReadError> {
        self.read(access::sessions)
    }

    /// A token by the hash of its secret.
    pub fn token(&self, hash: &Hash) -> Result<Option<TokenRow>, ReadError> {
        self.read(|c| access::token(c, hash))
    }

    /// All tokens, the oldest first.
    pub fn tokens(&self) -> Result<Vec<TokenRow>, ReadError> {
        self.read(access::tokens)
    }

    /// At most `limit` lines of the audit log, the last written first; to read on, give the last id as `before`.
    pub fn audit(&self, limit: usize, before: Option<u64>) -> Result<Vec<AuditItem>, ReadError> {
        self.read(|c| audit::newest(c, limit, before))
    }

    /// The answer that is kept under a key.
    pub fn answer(&self, key: &Hash) -> Result<Option<AnswerRow>, ReadError> {
        self.read(|c| answers::get(c, key))
    }

    /// How many answers are kept that are not older than a time.
    pub fn answers_since(&self, from: Time) -> Result<u64, ReadError> {
        self.read(|c| answers::since(c, from))
    }
}
