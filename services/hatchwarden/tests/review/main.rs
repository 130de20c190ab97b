//! Nights looked back on: figures reckoned by hand and by numpy, page and command, the mail in the morning.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, reason = "test code")]

#[path = "../../../notify/tests/postbox/mod.rs"]
#[expect(dead_code, reason = "certificates are for the tests of mail itself")]
mod postbox;

mod figures;
mod house;
mod mailed;
mod shown;
