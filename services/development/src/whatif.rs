//! The same clutch in other water, and the water for a date.

use crate::course::Course;
use crate::project::{Ask, ProjectionError, project, read_until};
use crate::projection::Projection;
use std::fmt;
use units::{Band, Span, Stage, Time};

/// What is said beside every answer of this module. In other fish temperatures outside what the eggs stand malformed or
/// killed them: goldfish at 34 °C, all malformed (Braz. J. Biol. 2023, abstract); coho at 14 °C and above, near total loss
/// (Prog. Fish-Cult. 1987 49:167-174, abstract). Nothing was found on how fast a mouthbrooder's water may be changed, so
/// no figure is given for that.
pub const CAUTION: &str = "Forcing temperature harms eggs and young: deformities and losses. Change water slowly and stay \
     within what the species stands. This is a planning aid; local law, your vet and rules of animal welfare come first.";

/// Another life to try for a clutch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// All of its life at one steady temperature, °C. What was read and what was seen of it do not count then: in other
    /// water it would have been seen at other times.
    Always(f64),
    /// As it was up to the last reading, then steadily at this temperature, °C.
    FromNow(f64),
}

/// A clutch as it is, and as it would be.
#[derive(Debug, Clone, PartialEq)]
pub struct WhatIf {
    /// As it is projected now; `None` where that cannot be, e.g. before the first reading.
    pub as_is: Option<Projection>,
    /// With the change.
    pub changed: Projection,
}

impl WhatIf {
    /// How much later a stage would be; negative: sooner. `None` where one of both knows nothing of it.
    pub fn later(&self, stage: Stage) -> Option<Span> {
        Some(self.changed.stage(stage)?.likeliest - self.as_is.as_ref()?.stage(stage)?.likeliest)
    }
}

/// The same clutch with a change of its water.
///
/// A temperature outside what the entry calls tolerated is answered, with the projection's own warning of it.
///
/// # Errors
/// As [`project`].
///
/// ```
/// use development::{Ask, Change, Course, Doubts, SpeciesTable, what_if};
/// use units::{Day0, Span, Stage, Time};
/// let table = SpeciesTable::shipped();
/// let species = table.get("oreochromis-niloticus").unwrap();
/// let spawned = Time::from_millis(0);
/// let mut course = Course::new(species, spawned);
/// course.insert(spawned, 28.0);
/// let (day0, doubts) = (Day0::seen(spawned), Doubts::USUAL);
/// let ask = Ask { species, course: &course, until: None, day0, seen: &[], water_to_come: None, doubts };
/// let cooler = what_if(&ask, Change::Always(25.0)).unwrap();
/// // 32.5 °C·d above 18 °C: 78 h at 28 °C, 111.4 h at 25 °C.
/// let hatch = cooler.changed.stage(Stage::Hatch).unwrap().likeliest;
/// assert!(((hatch - spawned).as_hours() - 32.5 / 7.0 * 24.0).abs() < 0.01);
/// assert!(cooler.later(Stage::Hatch).unwrap() > Span::hours(33));
/// ```
pub fn what_if(ask: &Ask<'_>, change: Change) -> Result<WhatIf, ProjectionError> {
    let changed = match change {
        Change::FromNow(celsius) => project(&Ask { water_to_come: Some(celsius), ..*ask })?,
        Change::Always(celsius) => {
            let course = Course::new(ask.species, ask.course.from());
            project(&Ask { course: &course, seen: &[], water_to_come: Some(celsius), ..*ask })?
        }
    };
    Ok(WhatIf { as_is: project(ask).ok(), changed })
}

/// Where the range comes from in which a temperature is looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// What eggs and young stand by the entry, °C.
    Tolerated(Band),
    /// The entry says nothing of that: the temperatures at which its figures were found, °C.
    Calibrated(Band),
}

impl Range {
    /// That of an entry; `None` where it has neither.
    pub fn of(species: &crate::Species) -> Option<Self> {
        let calibrated = species.calibrated.map(Range::Calibrated);
        species.tolerated.map(Range::Tolerated).or(calibrated)
    }

    /// Its ends, °C.
    pub fn band(&self) -> Band {
        match self {
            Range::Tolerated(band) | Range::Calibrated(band) => *band,
        }
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Band { low, high } = self.band();
        match self {
            Range::Tolerated(_) => write!(f, "the tolerated range ({low} to {high} °C)"),
            Range::Calibrated(_) => write!(
                f,
                "the calibrated range ({low} to {high} °C; the entry does not say what is tolerated)"
            ),
        }
    }
}

/// The steady water that puts a stage at a time.
#[derive(Debug, Clone, PartialEq)]
pub struct Steady {
    /// °C from the last reading on, to a millionth; the coolest that does it.
    pub celsius: f64,
    /// In which range it was looked for.
    pub range: Range,
    /// How much sooner the stage comes for each tenth of a degree warmer: how closely the water would have to be held.
    pub per_tenth: Span,
    /// What follows from it, with warnings, e.g. that it lies outside the calibrated range.
    pub projection: Projection,
}

/// Why no steady water puts a stage at a time.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoSteady {
    /// There is no projection to begin with.
    #[error(transparent)]
    Projection(#[from] ProjectionError),
    /// The entry does not say what the stage needs.
    #[error("the species entry does not say what {0} needs; ask for a stage that has a window")]
    Unknown(Stage),
    /// The stage was seen.
    #[error("{stage} was seen by {at}; ask for a later stage")]
    Seen {
        /// The stage.
        stage: Stage,
        /// When, at the latest.
        at: Time,
    },
    /// The time lies before the last reading, or before the clutch.
    #[error("{wanted} does not lie after {last}, and no water to come changes what was; give a later time")]
    Past {
        /// What was asked for.
        wanted: Time,
        /// The last reading, or the earliest day 0 where there is none.
        last: Time,
    },
    /// By its likeliest time the stage was over before the last reading.
    #[error(
        "{stage} was over at {at} by its likeliest time; write it down if you saw it, or ask for a later stage"
    )]
    Over {
        /// The stage.
        stage: Stage,
        /// Its likeliest time.
        at: Time,
    },
    /// Only water outside the range would do it.
    #[error(
        "{wanted} cannot be had: within {range} {stage} can be put from {} (at {} °C) to {} (at {} °C); give a time between them",
        earliest.0, earliest.1, latest.0, latest.1
    )]
    OutOfReach {
        /// The stage.
        stage: Stage,
        /// What was asked for.
        wanted: Time,
        /// The earliest time and the water for it, °C.
        earliest: (Time, f64),
        /// The latest time and the water for it, °C.
        latest: (Time, f64),
        /// The range.
        range: Range,
    },
    /// The entry has no range to look in.
    #[error("species entry {0:?} has neither a tolerated nor a calibrated range: add one of them")]
    NoRange(String),
}

/// Temperatures are told apart down to this, K: at hatching a week off and 10 K above the base that is a tenth of a
/// second.
const FINE: f64 = 1e-6;

/// The steady temperature from the last reading on at which the likeliest time of a stage is `wanted`.
///
/// It is looked for within the tolerated range of the entry, or its calibrated one where it has none, and nowhere else.
/// Warmer water never delays up to the upper threshold of an entry, so the range is halved until it is found; above that
/// threshold nothing is looked for.
///
/// # Errors
/// [`NoSteady`] with what was asked for and what to ask instead.
pub fn steady_for(ask: &Ask<'_>, stage: Stage, wanted: Time) -> Result<Steady, NoSteady> {
    let range = Range::of(ask.species).ok_or_else(|| NoSteady::NoRange(ask.species.key.clone()))?;
    let last = read_until(ask).unwrap_or(ask.day0.earliest);
    if wanted <= last {
        return Err(NoSteady::Past { wanted, last });
    }
    let band = range.band();
    let warmest = ask.species.upper.map_or(band.high, |upper| band.high.min(upper - FINE).max(band.low));
    let (low, high) = (put(ask, stage, band.low)?, put(ask, stage, warmest)?);
    if low <= last {
        return Err(NoSteady::Over { stage, at: low });
    }
    if !(high..=low).contains(&wanted) {
        let (earliest, latest) = ((high, warmest), (low, band.low));
        return Err(NoSteady::OutOfReach { stage, wanted, earliest, latest, range });
    }
    // Rounded down: a hair late reads as the minute that was asked for, a hair early as the one before.
    let celsius = ((coolest(ask, stage, wanted, (band.low, warmest))? / FINE).floor() * FINE).max(band.low);
    let near = |by: f64| put(ask, stage, (celsius + by).clamp(band.low, warmest));
    let width = (celsius + 0.05).min(warmest) - (celsius - 0.05).max(band.low);
    let across = near(-0.05)? - near(0.05)?;
    let per_tenth = Span::from_days(across.as_days() * 0.1 / width.max(FINE));
    let projection = project(&held_at(ask, celsius))?;
    Ok(Steady { celsius, range, per_tenth, projection })
}

fn held_at<'a>(ask: &Ask<'a>, celsius: f64) -> Ask<'a> {
    Ask { water_to_come: Some(celsius), ..*ask }
}

/// Where steady water puts a stage that is still to come.
fn put(ask: &Ask<'_>, stage: Stage, celsius: f64) -> Result<Time, NoSteady> {
    let projection = project(&held_at(ask, celsius))?;
    let window = projection.stage(stage).ok_or(NoSteady::Unknown(stage))?;
    match window.seen {
        Some(at) => Err(NoSteady::Seen { stage, at }),
        None => Ok(window.likeliest),
    }
}

/// The coolest water of a range, by halving it; its warm end does.
fn coolest(ask: &Ask<'_>, stage: Stage, wanted: Time, range: (f64, f64)) -> Result<f64, NoSteady> {
    let (mut cool, mut warm) = range;
    while warm - cool > FINE {
        let middle = 0.5 * (cool + warm);
        if put(ask, stage, middle)? <= wanted { warm = middle } else { cool = middle }
    }
    Ok(warm)
}
