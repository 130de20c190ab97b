//! What nobody can guess.

use uuid::Uuid;

/// 122 random bits of the operating system as 32 hexadecimal digits.
pub(super) fn draw() -> String {
    Uuid::new_v4().simple().to_string()
}
