//! Answers to changes, as rows: whoever asks for the same change again gets the same answer.

use crate::access::Hash;
use units::{Span, Time};

/// An answer is kept at least for so long; after that the next one to be kept removes it.
pub const ANSWERS_KEPT: Span = Span::hours(24);

/// One answer, under the key of whoever asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnswerRow {
    /// SHA-256 of who asked and of the key.
    pub key: Hash,
    /// SHA-256 of the request.
    pub fingerprint: Hash,
    /// When it was done.
    pub at: Time,
    /// Status of HTTP.
    pub status: u16,
    /// Content type, where there is a body.
    pub kind: Option<String>,
    /// Where what was made is found.
    pub location: Option<String>,
    /// The body.
    pub body: String,
}
