//! One accepted value of one probe at one time.

use serde::{Deserialize, Serialize};
use units::{ProbeKey, Time};

/// One accepted value of one probe at one time. There is at most one for a probe and time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Whose.
    pub probe: ProbeKey,
    /// When it was measured, as far as known.
    pub time: Time,
    /// The number in the unit of the probe's quantity.
    pub value: f64,
    /// When it arrived.
    pub received: Time,
    /// The device's running number.
    pub sequence: Option<u64>,
    /// Says how things are now: not retained and not older than 10 minutes when it was accepted. Only fresh
    /// readings may raise or clear a live alarm.
    pub fresh: bool,
    /// Where `time` came from.
    pub time_source: TimeSource,
    /// What was odd about its time.
    pub flags: Flags,
}

/// Where the time of a reading came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TimeSource {
    /// The time of arrival.
    Arrival,
    /// The device's own clock.
    Payload,
    /// The age that the device gave, counted back from arrival.
    PayloadRelative,
}

/// Marks of a reading, kept with it as the bits of a `u16`. They also carry the [`TimeSource`], so that a stored
/// row needs no further column.
///
/// ```
/// use readings::{Flags, TimeSource};
/// let flags = Flags::NO_ZONE | Flags::BACKFILL;
/// assert_eq!(Flags::from_bits(flags.to_bits()), flags);
/// assert!(flags.contains(Flags::BACKFILL) && !flags.contains(Flags::DEVICE_CLOCK_AHEAD));
/// assert_eq!(flags.time_source(), TimeSource::Arrival);
/// assert_eq!(flags.words(), ["no_zone", "backfill"]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Flags(u16);

impl Flags {
    /// The payload's time had no zone; time of arrival used.
    pub const NO_ZONE: Self = Self(1);
    /// The device's clock was never set; time of arrival used.
    pub const DEVICE_CLOCK_UNSET: Self = Self(1 << 1);
    /// The device's clock was more than 5 minutes ahead; time of arrival used.
    pub const DEVICE_CLOCK_AHEAD: Self = Self(1 << 2);
    /// Older than 10 minutes when accepted.
    pub const BACKFILL: Self = Self(1 << 3);
    /// The payload's time could not be read; time of arrival used.
    pub const TIME_UNREADABLE: Self = Self(1 << 4);
    /// The time is the device's own.
    pub const PAYLOAD_TIME: Self = Self(1 << 5);
    /// The time is arrival less the age that the device gave.
    pub const RELATIVE_TIME: Self = Self(1 << 6);

    /// Kept by a broker and handed over on subscribing: how things were at its own time, not how they are.
    pub const RETAINED_NOT_FRESH: Self = Self(1 << 7);

    /// The device's clock was more than 10 minutes behind, and its readings were new all the same; time of arrival used.
    pub const DEVICE_CLOCK_BEHIND: Self = Self(1 << 8);

    const WORDS: [(Self, &'static str); 7] = [
        (Self::RETAINED_NOT_FRESH, "retained_not_fresh"),
        (Self::NO_ZONE, "no_zone"),
        (Self::DEVICE_CLOCK_UNSET, "device_clock_unset"),
        (Self::DEVICE_CLOCK_AHEAD, "device_clock_ahead"),
        (Self::DEVICE_CLOCK_BEHIND, "device_clock_behind"),
        (Self::BACKFILL, "backfill"),
        (Self::TIME_UNREADABLE, "time_unreadable"),
    ];

    /// Nothing odd, time of arrival.
    pub const fn none() -> Self {
        Self(0)
    }
    /// For the store.
    pub const fn to_bits(self) -> u16 {
        self.0
    }
    /// From the store. Bits that this release does not know are kept.
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits)
    }
    /// Whether every bit of `other` is set.
    pub const fn contains(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }
    /// Where the time of the reading came from.
    pub const fn time_source(self) -> TimeSource {
        if self.contains(Self::PAYLOAD_TIME) {
            TimeSource::Payload
        } else if self.contains(Self::RELATIVE_TIME) {
            TimeSource::PayloadRelative
        } else {
            TimeSource::Arrival
        }
    }
    /// The odd things as words.
    pub fn words(self) -> Vec<&'static str> {
        Self::WORDS.iter().filter(|(f, _)| self.contains(*f)).map(|(_, w)| *w).collect()
    }
}

impl std::ops::BitOr for Flags {
    type Output = Self;
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}
