//! Stages of a clutch, its day 0, and kinds of vessel.

use crate::{Span, Time};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// How far a clutch has come. Order is the order of life.
///
/// ```
/// use units::Stage;
/// assert!(Stage::Egg < Stage::Hatch && Stage::Hatch < Stage::FreeSwimming);
/// assert_eq!("free-swimming".parse::<Stage>().unwrap(), Stage::FreeSwimming);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stage {
    /// Laid, no eyes to be seen yet.
    Egg,
    /// Dark eyes show in the egg.
    Eyed,
    /// Half of the clutch has left the shell; from here on they are wrigglers.
    Hatch,
    /// Keeps itself up and steers; the yolk is used up.
    FreeSwimming,
    /// First outside food taken.
    FirstFeeding,
    /// Let go by the mother in her own time.
    Release,
}

impl Stage {
    /// All stages in order of life.
    pub const ALL: [Stage; 6] =
        [Stage::Egg, Stage::Eyed, Stage::Hatch, Stage::FreeSwimming, Stage::FirstFeeding, Stage::Release];

    /// The word in files and addresses.
    pub fn word(self) -> &'static str {
        match self {
            Stage::Egg => "egg",
            Stage::Eyed => "eyed",
            Stage::Hatch => "hatch",
            Stage::FreeSwimming => "free-swimming",
            Stage::FirstFeeding => "first-feeding",
            Stage::Release => "release",
        }
    }

    /// What the young are called once this stage is reached.
    pub fn young(self) -> &'static str {
        match self {
            Stage::Egg => "eggs",
            Stage::Eyed => "eyed eggs",
            Stage::Hatch => "wrigglers",
            Stage::FreeSwimming | Stage::FirstFeeding | Stage::Release => "fry",
        }
    }
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Stage {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        Stage::ALL.into_iter().find(|s| s.word() == text).ok_or_else(|| {
            let known: Vec<&str> = Stage::ALL.iter().map(|s| s.word()).collect();
            format!("{text:?} is not a stage; use one of {}", known.join(", "))
        })
    }
}

/// How sure the keeper is of day 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Grade {
    /// Spawning was seen, the hour is known.
    Seen,
    /// It fell between two looks.
    Window,
    /// Judged from the swollen throat.
    Guess,
}

impl fmt::Display for Grade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Grade::Seen => "seen",
            Grade::Window => "window",
            Grade::Guess => "guess",
        })
    }
}

/// Day 0: the spawning time as an interval with a grade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Day0 {
    /// Earliest time at which she can have spawned.
    pub earliest: Time,
    /// Latest time at which she can have spawned.
    pub latest: Time,
    /// How the keeper knows.
    pub grade: Grade,
}

/// An interval that ends before it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Day0Error {
    earliest: Time,
    latest: Time,
}

impl fmt::Display for Day0Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "day 0 ends ({}) before it begins ({}); swap the two", self.latest, self.earliest)
    }
}

impl std::error::Error for Day0Error {}

impl Day0 {
    /// An interval in order.
    ///
    /// # Errors
    /// [`Day0Error`] when `latest` lies before `earliest`.
    ///
    /// ```
    /// use units::{Day0, Grade, Time};
    /// let (a, b) = (Time::from_millis(0), Time::from_millis(3_600_000));
    /// assert_eq!(Day0::new(a, b, Grade::Window).unwrap().middle(), Time::from_millis(1_800_000));
    /// assert!(Day0::new(b, a, Grade::Window).is_err());
    /// ```
    pub fn new(earliest: Time, latest: Time, grade: Grade) -> Result<Self, Day0Error> {
        if earliest <= latest {
            Ok(Self { earliest, latest, grade })
        } else {
            Err(Day0Error { earliest, latest })
        }
    }

    /// The hour was seen.
    pub fn seen(at: Time) -> Self {
        Self { earliest: at, latest: at, grade: Grade::Seen }
    }

    /// The likeliest moment: the middle of the interval.
    pub fn middle(&self) -> Time {
        self.earliest + Span::from_millis((self.latest - self.earliest).millis() / 2)
    }
}

/// What kind of body of water or chamber a vessel is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum VesselKind {
    /// A body of water with its own temperature.
    Tank,
    /// Chamber in which rising air keeps eggs turning; hangs in a host tank and shares that water.
    Tumbler,
    /// Upright incubator, water entering at the bottom.
    Jar,
}

impl fmt::Display for VesselKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            VesselKind::Tank => "tank",
            VesselKind::Tumbler => "tumbler",
            VesselKind::Jar => "jar",
        })
    }
}
