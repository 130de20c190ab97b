//! Signatures of Standard Webhooks.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

/// The signature of a message: `v1,` and the base64 of HMAC-SHA-256 over id, seconds since 1970 and body joined by dots.
///
/// ```
/// // The reference vector of the Standard Webhooks specification.
/// use base64::Engine;
/// let key = base64::engine::general_purpose::STANDARD.decode("C2FVsBQIhrscChlQIMV+b5sSYspob7oD").unwrap();
/// let body = r#"{"email":"test@example.com","username":"test_user"}"#;
/// assert_eq!(notify::sign(&key, "msg_27UH4WbU6Z5A5EzD8u03UvzRbpk", 1_649_367_553, body),
///            "v1,tZ1I4/hDygAJgO5TYxiSd6Sd0kDW6hPenDe+bTa3Kkw=");
/// ```
pub fn sign(key: &[u8], id: &str, unix_seconds: i64, body: &str) -> String {
    // HMAC takes a key of any length, so there is no failure to report.
    let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(key) else { return String::new() };
    mac.update(format!("{id}.{unix_seconds}.{body}").as_bytes());
    format!("v1,{}", STANDARD.encode(mac.finalize().into_bytes()))
}
