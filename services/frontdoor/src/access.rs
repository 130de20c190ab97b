//! Who may come in, and what each may say and hear.

use sha2::{Digest, Sha256};
use std::fmt;
use subtle::{Choice, ConstantTimeEq};

/// Who may connect.
#[derive(Debug, Clone, Default)]
pub enum Access {
    /// Everybody may publish and subscribe to everything, without a password. On loopback only.
    #[default]
    Anonymous,
    /// Only these devices, each with its own password and its own topics.
    Devices(Vec<Device>),
}

/// One device, or another program, that may sign in.
///
/// ```
/// use frontdoor::{Device, Secret};
///
/// let tumbler = Device {
///     name: "tumbler-1".to_owned(),
///     secret: Secret::new("correct horse battery staple"),
///     publish: vec!["hatchwarden/undercroft/V1/+".to_owned()],
///     subscribe: vec!["hatchwarden/undercroft/alarm/#".to_owned()],
/// };
/// assert!(!format!("{tumbler:?}").contains("horse"));
/// ```
#[derive(Debug, Clone)]
pub struct Device {
    /// The MQTT user name; not empty, and no other device's.
    pub name: String,
    /// The MQTT password; not empty.
    pub secret: Secret,
    /// MQTT topic filters that it may publish to. None = it publishes nothing.
    pub publish: Vec<String>,
    /// MQTT topic filters that it may subscribe to; a wildcard subscription must lie wholly within one of them.
    /// None = it receives nothing.
    pub subscribe: Vec<String>,
}

/// A password, kept as its SHA-256 digest only. Its `Debug` shows nothing.
///
/// The digest is neither salted nor slow: it makes the comparison take the same time for every guess and keeps the password out of
/// memory. It never leaves the process.
#[derive(Clone)]
pub struct Secret([u8; 32]);

impl Secret {
    /// Takes a password; an empty one is refused when the front door opens.
    pub fn new(password: impl AsRef<[u8]>) -> Self {
        Secret(Sha256::digest(password.as_ref()).into())
    }

    /// A secret that no password is known to have: what an unknown user is compared with.
    pub(crate) const fn nobody() -> Self {
        Secret([0; 32])
    }

    /// Equal or not, in a time that does not depend on the answer.
    pub(crate) fn is(&self, other: &Secret) -> Choice {
        self.0.ct_eq(&other.0)
    }

    fn is_empty(&self) -> bool {
        bool::from(self.is(&Secret::new("")))
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(..)")
    }
}

/// What is wrong with a device of the settings; the words name the cure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DeviceFault {
    /// It could not be told from a client that gives no name.
    #[error("its name is empty; the name is the MQTT user name that the device signs in with")]
    NoName,
    /// MQTT cannot carry such a user name.
    #[error(
        "its name has a NUL character or more than 65,535 bytes, which MQTT cannot carry; choose a plain name"
    )]
    Name,
    /// Two devices of one name.
    #[error(
        "another device has the same name; each device needs its own, so that one can be locked out alone"
    )]
    Twice,
    /// Anybody who knows the name could come in.
    #[error("its password is empty; give it a long random one")]
    NoSecret,
    /// A permission that is no MQTT topic filter.
    #[error(
        "\"{filter}\" is not an MQTT topic filter: + and # stand alone between slashes, # only at the end"
    )]
    Filter {
        /// The filter as given.
        filter: String,
    },
}

impl Device {
    /// Everything about it but its name being its own.
    pub(crate) fn check(&self) -> Result<(), DeviceFault> {
        if self.name.is_empty() {
            return Err(DeviceFault::NoName);
        }
        if self.name.contains('\0') || self.name.len() > usize::from(u16::MAX) {
            return Err(DeviceFault::Name);
        }
        if self.secret.is_empty() {
            return Err(DeviceFault::NoSecret);
        }
        let bad = |filter: &&String| crate::matching::check_filter(filter).is_err();
        match self.publish.iter().chain(&self.subscribe).find(bad) {
            Some(filter) => Err(DeviceFault::Filter { filter: filter.clone() }),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn device() -> Device {
        let (publish, subscribe) = (vec!["a/+".to_owned()], vec!["#".to_owned()]);
        Device { name: "TU1".to_owned(), secret: Secret::new("s3"), publish, subscribe }
    }

    #[test]
    fn a_good_device_passes_and_each_fault_is_named() {
        assert_eq!(device().check(), Ok(()));
        let named = |name: &str| Device { name: name.to_owned(), ..device() }.check();
        assert_eq!(named(""), Err(DeviceFault::NoName));
        assert_eq!(named("a\0"), Err(DeviceFault::Name));
        assert_eq!(named(&"a".repeat(65_536)), Err(DeviceFault::Name));
        assert_eq!(Device { secret: Secret::new(""), ..device() }.check(), Err(DeviceFault::NoSecret));
        let filter = "a/#/b".to_owned();
        let bad = Device { subscribe: vec!["a".to_owned(), filter.clone()], ..device() };
        assert_eq!(bad.check(), Err(DeviceFault::Filter { filter }));
    }

    #[test]
    fn secrets_compare_and_hide() {
        assert!(bool::from(Secret::new("s3").is(&Secret::new(b"s3"))));
        assert!(!bool::from(Secret::new("s3").is(&Secret::new("s4"))));
        assert!(!bool::from(Secret::nobody().is(&Secret::new(""))));
        assert_eq!(format!("{:?}", Secret::new("s3")), "Secret(..)");
    }
}
