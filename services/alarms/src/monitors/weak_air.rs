//! Air that grows weak: flow well under its own recent course, before it stops.

use super::course::{Course, values};
use super::{High, grid};
use crate::Settings;
use crate::statistics::{Mad, mad, median};
use serde::Serialize;
use units::{Span, Time};

/// What counts as now: ten minutes, and of a slow probe so many readings. Planning values.
const NOW: Span = Span::minutes(10);
const LEAST_NOW: usize = 5;
/// The shortest usual course, and the fewest readings in it. Planning values.
const USUAL: Span = Span::hours(1);
const LEAST_USUAL: usize = 24;
/// Minutes of a new level: the fewest and the most that it is known by. Planning values.
const LEAST_LEVEL: usize = 15;
const MOST_LEVEL: usize = 60;
/// From how much of the course the step of the probe is learnt. A planning value.
const STEP: Span = Span::hours(4);
/// How far under its usual flow air is weak: both in robust spreads and in percent. Planning values: five spreads are
/// not seen by chance in a year of minutes, and a fifth less still turns eggs.
const SPREADS: f64 = 5.0;
const PERCENT: f64 = 20.0;
/// How many times the spread of a minute a day may wander; what is wider is no spread but a stone that clogs all day. A
/// planning value.
const WANDERS: f64 = 3.0;
/// Minutes on either side of a step; together they take six, so that what falls over half an hour is none. A planning
/// value.
const BESIDE: usize = 5;
/// The longest time that such minutes may take: after a longer silence nobody knows how it fell. A planning value.
const ACROSS: Span = Span::minutes(20);
/// The part of the usual flow that must fall at once to be a hand on the valve, and so many steps of the probe at
/// least. Planning values: a stone that clogs within an hour loses a tenth in the six minutes of a step.
const AT_ONCE: f64 = 0.15;
const AT_ONCE_STEPS: f64 = 2.0;
/// Nobody turns a tumbler that holds eggs down to less than this part. A planning value.
const TURNED_DOWN_TO: f64 = 0.5;

/// Minutes that are taken together for a rise, and from how many percent over its usual flow one counts. Planning values: a
/// hose that comes off behind the probe gives it half as much again and more (computed: 8 kPa in the line, 3 kPa of them
/// for water and stone); a neighbour that is shut gives it a fifth more on a line of four. Spreads guard only against air that
/// pulsates as much by itself: a coarse probe has few steps in a third of a flow.
const RISEN: usize = 3;
const RISEN_PERCENT: f64 = 35.0;
const RISEN_SPREADS: f64 = 2.5;

/// Flow that fell at once and then stayed: a valve that was turned down, or a neighbour's that was opened.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Step {
    /// When.
    pub at: Time,
    /// L/min before.
    pub from: f64,
    /// L/min after.
    pub to: f64,
}

/// How the flow of a tumbler stands against its usual course.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Weak {
    /// Median of the last ten minutes, L/min.
    pub flow: f64,
    /// Median of the last day, or of the first hour after a step, L/min.
    pub usual: f64,
    /// Median of the last day, whatever was stepped in it, L/min.
    pub day: f64,
    /// Robust standard deviation of that, at least a step of the probe, L/min.
    pub spread: f64,
    /// How far below its usual it is, in spreads; negative above.
    pub spreads: f64,
    /// The same in percent of the usual flow.
    pub percent: f64,
    /// The last step down that was taken for a hand on the valve.
    pub stepped: Option<Step>,
    /// Such a step is so fresh that its level is not known yet: nothing is said meanwhile.
    pub undecided: bool,
}

impl Weak {
    /// What is judged: 1 when the flow is five spreads and a fifth of the usual below it.
    pub fn number(&self) -> f64 {
        if self.undecided { 0.0 } else { (self.spreads / SPREADS).min(self.percent / PERCENT) }
    }
}

/// How far the newest flow lies over its usual.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rise {
    /// Median of the last three minutes, L/min.
    pub flow: f64,
    /// The newest, L/min, and its time.
    pub newest: (Time, f64),
    /// As [`Weak::usual`], or what was usual before a step, if that was more.
    pub usual: f64,
    /// Since when the flow has been half as far from its usual as counts, on the side where the newest is.
    pub since: Time,
    /// How far the flow is above that, in spreads; negative below.
    pub spreads: f64,
    /// The same in percent of the usual flow.
    pub percent: f64,
}

impl Rise {
    /// What is judged: 1 when the flow is 35 percent of the usual above it, and 2.5 spreads.
    pub fn number(&self) -> f64 {
        (self.spreads / RISEN_SPREADS).min(self.percent / RISEN_PERCENT)
    }

    /// Whether the other outlets of the line explain it: one has lost half of its air at that time, or most have risen half as
    /// much with it. What an outlet has long lost, or said last long ago, explains nothing.
    pub fn is_explained_by(&self, others: &[Rise]) -> bool {
        let heard = |o: &&Rise| (self.newest.0 - o.newest.0).abs() <= ACROSS;
        let heard: Vec<&Rise> = others.iter().filter(heard).collect();
        let together = |o: &&&Rise| (self.since - o.since).abs() <= ACROSS;
        let lost = heard.iter().filter(together).any(|o| o.newest.1 <= 0.5 * o.usual);
        let risen = heard.iter().filter(together).filter(|o| o.percent >= self.percent / 2.0).count();
        lost || 2 * risen > heard.len()
    }
}

/// Watches the flow of one tumbler or jar.
///
/// The usual flow is the median of the last day's minutes, the spread their MAD, with a floor of one step of the probe,
/// learnt from the values ([`super::step_of`]), and at most three times what a minute differs from the next. A new level
/// is accepted in two ways: one that was reached at once, is more than half of the usual flow and stays, after 15
/// minutes; one that was crept to when it has filled half of the day. A stone that clogs within 60 h is told (after 14 h,
/// in the tests); what takes much longer passes under it, and is for [`super::Line`] to see, which looks further back.
///
/// 23 kB a probe.
///
/// ```
/// use alarms::monitors::WeakAir;
/// use units::{Span, Time};
/// let mut tu2 = WeakAir::new();
/// for minute in 0..300 {
///     let clog = 0.002 * f64::from(minute - 240).max(0.0); // an hour of clogging
///     tu2.note(Time::from_millis(0) + Span::minutes(minute.into()), 0.8 - clog + 0.01 * f64::from(minute % 3));
/// }
/// let weak = tu2.judge().unwrap();
/// assert_eq!(weak.usual, 0.81);
/// assert!((weak.flow - 0.70).abs() < 0.011 && (weak.percent - 13.0).abs() < 1.0 && weak.number() < 1.0);
/// ```
#[derive(Debug, Clone)]
pub struct WeakAir(Course);

impl Default for WeakAir {
    fn default() -> Self {
        Self::new()
    }
}

impl WeakAir {
    /// How far back it looks: what a restart must read again.
    pub const LOOKS_BACK: Span = Span::hours(24);

    /// Knows nothing yet.
    pub fn new() -> Self {
        Self(Course::new(Span::minutes(1), Self::LOOKS_BACK))
    }

    /// Takes in a flow in L/min; true if it is the newest and the first of its minute: the moment to [`Self::judge`].
    pub fn note(&mut self, t: Time, flow: f64) -> bool {
        self.0.note(t, flow)
    }

    /// Raised when [`Weak::number`] has been 1 for 5 min; over when it has been under 0.75, that is 15 percent or less
    /// than four spreads, for 10 min. Planning values: what is weak for five minutes is not an air bubble, and there is
    /// time before it stops.
    pub fn settings() -> Settings {
        High { limit: 1.0, deadband: 0.25, on: Span::minutes(5), off: Span::minutes(10) }.settings()
    }

    /// Raised when [`Rise::number`] has been 1 for a minute, over when it has been under 0.5 for 10 min. Planning values: the
    /// eggs may lie still, and somebody who opens a valve stands beside it.
    pub fn settings_of_rise() -> Settings {
        High { limit: 1.0, deadband: 0.5, on: Span::seconds(60), off: Span::minutes(10) }.settings()
    }

    /// How far the newest flow lies over the usual that was found; `None` without three minutes in a row. Of a probe so coarse
    /// that its steps are a third of the flow it says nothing. Mind [`Rise::is_explained_by`].
    pub fn rise(&self, found: &Weak) -> Option<Rise> {
        let points = self.0.points();
        let last = points.get(points.len().checked_sub(RISEN)?..)?;
        if last.last()?.0 - last.first()?.0 > ACROSS {
            return None;
        }
        let newest = *last.last()?;
        let flow = median(values(last))?;
        // Back from a step down to what was usual before is no rise.
        let usual = found.usual.max(found.day);
        let over = flow - usual;
        let far = RISEN_PERCENT / 200.0 * usual;
        let on_that_side = |v: f64| if newest.1 > usual { v >= usual + far } else { v <= usual - far };
        let run = points.iter().rev().take_while(|(_, v)| on_that_side(*v));
        Some(Rise {
            flow,
            newest,
            usual,
            since: run.last().map_or(newest.0, |(t, _)| *t),
            spreads: if found.spread > 0.0 { over / found.spread } else { 0.0 },
            percent: 100.0 * over / usual,
        })
    }

    /// How the flow stands; `None` until five readings of now and an hour of its usual course are known, and where no
    /// usual flow is.
    pub fn judge(&self) -> Option<Weak> {
        let all = self.0.points();
        let now = self.0.last(NOW).len().max(LEAST_NOW);
        let (past, now) = all.split_at_checked(all.len().checked_sub(now)?)?;
        let course = past.last()?.0 - past.first()?.0;
        if past.len() < LEAST_USUAL || course < USUAL {
            return None;
        }
        let flow = median(values(now))?;
        let step = grid::step_of(values(&self.0.last(STEP))).unwrap_or(0.0);
        let first = against(flow, past, step)?;
        Some(explained(first, &all, past.len(), step))
    }
}

/// `flow` against some of its past.
fn against(flow: f64, past: &[(Time, f64)], step: f64) -> Option<Weak> {
    let usual: Mad = mad(&values(past))?;
    let spread = usual.scaled().min(WANDERS * jitter(past)?).max(step);
    let below = usual.median - flow;
    // Air that never moves has no usual flow, and one that has never moved by a step nothing to be measured with.
    (usual.median > 0.0).then_some(Weak {
        flow,
        usual: usual.median,
        day: usual.median,
        spread,
        spreads: if spread > 0.0 { below / spread } else { 0.0 },
        percent: 100.0 * below / usual.median,
        stepped: None,
        undecided: false,
    })
}

/// Robust standard deviation of a minute, from how much each differs from the next.
fn jitter(past: &[(Time, f64)]) -> Option<f64> {
    let differences: Vec<f64> = past.windows(2).filter_map(|w| Some(w.last()?.1 - w.first()?.1)).collect();
    Some(mad(&differences)?.scaled() / std::f64::consts::SQRT_2)
}

/// Takes away what a hand on the valve explains. Of `all` points the first `past` are older than now.
fn explained(first: Weak, all: &[(Time, f64)], past: usize, step: f64) -> Weak {
    let (mut weak, mut from) = (first, 0);
    while weak.number() >= 1.0 {
        let least = (AT_ONCE * weak.usual).max(AT_ONCE_STEPS * step);
        let Some((at, stepped)) = all.get(from..).and_then(|rest| fall(rest, least)) else { break };
        if stepped.to <= TURNED_DOWN_TO * first.usual {
            break;
        }
        from += at;
        // The first hour of it, so that what creeps on is not taken for its width.
        let level = all.get(from..past.min(from + MOST_LEVEL)).filter(|level| level.len() >= LEAST_LEVEL);
        weak = match level.and_then(|level| against(weak.flow, level, step)) {
            Some(since) => Weak { stepped: Some(stepped), day: first.day, ..since },
            None => Weak { stepped: Some(stepped), undecided: true, ..weak },
        };
    }
    weak
}

/// The deepest fall of at least `least` that happened at once and stayed; and the first point after it. What comes back
/// within minutes, a bubble that sticks, is none.
fn fall(points: &[(Time, f64)], least: f64) -> Option<(usize, Step)> {
    let steps = (BESIDE..points.len().saturating_sub(BESIDE)).filter_map(|i| step_at(points, i));
    let deepest = steps.max_by(|(_, a), (_, b)| (a.from - a.to).total_cmp(&(b.from - b.to)))?;
    (deepest.1.from - deepest.1.to >= least).then_some(deepest)
}

/// What fell at a point: the least that both the minutes right beside it and the quarters of an hour beside it show.
fn step_at(points: &[(Time, f64)], i: usize) -> Option<(usize, Step)> {
    let (before, after) = (points.get(..i)?, points.get(i + 1..)?);
    let middle = |part: &[(Time, f64)]| median(part.iter().map(|p| p.1));
    let last = |n: usize| before.get(before.len().saturating_sub(n)..);
    let next = |n: usize| after.get(..n.min(after.len()));
    let (near, far) = (last(BESIDE)?, next(BESIDE)?);
    let together = far.last()?.0 - near.first()?.0 <= ACROSS;
    let close = Step { at: points.get(i)?.0, from: middle(near)?, to: middle(far)? };
    // Most points show no fall at all: the longer medians are for those that do.
    if !together || close.from <= close.to {
        return None;
    }
    let (from, to) = (middle(last(LEAST_LEVEL)?)?, middle(next(LEAST_LEVEL)?)?);
    Some((i + 1, Step { from: close.from.min(from), to: close.to.max(to), ..close }))
}
