//! One clutch as its events make it.

use crate::{Entry, Event, LedgerError};
use units::{ClutchId, Day0, MotherId, Sighting, Time, VesselId};

/// One clutch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Clutch {
    /// Its name.
    pub id: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Key of the species entry it is projected by.
    pub species: String,
    /// Her code.
    pub mother: Option<MotherId>,
    /// Spawning.
    pub day0: Day0,
    /// Where it has been since the earliest day 0: since when, which vessel; in order of time.
    pub places: Vec<(Time, VesselId)>,
    /// When it was taken from the mother.
    pub taken: Option<Time>,
    /// Alive by the account; `None` until counted.
    pub alive: Option<u32>,
    /// What was seen, after corrections; one of each sign, in order of life.
    pub seen: Vec<Sighting>,
    /// When the last fish had gone.
    pub closed: Option<Time>,
    /// Everything entered, in the order of entering.
    pub entries: Vec<Entry>,
}

/// One line of the count: how many came or went, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// When.
    pub at: Time,
    /// Came in.
    pub came: u32,
    /// Went out.
    pub went: u32,
    /// Why, in words.
    pub why: String,
}

impl Clutch {
    /// Where it was at a time; `None` before day 0.
    pub fn place_at(&self, t: Time) -> Option<&VesselId> {
        self.places.iter().rev().find(|(from, _)| *from <= t).map(|(_, vessel)| vessel)
    }

    /// Where it is now.
    pub fn place_now(&self) -> Option<&VesselId> {
        self.places.last().map(|(_, vessel)| vessel)
    }

    /// The count, line by line: what was taken, what was dead then, what was lost since. What came less what went is
    /// [`Clutch::alive`].
    pub fn lines(&self) -> Vec<Line> {
        self.entries.iter().flat_map(|e| lines_of(&e.event)).collect()
    }

    /// Whether an event fits.
    pub(crate) fn check(&self, event: &Event) -> Result<(), LedgerError> {
        if let Some(end) = self.closed {
            return fault("clutch", format!("{} was closed at {end}; open a new clutch", self.id));
        }
        let corrects = matches!(event, Event::Day0Corrected { .. });
        if event.at() < self.day0.earliest && !corrects {
            let (at, day0) = (event.at(), self.day0.earliest);
            return fault("at", format!("{at} is before day 0 ({day0}); write a later time"));
        }
        match event {
            Event::ClutchOpened { .. } => fault("clutch", format!("{} exists; choose another name", self.id)),
            Event::Taken { .. } => match self.taken {
                Some(at) => {
                    fault("what", format!("{} was taken at {at} already; record a move or a loss", self.id))
                }
                None => Ok(()),
            },
            Event::Lost { at, .. } if self.taken.is_some_and(|taken| *at < taken) => fault(
                "at",
                format!("{at} is before the count at the strip, which has it already; write a later time"),
            ),
            Event::Lost { count, .. } => self.check_loss(*count),
            Event::StageSeen { not_before, already, .. } => match event.sighting() {
                Some(sighting) => self.check_seen(&sighting, *not_before, *already),
                None => Ok(()),
            },
            Event::Withdrawn { entry, .. } => self.check_withdrawn(*entry),
            Event::Day0Corrected { day0, .. } => self.check_day0(day0.earliest),
            Event::Moved { .. } | Event::Closed { .. } => Ok(()),
        }
    }

    fn check_loss(&self, count: u32) -> Result<(), LedgerError> {
        match self.alive {
            _ if count == 0 => fault("count", "0 are no loss; write how many".to_owned()),
            None => fault("count", format!("{} has not been counted yet; record the strip first", self.id)),
            Some(alive) if count > alive => fault(
                "count",
                format!(
                    "{count} cannot be lost of {alive} that are alive; write at most {alive}, or count again"
                ),
            ),
            Some(_) => Ok(()),
        }
    }

    /// Takes in an event that fits.
    pub(crate) fn add(&mut self, entry: Entry) {
        match &entry.event {
            Event::Taken { at, vessel, alive, .. } => {
                self.taken = Some(*at);
                self.alive = Some(*alive);
                self.place(*at, vessel.clone());
            }
            Event::Moved { at, vessel, .. } => self.place(*at, vessel.clone()),
            Event::Lost { count, .. } => self.alive = self.alive.map(|alive| alive.saturating_sub(*count)),
            Event::Closed { at, .. } => self.closed = Some(*at),
            Event::Day0Corrected { day0, .. } => {
                self.day0 = *day0;
                // She was in her first place from spawning on, whenever that was.
                if let Some(first) = self.places.first_mut() {
                    first.0 = day0.earliest;
                }
            }
            Event::ClutchOpened { .. } | Event::StageSeen { .. } | Event::Withdrawn { .. } => {}
        }
        self.entries.push(entry);
        self.seen = self.sightings();
    }

    /// Events may be entered late: places stay in order of when they began.
    fn place(&mut self, at: Time, vessel: VesselId) {
        let i = self.places.partition_point(|(from, _)| *from <= at);
        self.places.insert(i, (at, vessel));
    }
}

pub(crate) fn fault(field: &'static str, reason: String) -> Result<(), LedgerError> {
    Err(LedgerError::new(field, reason))
}

fn lines_of(event: &Event) -> Vec<Line> {
    let line = |came, went, why: &str| Line { at: event.at(), came, went, why: why.to_owned() };
    match event {
        Event::Taken { alive, dead, .. } => {
            let mut lines = vec![line(alive.saturating_add(*dead), 0, "taken from the mother")];
            if *dead > 0 {
                lines.push(line(0, *dead, "dead when taken"));
            }
            lines
        }
        Event::Lost { count, reason, .. } => vec![line(0, *count, reason)],
        _ => Vec::new(),
    }
}
