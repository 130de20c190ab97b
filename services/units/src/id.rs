//! Names of rooms, vessels, clutches, mothers and probes.

use crate::Quantity;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Longest name in bytes: it must fit on a label and in a topic level.
const LONGEST: usize = 40;

/// A name that cannot stand in a topic, an address or on a label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IdError {
    what: &'static str,
    text: String,
}

impl fmt::Display for IdError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} name {:?} will not do: use 1 to {LONGEST} letters (a-z, A-Z), digits, '-', '_' or '.', starting with a letter or digit",
            self.what, self.text
        )
    }
}

impl std::error::Error for IdError {}

fn fits(text: &str) -> bool {
    text.len() <= LONGEST
        && text.starts_with(|c: char| c.is_ascii_alphanumeric())
        && text.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.'))
}

macro_rules! id {
    ($(#[$doc:meta])* $name:ident, $what:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(into = "String", try_from = "String")]
        pub struct $name(String);

        impl $name {
            /// Checks and keeps the name.
            ///
            /// # Errors
            /// [`IdError`] naming the text and the characters allowed.
            pub fn new(text: impl Into<String>) -> Result<Self, IdError> {
                let text = text.into();
                if fits(&text) { Ok(Self(text)) } else { Err(IdError { what: $what, text }) }
            }

            /// The name as text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl FromStr for $name {
            type Err = IdError;
            fn from_str(text: &str) -> Result<Self, IdError> {
                Self::new(text)
            }
        }

        impl TryFrom<String> for $name {
            type Error = IdError;
            fn try_from(text: String) -> Result<Self, IdError> {
                Self::new(text)
            }
        }

        impl From<$name> for String {
            fn from(id: $name) -> String {
                id.0
            }
        }
    };
}

id! {
    /// The room that one hatchwarden watches.
    RoomId, "room"
}
id! {
    /// A tank, tumbler or jar.
    ///
    /// ```
    /// use units::VesselId;
    /// assert_eq!(VesselId::new("TU1").unwrap().as_str(), "TU1");
    /// assert!(VesselId::new("a/b").is_err());
    /// ```
    VesselId, "vessel"
}
id! {
    /// The eggs of one mother from one spawning, from day 0 to the last fish.
    ClutchId, "clutch"
}
id! {
    /// The code of a mother.
    MotherId, "mother"
}

/// Which probe a reading comes from: one quantity at one vessel, with a mark where a vessel has several.
///
/// Written `vessel/quantity` or `vessel/quantity/mark`.
///
/// ```
/// use units::{ProbeKey, Quantity};
/// let p: ProbeKey = "V1/temperature".parse().unwrap();
/// assert_eq!(p.quantity, Quantity::Temperature);
/// assert_eq!(p.to_string(), "V1/temperature");
/// assert_eq!("V1/temperature/28-00b7".parse::<ProbeKey>().unwrap().mark.unwrap(), "28-00b7");
/// assert!("V1".parse::<ProbeKey>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct ProbeKey {
    /// The vessel it hangs in.
    pub vessel: VesselId,
    /// What it measures.
    pub quantity: Quantity,
    /// Tells probes of one vessel and quantity apart.
    pub mark: Option<String>,
}

impl ProbeKey {
    /// The only probe of this quantity at this vessel.
    pub fn new(vessel: VesselId, quantity: Quantity) -> Self {
        Self { vessel, quantity, mark: None }
    }
}

impl fmt::Display for ProbeKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.vessel, self.quantity)?;
        self.mark.as_ref().map_or(Ok(()), |m| write!(f, "/{m}"))
    }
}

impl FromStr for ProbeKey {
    type Err = IdError;
    fn from_str(text: &str) -> Result<Self, IdError> {
        let bad = || IdError { what: "probe", text: text.to_owned() };
        let mut parts = text.splitn(3, '/');
        let vessel = VesselId::new(parts.next().unwrap_or_default()).map_err(|_| bad())?;
        let quantity = parts.next().unwrap_or_default().parse().map_err(|_| bad())?;
        let mark = parts.next().map(str::to_owned);
        if mark.as_deref().is_some_and(|m| !fits(m)) {
            return Err(bad());
        }
        Ok(Self { vessel, quantity, mark })
    }
}

impl TryFrom<String> for ProbeKey {
    type Error = IdError;
    fn try_from(text: String) -> Result<Self, IdError> {
        text.parse()
    }
}

impl From<ProbeKey> for String {
    fn from(p: ProbeKey) -> String {
        p.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_would_break_a_topic_are_refused() {
        for bad in ["", "a b", "a+b", "#", "a/b", "é", "-a", &"x".repeat(41)] {
            assert!(VesselId::new(bad).is_err(), "{bad}");
        }
        assert!(VesselId::new("x".repeat(40)).is_ok());
    }

    #[test]
    fn the_refusal_names_the_text_and_the_cure() {
        let said = VesselId::new("my tank").unwrap_err().to_string();
        assert!(said.contains("\"my tank\"") && said.contains("letters"), "{said}");
    }
}
