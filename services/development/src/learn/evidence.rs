//! What one finished clutch tells.

use crate::ahead::Ahead;
use crate::observed::in_order;
use crate::project::{Ask, end_of, unread, water_to_come};
use crate::rest::rest;
use crate::weigh::{Rest, Weighed};
use serde::{Deserialize, Serialize};
use units::{Sighting, Stage, Time};

/// Largest share of the time from day 0 to a sighting that may lie in gaps: a planning value. Over a tenth of the way the
/// filling of gaps could be ±1.5 °C off, 1 to 2 % of the way: little beside the spread of clutches.
pub const MOST_UNREAD: f64 = 0.1;

/// How far one clutch was off what its entry says at one stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// Which clutch; stages of one clutch are not independent.
    pub clutch: String,
    /// Its mother, if known.
    pub mother: Option<String>,
    /// The stage that was seen.
    pub stage: Stage,
    /// ln(had / required): °C·d had from fertilisation to the stage, and those that the entry asks for. 0.1 is 10 % more.
    pub y: f64,
    /// Variance of `y` by what is not the fish: the interval of day 0 and of the sighting, the probe, gaps, the law.
    pub variance: f64,
}

/// What a clutch tells of each stage that was watched ([`Seen::At`](units::Seen::At)) or came between two looks.
///
/// `ask` holds the entry as it was before anything was learnt, and the water the clutch had. Every stage is counted from
/// fertilisation, also where a stage before it was seen: what both have in common is told apart when clutches are
/// pooled. Day 0 and the time of the stage are taken evenly over their intervals. A stage is left out where more than
/// [`MOST_UNREAD`] of the way has no reading, where nobody looked before it had come, or where it was entered out of
/// order. Doubt of base temperature and probe counts anew for every clutch, though part of it is the same for all: what is
/// learnt is then told a little too carefully.
pub fn evidence(ask: &Ask<'_>, clutch: &str, mother: Option<&str>) -> Vec<Evidence> {
    let end = end_of(ask);
    let Ok(water) = water_to_come(ask, end) else { return Vec::new() };
    let ahead = Ahead::new(ask.course, end, water);
    let weighed = Weighed::new(&ahead, ask.doubts, &ask.day0, false);
    let (seen, _) = in_order(ask.seen, &ask.day0, ask.until);
    let told = |o: &Sighting| {
        let stage = o.sign.stage()?;
        let from = o.seen.not_before().filter(|_| was_read(ask, o.seen.by()))?;
        let fish_apart = Rest { pace: (0.0, 0.0), spread: (0.0, 0.0), ..rest(ask.species, None, o.sign)? };
        let (y, variance) = weighed.measured(&fish_apart, from, o.seen.by())?;
        Some(Evidence { clutch: clutch.to_owned(), mother: mother.map(str::to_owned), stage, y, variance })
    };
    seen.iter().filter_map(told).collect()
}

/// Whether the water was read on nearly the whole way.
fn was_read(ask: &Ask<'_>, to: Time) -> bool {
    let from = ask.day0.middle();
    let gaps = unread(ask.course, from, to).as_days();
    !ask.course.points().is_empty() && from < to && gaps <= MOST_UNREAD * (to - from).as_days()
}
