//! What a keeper saw of a clutch, and how exactly they know when.

use crate::{Stage, Time};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// What can be seen of how far a clutch has come. Order is the order of life.
///
/// ```
/// use units::{Sign, Stage};
/// assert_eq!("hatch".parse::<Sign>().unwrap(), Sign::Stage(Stage::Hatch));
/// assert_eq!("yolk-half-gone".parse::<Sign>().unwrap(), Sign::YolkHalfGone);
/// assert!(Sign::Stage(Stage::Hatch) < Sign::YolkHalfGone && Sign::YolkHalfGone < Sign::Stage(Stage::FreeSwimming));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Sign {
    /// A stage was reached.
    Stage(Stage),
    /// Wrigglers with about half of their yolk left.
    YolkHalfGone,
}

impl Sign {
    /// The word in files and addresses.
    pub fn word(self) -> &'static str {
        match self {
            Sign::Stage(stage) => stage.word(),
            Sign::YolkHalfGone => "yolk-half-gone",
        }
    }

    /// The stage, if it is one.
    pub fn stage(self) -> Option<Stage> {
        match self {
            Sign::Stage(stage) => Some(stage),
            Sign::YolkHalfGone => None,
        }
    }

    /// The stage that had been reached when this could be seen.
    pub fn reached(self) -> Stage {
        self.stage().unwrap_or(Stage::Hatch)
    }

    fn order(self) -> (Stage, bool) {
        (self.reached(), self == Sign::YolkHalfGone)
    }
}

impl PartialOrd for Sign {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Sign {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.order().cmp(&other.order())
    }
}

impl From<Stage> for Sign {
    fn from(stage: Stage) -> Self {
        Sign::Stage(stage)
    }
}

impl From<Sign> for String {
    fn from(sign: Sign) -> Self {
        sign.word().to_owned()
    }
}

impl fmt::Display for Sign {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Sign {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        if text == Sign::YolkHalfGone.word() {
            return Ok(Sign::YolkHalfGone);
        }
        text.parse().map(Sign::Stage).map_err(|said: String| format!("{said}, yolk-half-gone"))
    }
}

impl TryFrom<String> for Sign {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

/// When something happened, as far as the keeper knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Seen {
    /// It was watched.
    At(Time),
    /// It had not happened at the first look and had at the second.
    Between(Time, Time),
    /// It had happened already when first looked at.
    By(Time),
}

impl Seen {
    /// The time by which it had happened.
    pub fn by(self) -> Time {
        match self {
            Seen::At(t) | Seen::Between(_, t) | Seen::By(t) => t,
        }
    }

    /// The time at which it had not yet happened; `None` where nobody looked before.
    pub fn not_before(self) -> Option<Time> {
        match self {
            Seen::At(t) | Seen::Between(t, _) => Some(t),
            Seen::By(_) => None,
        }
    }
}

/// A sign and when it was seen. As text: `hatch@T`, `hatch@T1/T2` (between two looks), `hatch@../T` (already past by T;
/// an open interval as in ISO 8601-2), with times as RFC 3339.
///
/// ```
/// use units::{Seen, Sighting, Stage, Time};
/// let t = |text| Time::parse_rfc3339(text).unwrap();
/// let read = |text: &str| text.parse::<Sighting>().unwrap();
/// assert_eq!(read("hatch@2031-03-14T07:00:00Z").seen, Seen::At(t("2031-03-14T07:00:00Z")));
/// let looks = read("hatch@2031-03-13T20:00:00Z/2031-03-14T07:00:00Z");
/// assert_eq!(looks.seen, Seen::Between(t("2031-03-13T20:00:00Z"), t("2031-03-14T07:00:00Z")));
/// assert_eq!(read("free-swimming@../2031-03-14T07:00:00Z").sign, Stage::FreeSwimming.into());
/// assert!("hatch@2031-03-14T07:00:00Z/2031-03-13T20:00:00Z".parse::<Sighting>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sighting {
    /// What.
    pub sign: Sign,
    /// When.
    pub seen: Seen,
}

impl Sighting {
    /// A stage that was watched as it was reached.
    pub fn at(stage: Stage, at: Time) -> Self {
        Self { sign: stage.into(), seen: Seen::At(at) }
    }
}

impl fmt::Display for Sighting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.seen {
            Seen::At(t) => write!(f, "{}@{t}", self.sign),
            Seen::Between(a, b) => write!(f, "{}@{a}/{b}", self.sign),
            Seen::By(t) => write!(f, "{}@../{t}", self.sign),
        }
    }
}

impl FromStr for Sighting {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let (sign, when) = text
            .split_once('@')
            .ok_or_else(|| format!("{text:?} has no @; write STAGE@T, such as hatch@2031-03-14T07:00:00Z"))?;
        let time = |t: &str| Time::parse_rfc3339(t).map_err(|e| e.to_string());
        let seen = match when.split_once('/') {
            None => Seen::At(time(when)?),
            Some(("..", by)) => Seen::By(time(by)?),
            Some((a, b)) => between(time(a)?, time(b)?)?,
        };
        Ok(Self { sign: sign.parse()?, seen })
    }
}

fn between(a: Time, b: Time) -> Result<Seen, String> {
    if a <= b { Ok(Seen::Between(a, b)) } else { Err(format!("{a} lies after {b}; swap the two looks")) }
}
