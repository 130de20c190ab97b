//! The time of a reading.

use crate::{Flags, OwnTime};
use units::{Span, Time};

/// Clocks that were never set start in 1970 or 2000; none of our devices was set before 2020-01-01T00:00:00Z.
const UNSET_BEFORE: Time = Time::from_millis(1_577_836_800_000);
/// How far a device's clock may be ahead of ours.
pub(super) const MOST_AHEAD: Span = Span::minutes(5);
/// What is older than this says how things were, not how they are.
pub(super) const BACKFILL_AFTER: Span = Span::minutes(10);

/// A time and what was odd about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct When {
    pub(super) time: Time,
    pub(super) flags: Flags,
}

impl When {
    /// The payload's time where it can be believed, else the time of arrival.
    pub(super) fn new(own: Option<OwnTime>, received: Time) -> Self {
        let own = match own {
            None => Err(Flags::none()),
            Some(OwnTime::NoZone) => Err(Flags::NO_ZONE),
            Some(OwnTime::Unreadable) => Err(Flags::TIME_UNREADABLE),
            Some(OwnTime::At(t)) => believable(t, received).map(|t| (t, Flags::PAYLOAD_TIME)),
            Some(OwnTime::Ago(age)) => {
                believable(received - age, received).map(|t| (t, Flags::RELATIVE_TIME))
            }
        };
        match own {
            Ok((time, source)) => Self { time, flags: source | backfill(time, received) },
            Err(flags) => Self { time: received, flags },
        }
    }

    /// Whether the time is the reading's own, so that it tells a repeat.
    pub(super) fn is_own(self) -> bool {
        self.flags.contains(Flags::PAYLOAD_TIME) || self.flags.contains(Flags::RELATIVE_TIME)
    }
}

fn believable(t: Time, received: Time) -> Result<Time, Flags> {
    match t {
        t if t < UNSET_BEFORE => Err(Flags::DEVICE_CLOCK_UNSET),
        t if t - received > MOST_AHEAD => Err(Flags::DEVICE_CLOCK_AHEAD),
        t => Ok(t),
    }
}

/// The mark of a reading that was already old at that moment.
pub(super) fn backfill(time: Time, at: Time) -> Flags {
    if at - time > BACKFILL_AFTER { Flags::BACKFILL } else { Flags::none() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_edges_of_belief() {
        let now = Time::parse_rfc3339("2031-03-14T02:17:40Z").unwrap();
        let at = |t: Time| When::new(Some(OwnTime::At(t)), now);
        let ms = Span::from_millis(1);
        let new_year = Time::parse_rfc3339("2020-01-01T00:00:00Z").unwrap();
        assert_eq!(at(new_year).time, new_year);
        assert_eq!(at(new_year - ms), When { time: now, flags: Flags::DEVICE_CLOCK_UNSET });
        assert_eq!(at(now + MOST_AHEAD).time, now + MOST_AHEAD);
        assert_eq!(at(now + MOST_AHEAD + ms), When { time: now, flags: Flags::DEVICE_CLOCK_AHEAD });
        assert_eq!(at(now - BACKFILL_AFTER).flags, Flags::PAYLOAD_TIME);
        assert_eq!(at(now - BACKFILL_AFTER - ms).flags, Flags::PAYLOAD_TIME | Flags::BACKFILL);
        let ago = When::new(Some(OwnTime::Ago(Span::minutes(2))), now);
        assert_eq!(ago, When { time: now - Span::minutes(2), flags: Flags::RELATIVE_TIME });
    }
}
