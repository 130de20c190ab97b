//! Secrets that nobody can guess, and cookies that carry them.

use super::vault::{Hash, Person};
use crate::keeper::Trouble;
use axum::http::{HeaderMap, HeaderValue, header};
use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD as BASE64;
use hmac::{Hmac, KeyInit, Mac};
use sha2::{Digest, Sha256};

/// Marks a token, so that one that strays into a file or a log is recognised.
const TOKEN: &str = "hw_";
/// A device is known for so long, seconds: the longest that browsers keep a cookie (RFC 6265bis, 5.5: 400 days).
const KNOWN_FOR: i64 = 400 * 86_400;

/// 256 bits of the operating system as text.
///
/// # Errors
/// [`Trouble::Unable`] when the system has none.
pub(crate) fn draw() -> Result<String, Trouble> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes)
        .map_err(|e| Trouble::Unable(format!("the system gives no random numbers: {e}; try again")))?;
    Ok(BASE64.encode(bytes))
}

/// A token for a program.
pub(crate) fn draw_token() -> Result<String, Trouble> {
    Ok(format!("{TOKEN}{}", draw()?))
}

/// What is kept of a secret. It has 256 random bits, so a plain hash cannot be turned back, and finding its row by the
/// hash tells nothing by its timing that would help to guess one.
pub(crate) fn hash(secret: &str) -> Hash {
    Sha256::digest(secret.as_bytes()).into()
}

/// The token of a request.
pub(crate) fn bearer(headers: &HeaderMap) -> Option<&str> {
    let value = headers.get(header::AUTHORIZATION)?.to_str().ok()?;
    let (scheme, token) = value.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
}

/// Names and marks of cookies, by whether the page is reached through TLS.
///
/// `__Host-` makes browsers refuse the cookie from any other host or without TLS (RFC 6265bis, 4.1.3.2). In the clear there
/// is no such help, and the plain name says so.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cookies {
    pub(crate) secure: bool,
}

impl Cookies {
    fn session(self) -> &'static str {
        if self.secure { "__Host-hatchwarden" } else { "hatchwarden" }
    }

    fn device(self) -> &'static str {
        if self.secure { "__Host-hatchwarden-device" } else { "hatchwarden-device" }
    }

    /// The secret of the session that a browser holds.
    pub(crate) fn held(self, headers: &HeaderMap) -> Option<&str> {
        read(headers, self.session())
    }

    /// Gives it to the browser for so many seconds; none takes it away.
    pub(crate) fn give(self, secret: &str, seconds: i64) -> HeaderValue {
        self.write(self.session(), secret, seconds)
    }

    /// Takes it away again.
    pub(crate) fn take(self) -> HeaderValue {
        self.write(self.session(), "", 0)
    }

    /// The mark by which a browser is known that somebody has signed in from before.
    pub(crate) fn give_device(self, person: &Person) -> Result<HeaderValue, Trouble> {
        let nonce = draw()?;
        let mark = BASE64.encode(device_mark(person, &nonce).finalize().into_bytes());
        Ok(self.write(self.device(), &format!("{nonce}.{mark}"), KNOWN_FOR))
    }

    /// The device's own number, if this person has signed in from it with her present password.
    pub(crate) fn known_device(self, headers: &HeaderMap, person: &Person) -> Option<String> {
        let (nonce, mark) = read(headers, self.device())?.split_once('.')?;
        let mark = BASE64.decode(mark).ok()?;
        // Compared in constant time.
        device_mark(person, nonce).verify_slice(&mark).ok().map(|()| nonce.to_owned())
    }

    fn write(self, name: &str, value: &str, seconds: i64) -> HeaderValue {
        let secure = if self.secure { "; Secure" } else { "" };
        let text = format!("{name}={value}; Path=/; HttpOnly; SameSite=Lax; Max-Age={seconds}{secure}");
        // Letters of base64 only.
        HeaderValue::try_from(text).unwrap_or(HeaderValue::from_static(""))
    }
}

/// Keyed by the password's hash, which holds a random salt and never leaves the store: so the key needs no place of its own,
/// and a new password forgets old devices.
fn device_mark(person: &Person, nonce: &str) -> Hmac<Sha256> {
    // Filled up with zeros, as HMAC does with any key shorter than a block (RFC 2104, 2).
    let mut key = [0; 64];
    key[..32].copy_from_slice(&Sha256::digest(person.password.as_bytes()));
    let mut mark = Hmac::<Sha256>::new(&key.into());
    mark.update(format!("device {} {nonce}", person.id).as_bytes());
    mark
}

/// The first cookie of a name.
fn read<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let all = headers.get_all(header::COOKIE).iter().filter_map(|v| v.to_str().ok());
    let mut pairs = all.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find(|(n, _)| *n == name).map(|(_, value)| value).filter(|v| !v.is_empty())
}
