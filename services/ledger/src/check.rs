//! Whether an event fits a clutch.

use crate::book::Side;
use crate::event::{Escape, Find, Grading, HoldBack, Recount, Share, StageCount};
use crate::{Clutch, Event, LedgerError};
use units::{Day0, VesselId};

/// More fish than this in one entry is a slip of the pen.
const MOST: u32 = 10_000_000;

pub(crate) fn fault<T>(field: &'static str, reason: String) -> Result<T, LedgerError> {
    Err(LedgerError::new(field, reason))
}

/// Whether the earliest comes before the latest.
pub(crate) fn day0_in_order(day0: &Day0) -> Result<(), LedgerError> {
    if day0.earliest <= day0.latest {
        return Ok(());
    }
    fault("day0_latest", format!("{} lies before the earliest, {}; swap the two", day0.latest, day0.earliest))
}

fn text(field: &'static str, said: &str, what: &str) -> Result<(), LedgerError> {
    if said.trim().is_empty() { fault(field, format!("this is empty; write {what}")) } else { Ok(()) }
}

/// Says how many, which may not be none.
fn some(count: u32, what: &str) -> Result<(), LedgerError> {
    if count == 0 { fault("count", format!("0 are {what}; write how many")) } else { Ok(()) }
}

impl Clutch {
    /// Whether an event fits what is known of the clutch, but for its count.
    pub(crate) fn check_known(&self, event: &Event) -> Result<(), LedgerError> {
        if let Some(end) = self.closed {
            return fault(
                "clutch",
                format!("{} was closed at {end}; withdraw that entry, or open a new clutch", self.id),
            );
        }
        let corrects = matches!(event, Event::Day0Corrected { .. });
        if event.at() < self.day0.earliest && !corrects {
            let (at, day0) = (event.at(), self.day0.earliest);
            return fault("at", format!("{at} is before day 0 ({day0}); write a later time"));
        }
        if let Some(taken) = self.taken.filter(|taken| event.at() < *taken)
            && takes_out(event)
        {
            let at = event.at();
            return fault(
                "at",
                format!(
                    "{at} is before the count at the strip ({taken}), which has it already; write a later time"
                ),
            );
        }
        match event {
            Event::ClutchOpened { .. } => fault("clutch", format!("{} exists; choose another name", self.id)),
            Event::Taken { .. } | Event::HoldEnded(_) => self.check_with_her(event),
            Event::StageSeen { share: Share::Half, not_before, already, .. } => match event.sighting() {
                Some(sighting) => self.check_seen(&sighting, *not_before, *already),
                None => Ok(()),
            },
            Event::StageSeen { stage, share, at, .. } => self.check_share(*share, *stage, *at),
            Event::Day0Corrected { .. } if self.is_group() => {
                fault("clutch", format!("{} is a group; correct day 0 of its members", self.id))
            }
            Event::Day0Corrected { day0, .. } => {
                day0_in_order(day0)?;
                self.check_day0(day0.earliest)
            }
            Event::Measured(e) if !(e.millimetres > 0.0 && e.millimetres <= 2000.0) => fault(
                "millimetres",
                format!("{} mm is no length of a fish; write its mean length in mm", e.millimetres),
            ),
            _ => Ok(()),
        }
    }

    /// Whether she still holds what is to be taken, or to be lost.
    fn check_with_her(&self, event: &Event) -> Result<(), LedgerError> {
        match (self.taken, event) {
            (Some(at), Event::Taken { .. }) => {
                fault("what", format!("{} was taken at {at} already; record a move or a loss", self.id))
            }
            (Some(at), _) => {
                fault("at", format!("{} was taken from her at {at}; record what became of it since", self.id))
            }
            (None, _) if self.is_group() => {
                fault("clutch", format!("{} is a group; record it of one of its members", self.id))
            }
            (None, _) => Ok(()),
        }
    }

    /// Whether an event fits the count as it was when it happened.
    pub(crate) fn check_count(&self, event: &Event) -> Result<(), LedgerError> {
        if matches!(event, Event::Day0Corrected { .. }) {
            return Ok(());
        }
        if let Some(end) = self.closed {
            return fault("clutch", format!("{} was closed at {end}, before that", self.id));
        }
        if event.at() < self.day0.earliest {
            return fault(
                "at",
                format!("{} is before day 0 ({}) of {}", event.at(), self.day0.earliest, self.id),
            );
        }
        match event {
            Event::Taken { alive, dead, stages, about, .. } => {
                self.check_taken(*alive, *dead, stages, *about)
            }
            Event::Moved { from, vessel, counted, .. } => self.check_move(from.as_ref(), vessel, *counted),
            Event::Closed { .. } | Event::HoldEnded(_) => self.check_closed(),
            Event::Lost { count, from, .. } => {
                some(*count, "no loss")?;
                self.draw(*count, from.as_ref(), "lost").map(drop)
            }
            Event::LookedAt(e) if e.dead > 0 => self.draw(e.dead, e.from.as_ref(), "picked out").map(drop),
            Event::Split(e) => {
                some(e.count, "no part")?;
                let from = self.draw(e.count, e.from.as_ref(), "moved")?;
                elsewhere(&from, &e.vessel)
            }
            Event::Escaped(e) => self.check_escape(e),
            Event::Found(e) => self.check_found(e),
            Event::Culled(e) => {
                some(e.count, "none culled")?;
                text("reason", &e.reason, "why, e.g. runt or bent spine")?;
                self.draw(e.count, e.from.as_ref(), "culled").map(drop)
            }
            Event::HandedOn(e) => {
                some(e.count, "none handed on")?;
                text("to", &e.to, "to whom, as a code")?;
                self.draw(e.count, e.from.as_ref(), "handed on").map(drop)
            }
            Event::HeldBack(e) => self.check_held_back(e),
            Event::Recounted(e) => self.check_recount(e),
            Event::Graded(e) => self.check_graded(e),
            Event::Measured(e) => some(e.count, "none measured"),
            _ => Ok(()),
        }
    }

    fn check_taken(
        &self,
        alive: u32,
        dead: u32,
        stages: &[StageCount],
        about: Option<u8>,
    ) -> Result<(), LedgerError> {
        if self.alive.is_some() {
            return fault("what", format!("{} has been counted already; record a move or a loss", self.id));
        }
        let by_stage: u64 = stages.iter().map(|s| u64::from(s.count)).sum();
        if !stages.is_empty() && by_stage != u64::from(alive) {
            return fault(
                "stages",
                format!("{by_stage} by stage are not the {alive} alive; correct one of the two"),
            );
        }
        if about.is_some_and(|p| p == 0 || p > 100) {
            return fault(
                "about",
                "write from 1 to 100 percent, or nothing if they were counted one by one".to_owned(),
            );
        }
        within("alive", alive)?;
        within("dead", dead)
    }

    fn check_move(
        &self,
        from: Option<&VesselId>,
        vessel: &VesselId,
        counted: Option<u32>,
    ) -> Result<(), LedgerError> {
        within("counted", counted.unwrap_or(0))?;
        let Some(from) = from else { return Ok(()) };
        elsewhere(from, vessel)?;
        if self.lives_in(from) { Ok(()) } else { fault("from", self.not_there(from)) }
    }

    fn not_there(&self, vessel: &VesselId) -> String {
        let there: Vec<&str> = self.where_alive().iter().map(|(v, _)| v.as_str()).collect();
        let there = if there.is_empty() { "nowhere".to_owned() } else { there.join(" and ") };
        format!(
            "by the account {} is in {there} and not in {vessel}; choose that, or record a move first",
            self.id
        )
    }

    /// Where `count` are drawn from: the vessel named, or the only one they are in.
    pub(crate) fn draw(
        &self,
        count: u32,
        from: Option<&VesselId>,
        what: &str,
    ) -> Result<VesselId, LedgerError> {
        if self.alive.is_none() {
            return fault("count", format!("{} has not been counted yet; record the strip first", self.id));
        }
        let counts = self.counts();
        let chosen = match (from, counts.len()) {
            (Some(v), _) if counts.contains_key(v) => v,
            (Some(v), _) => return fault("from", self.not_there(v)),
            (None, 0) => {
                return fault(
                    "count",
                    format!("none of {} are alive by the account; count again first", self.id),
                );
            }
            (None, 1) => *counts.keys().next().unwrap_or(&&self.places[0].1),
            (None, _) => {
                let names: Vec<&str> = counts.keys().map(|v| v.as_str()).collect();
                return fault("from", format!("{} is in {}; say from which", self.id, names.join(" and ")));
            }
        };
        let there = counts.get(chosen).copied().unwrap_or(0);
        if count > there {
            let in_it = if counts.len() > 1 { format!(" in {chosen}") } else { String::new() };
            return fault(
                "count",
                format!(
                    "{count} cannot be {what} of {there} that are alive{in_it}; write at most {there}, or count again"
                ),
            );
        }
        Ok(chosen.clone())
    }

    fn check_escape(&self, e: &Escape) -> Result<(), LedgerError> {
        some(e.count, "no escape")?;
        if e.caught > e.count {
            return fault(
                "caught",
                format!("{} caught of {} that got out cannot be; correct one of the two", e.caught, e.count),
            );
        }
        self.draw(e.count, e.from.as_ref(), "out").map(drop)
    }

    fn check_found(&self, e: &Find) -> Result<(), LedgerError> {
        some(e.count, "none found")?;
        let missing = self.book.on(&Side::Escaped) + self.book.on(&Side::Unexplained).max(0);
        if i64::from(e.count) > missing {
            return fault(
                "count",
                format!(
                    "{} cannot be found: only {missing} of {} are missing; write at most {missing}, or count again",
                    e.count, self.id
                ),
            );
        }
        Ok(())
    }

    fn check_held_back(&self, e: &HoldBack) -> Result<(), LedgerError> {
        some(e.count, "none held back")?;
        let from = self.draw(e.count, e.from.as_ref(), "held back")?;
        let free = self.book.on(&Side::Vessel(from.clone()));
        if i64::from(e.count) > free {
            return fault(
                "count",
                format!("only {free} in {from} are not held back yet; write at most {free}"),
            );
        }
        Ok(())
    }

    fn check_recount(&self, e: &Recount) -> Result<(), LedgerError> {
        within("count", e.count)?;
        if self.lives_in(&e.vessel) || self.place_now() == Some(&e.vessel) {
            return Ok(());
        }
        fault("vessel", format!("{}; what turned up there is recorded as found", self.not_there(&e.vessel)))
    }

    fn check_graded(&self, e: &Grading) -> Result<(), LedgerError> {
        match &e.vessel {
            Some(into) => {
                some(e.runts, "no runts to move")?;
                let from = self.draw(e.runts, e.from.as_ref(), "moved")?;
                elsewhere(&from, into)
            }
            None if e.runts > 0 => self.draw(e.runts, e.from.as_ref(), "runts").map(drop),
            None => Ok(()),
        }
    }

    fn check_closed(&self) -> Result<(), LedgerError> {
        match self.alive.filter(|n| *n > 0) {
            Some(n) => fault(
                "clutch",
                format!(
                    "{n} of {} are alive by the account; record what became of them, or count again",
                    self.id
                ),
            ),
            None => Ok(()),
        }
    }
}

/// Whether an event takes fish out of the count.
fn takes_out(event: &Event) -> bool {
    match event {
        Event::Lost { .. } | Event::Split(_) | Event::Escaped(_) | Event::Culled(_) => true,
        Event::HandedOn(_) | Event::HeldBack(_) | Event::Recounted(_) => true,
        Event::LookedAt(e) => e.dead > 0,
        Event::Graded(e) => e.runts > 0,
        _ => false,
    }
}

fn within(field: &'static str, count: u32) -> Result<(), LedgerError> {
    if count <= MOST {
        return Ok(());
    }
    fault(field, format!("{count} are too many for one clutch; write at most {MOST}"))
}

fn elsewhere(from: &VesselId, to: &VesselId) -> Result<(), LedgerError> {
    if from == to {
        fault("vessel", format!("they are in {to} already; choose another vessel"))
    } else {
        Ok(())
    }
}
