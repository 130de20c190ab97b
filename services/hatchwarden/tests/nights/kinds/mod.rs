//! What can go wrong, and which alarm answers it. Left out are what harms nothing within a night and what no alarm is due
//! for: a lid off, a clock that runs ahead, a pump of a loop that has a standby.

mod air;
mod devices;
mod water;

use crate::chance::Chance;
use sensors_sim::{Fault, Lapse};
use units::Span;

/// What a fault is aimed at.
pub(crate) struct Aim {
    pub(crate) tumbler: String,
    pub(crate) tank: String,
    pub(crate) board: String,
}

/// When it is true that something is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sign {
    /// At the fault itself.
    Fault,
    /// When the eggs concerned lie still: flow at or under a quarter of the usual.
    Stop,
    /// When the water is really out of its band.
    Water,
}

/// Where the alarm must be; one of the room as a whole (`room.…`) answers everywhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    Tumbler,
    Tank,
    Jar,
    Anywhere,
}

/// What breaks.
pub(crate) enum Breaks {
    Room(fn(&Aim, &mut Chance) -> Vec<Fault>),
    /// The way in, of which the service is told.
    Broker,
}

/// One kind of fault.
pub(crate) struct Kind {
    pub(crate) name: &'static str,
    pub(crate) breaks: Breaks,
    pub(crate) sign: Sign,
    pub(crate) place: Place,
    /// Any of these conditions answers it, by the word in the alarm's key. Some are still to come.
    pub(crate) answers: &'static [&'static str],
    /// How long it may take at most until the truth shows, h.
    pub(crate) hours: i64,
}

/// Every kind.
pub(crate) fn all() -> Vec<&'static Kind> {
    [air::KINDS, water::KINDS, devices::KINDS].into_iter().flatten().collect()
}

impl Kind {
    /// How long the service must have known the room: half a day says how long a probe may repeat itself.
    pub(crate) fn known(&self) -> Span {
        if self.sticks() { Span::hours(13) } else { Span::minutes(150) }
    }

    /// Whether a probe sticks and hides the rest.
    pub(crate) fn sticks(&self) -> bool {
        self.name.contains("stuck,")
    }

    /// Where boards and router on batteries would hide it.
    pub(crate) fn without_batteries(&self) -> bool {
        ["power cut, boards dead", "board unplugged", "router unplugged"].contains(&self.name)
    }
}

const fn kind(
    name: &'static str,
    faults: fn(&Aim, &mut Chance) -> Vec<Fault>,
    (sign, place): (Sign, Place),
    answers: &'static [&'static str],
    hours: i64,
) -> Kind {
    Kind { name, breaks: Breaks::Room(faults), sign, place, answers, hours }
}

fn slowly(chance: &mut Chance) -> Lapse {
    Lapse::of(chance.span(Span::minutes(15), Span::minutes(75)))
}

fn probe(vessel: &str, quantity: &str) -> units::ProbeKey {
    format!("{vessel}/{quantity}").parse().unwrap()
}
