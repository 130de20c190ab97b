//! What moved a date, split into parts that add up.

use crate::cause::instead;
use crate::course::Course;
use crate::project::{Ask, ProjectionError};
use crate::walk::{Step, walk};
use std::fmt;
use units::{Span, Stage, Time};

/// An hour that moved a date by less than this is a small one. Small hours are told together with small neighbours of the
/// same sign, larger ones with larger neighbours of the same sign, and one below [`TRIFLE`] has no sign; the sum of a
/// group is the sum of its hours. A planning value: what nobody would miss in a date.
pub const SMALL_HOUR: Span = Span::minutes(5);

/// What an hour of well-held water moves a date by, as its heater goes on and off. A planning value.
pub const TRIFLE: Span = Span::minutes(1);

/// Why a part of a shift came about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PartCause {
    /// Day 0 is another.
    Day0,
    /// The species entry, what was learnt beside it, or how far temperatures are taken to be off, is another.
    Species,
    /// What was seen of the clutch.
    Seen,
    /// Readings that came late.
    Late,
    /// Readings that were taken for others: an offset of the probe, or another place.
    Corrected,
    /// What was read, in place of the water expected.
    Water {
        /// Its mean, °C; `None` where it is one gap, which is filled.
        celsius: Option<f64>,
        /// What was expected, °C.
        instead_of: f64,
    },
    /// The water to come is taken to be another.
    ToCome {
        /// As it was, °C.
        before: f64,
        /// As it is, °C.
        after: f64,
    },
}

impl PartCause {
    /// The word in files and addresses.
    pub fn word(&self) -> &'static str {
        match self {
            PartCause::Day0 => "day0",
            PartCause::Species => "species",
            PartCause::Seen => "seen",
            PartCause::Late => "late-readings",
            PartCause::Corrected => "corrected-readings",
            PartCause::Water { .. } => "water",
            PartCause::ToCome { .. } => "water-to-come",
        }
    }
}

impl fmt::Display for PartCause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PartCause::Day0 => f.write_str("day 0 is another"),
            PartCause::Species => {
                f.write_str("the species entry is another, or this room has learnt more of it")
            }
            PartCause::Seen => f.write_str("what was seen"),
            PartCause::Late => f.write_str("readings that came late"),
            PartCause::Corrected => f.write_str("readings taken for others"),
            PartCause::Water { celsius: Some(read), instead_of } => f.write_str(&instead(*read, *instead_of)),
            PartCause::Water { celsius: None, instead_of } => {
                write!(f, "not read, filled instead of {instead_of:.1} °C")
            }
            PartCause::ToCome { before, after } => {
                write!(f, "water to come taken at {}", instead(*after, *before))
            }
        }
    }
}

/// A part of a shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Why.
    pub cause: PartCause,
    /// Beginning of the stretch it is about.
    pub from: Time,
    /// Its end.
    pub to: Time,
    /// How much sooner it made the stage; negative: later.
    pub gained: Span,
}

/// The whole shift of one stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Split {
    /// The stage.
    pub stage: Stage,
    /// Its likeliest time as it was.
    pub before: Time,
    /// As it is.
    pub after: Time,
    /// Its parts, in the order in which they were put in; parts of zero are left out.
    pub parts: Vec<Part>,
}

impl Split {
    /// How much sooner the stage is; negative: later. To the millisecond the sum of the parts.
    pub fn gained(&self) -> Span {
        self.before - self.after
    }
}

/// The shift of the likeliest time of every stage between two projections of one clutch, split into what it came from.
///
/// The old question is turned into the new one piece by piece, always in this order, and each part is what its piece
/// moved: day 0; species entry; sightings; late readings; readings taken for others; then what was read since, hour by
/// hour of the clock (UTC) in place of the water that had been expected; last the water to come. So the parts add up to
/// the whole exactly. Causes that act together (say, warmer hours under a new species entry) are told with whichever is
/// put in later.
///
/// Both questions may be asked of one course with two `until`: then nothing counts as having come late. An hour without a
/// reading is told together with the next one that has some. Neighbouring hours are told together by [`SMALL_HOUR`].
/// Costs one projection for each hour.
///
/// # Errors
/// As [`project`](crate::project) of either.
pub fn split(old: &Ask<'_>, new: &Ask<'_>) -> Result<Vec<Split>, ProjectionError> {
    let (begin, steps) = walk(old, new)?;
    let end = steps.last().map_or(&begin, |s| &s.times);
    let both = begin.iter().filter_map(|(stage, before)| Some((*stage, *before, time_of(end, *stage)?)));
    Ok(both.map(|(stage, before, after)| one(&steps, stage, before, after, new.course)).collect())
}

fn time_of(times: &[(Stage, Time)], stage: Stage) -> Option<Time> {
    times.iter().find(|t| t.0 == stage).map(|t| t.1)
}

/// The parts of one stage.
fn one(steps: &[Step], stage: Stage, before: Time, after: Time, course: &Course) -> Split {
    let (mut at, mut parts, mut group) = (before, Vec::<Part>::new(), Kind::default());
    for step in steps {
        // An entry on the way that does not know the stage leaves its time to the next.
        let Some(is) = time_of(&step.times, stage) else { continue };
        let to = step.to.unwrap_or(after).max(step.from);
        let part = Part { cause: step.cause, from: step.from, to, gained: at - is };
        at = is;
        let kind = Kind::of(&part);
        match parts.last_mut().filter(|_| group.takes(&kind)) {
            Some(last) => join(last, &part, course),
            None => parts.push(part),
        }
        let sign = if group.takes(&kind) && kind.sign == 0 { group.sign } else { kind.sign };
        group = Kind { sign, ..kind };
    }
    parts.retain(|p| p.gained != Span::ZERO);
    Split { stage, before, after, parts }
}

/// What decides whether hours are told together.
#[derive(Debug, Clone, Copy, Default)]
struct Kind {
    water: bool,
    small: bool,
    sign: i64,
}

impl Kind {
    fn of(part: &Part) -> Self {
        let moved = part.gained.abs();
        Self {
            water: matches!(part.cause, PartCause::Water { .. }),
            small: moved < SMALL_HOUR,
            sign: if moved < TRIFLE { 0 } else { part.gained.millis().signum() },
        }
    }

    fn takes(&self, next: &Self) -> bool {
        self.water && next.water && self.small == next.small && self.sign * next.sign >= 0
    }
}

fn join(group: &mut Part, hour: &Part, course: &Course) {
    group.to = hour.to;
    group.gained = group.gained + hour.gained;
    if let PartCause::Water { celsius, .. } = &mut group.cause {
        *celsius = course.mean(group.from, group.to);
    }
}
