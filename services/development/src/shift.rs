//! What moved between two projections.

use crate::cause::Cause;
use crate::course::Course;
use crate::culprit;
use crate::project::unread;
use crate::projection::{Projection, StageWindow};
use units::{Sign, Span, Stage, Time};

/// A time that moved by no more than this is not told.
pub const SHIFT_OVER: Span = Span::hours(1);

/// An entry of the account that a projection was renewed for.
#[derive(Debug, Clone, PartialEq)]
pub enum Changed {
    /// The keeper saw how far it has come.
    Seen {
        /// What was seen.
        stage: Sign,
        /// When.
        at: Time,
    },
    /// The clutch was moved.
    Moved {
        /// Name of the vessel it is in now.
        to: String,
    },
    /// Day 0 was corrected.
    Day0,
    /// Another entry was corrected.
    Corrected,
    /// The species entry was changed.
    Entry,
    /// Other clutches of the room have taught its entry.
    Learnt,
    /// A thermometer was compared with a reference.
    Offset {
        /// Its name.
        probe: String,
        /// What is added to it, K; `None`: a comparison was withdrawn.
        by: Option<f64>,
        /// Since when.
        from: Time,
    },
}

/// What is known about why a projection was renewed.
#[derive(Debug, Clone)]
pub struct What<'a> {
    /// Readings came that were older than the newest one.
    pub late: bool,
    /// The entry of the account it was renewed for.
    pub changed: Option<Changed>,
    /// The course as it is now.
    pub course: &'a Course,
}

/// One stage whose time moved by over an hour.
#[derive(Debug, Clone, PartialEq)]
pub struct Shift {
    /// The stage.
    pub stage: Stage,
    /// Likeliest time as it was; `None` when there was none.
    pub before: Option<Time>,
    /// Likeliest time as it is.
    pub after: Time,
    /// Earliest and latest time as they were.
    pub window_before: Option<(Time, Time)>,
    /// Earliest and latest time as they are.
    pub window_after: (Time, Time),
    /// Why.
    pub cause: Cause,
}

/// Stages whose likeliest, earliest or latest time moved by over an hour between two projections of one clutch, with
/// the cause. With no projection before, every stage is told as the first.
///
/// An entry of the account is the cause where there was one; then a changed set-point; then late readings; then the
/// water, told by the hours that were off.
pub fn shifts(before: Option<&Projection>, after: &Projection, what: &What<'_>) -> Vec<Shift> {
    let told = |w: &StageWindow| {
        let old = before.and_then(|b| b.stage(w.stage));
        if old.is_some_and(|o| !moved(o, w)) {
            return None;
        }
        Some(Shift {
            stage: w.stage,
            before: old.map(|o| o.likeliest),
            after: w.likeliest,
            window_before: old.map(|o| (o.earliest, o.latest)),
            window_after: (w.earliest, w.latest),
            cause: before.map_or(Cause::First, |b| cause(b, after, what, later(old, w))),
        })
    };
    after.stages.iter().filter_map(told).collect()
}

fn moves(before: &StageWindow, after: &StageWindow) -> [Span; 3] {
    [after.likeliest - before.likeliest, after.earliest - before.earliest, after.latest - before.latest]
}

fn moved(before: &StageWindow, after: &StageWindow) -> bool {
    moves(before, after).iter().any(|m| m.abs() > SHIFT_OVER)
}

/// Whether the time that moved furthest became later.
fn later(before: Option<&StageWindow>, after: &StageWindow) -> bool {
    let Some(before) = before else { return true };
    moves(before, after).into_iter().max_by_key(|m| m.abs()).is_none_or(|m| m > Span::ZERO)
}

fn cause(before: &Projection, after: &Projection, what: &What<'_>, later: bool) -> Cause {
    if let Some(cause) = of_account(before, after, what) {
        return cause;
    }
    if before.set_point != after.set_point {
        return Cause::SetPoint { before: before.set_point, after: after.set_point };
    }
    if what.late {
        let until = before.read_until.unwrap_or(before.day0.earliest);
        let still = unread(what.course, before.day0.earliest, until);
        return Cause::LateReadings { filled: (before.unread - still).max(Span::ZERO) };
    }
    culprit::find(before, after, what.course, later)
}

fn of_account(before: &Projection, after: &Projection, what: &What<'_>) -> Option<Cause> {
    match &what.changed {
        Some(Changed::Seen { stage, at }) => return Some(Cause::Seen { stage: *stage, at: *at }),
        Some(Changed::Moved { to }) => return Some(Cause::Moved { to: to.clone() }),
        Some(Changed::Day0) => return Some(Cause::Day0),
        Some(Changed::Corrected) => return Some(Cause::Corrected),
        Some(Changed::Entry) => return Some(Cause::Entry),
        Some(Changed::Learnt) => return Some(Cause::Learnt),
        Some(Changed::Offset { probe, by, from }) => {
            return Some(Cause::Offset { probe: probe.clone(), by: *by, from: *from });
        }
        None => {}
    }
    if before.day0 != after.day0 {
        return Some(Cause::Day0);
    }
    let known = |w: &StageWindow| before.stage(w.stage).and_then(|b| b.seen);
    if let Some((w, at)) =
        after.stages.iter().filter_map(|w| Some((w, w.seen?))).find(|(w, _)| known(w).is_none())
    {
        return Some(Cause::Seen { stage: w.stage.into(), at });
    }
    let gone = |b: &StageWindow| after.stage(b.stage).and_then(|w| w.seen) != b.seen;
    before.stages.iter().any(gone).then_some(Cause::Corrected)
}
