//! What will go wrong or be mended, in the order of time.

use crate::{CountedFrom, Event, Wish};
use std::collections::VecDeque;
use std::fmt;
use units::{Span, Time};

/// A fault, or a rhythm, for something that is not in the room.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownPlace(pub(crate) String);

impl fmt::Display for UnknownPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for UnknownPlace {}

/// Changes to come; those at the same time stay in the order in which they were added.
#[derive(Debug, Clone, Default)]
pub(crate) struct Changes(VecDeque<(Time, Wish)>);

impl Changes {
    pub(crate) fn of(events: &[Event], start: Time) -> Self {
        let mut all = Self::default();
        for event in events {
            let at = first(event, start);
            all.add(at, Wish::Inject(event.fault.clone()));
            if let Some(lasts) = event.lasts {
                all.add(at + seconds(lasts), Wish::Mend(event.fault.clone()));
            }
        }
        all
    }

    pub(crate) fn add(&mut self, at: Time, wish: Wish) {
        let place = self.0.partition_point(|(t, _)| *t <= at);
        self.0.insert(place, (at, wish));
    }

    pub(crate) fn next(&self) -> Option<Time> {
        self.0.front().map(|(t, _)| *t)
    }

    /// Takes the first change that is due.
    pub(crate) fn take(&mut self, now: Time) -> Option<Wish> {
        if self.next()? > now {
            return None;
        }
        self.0.pop_front().map(|(_, wish)| wish)
    }
}

/// When an event begins. One that counts from midnight and lies before the start begins with the room.
fn first(event: &Event, start: Time) -> Time {
    let day = Span::days(1).millis();
    let from = match event.counted_from {
        CountedFrom::Start => start,
        CountedFrom::Midnight => start - Span::from_millis(start.millis().rem_euclid(day)),
    };
    (from + seconds(event.at)).max(start)
}

/// Seconds of a plan as a span.
pub(crate) fn seconds(s: f64) -> Span {
    Span::from_days(s / 86_400.0)
}
