//! One clutch in hand: the water it had, and what follows from it.

use super::night::dawns;
use super::setup::Setup;
use development::{Ask, Changed, Course, Doubts, Projection, Species, project};
use ledger::Clutch;
use std::collections::BTreeMap;
use store::ShiftRow;
use units::{Sighting, Span, Stage, Time};

/// Pieces of the ribbon.
const PIECE: Span = Span::hours(6);

/// The course of one clutch and the projection that follows from it.
#[derive(Debug)]
pub(crate) struct Tracked {
    pub(crate) species: Species,
    pub(crate) course: Course,
    pub(crate) projection: Option<Projection>,
    /// The projection against which the next shift is measured.
    pub(crate) kept: Option<Projection>,
    /// Kept shifts, newest first.
    pub(crate) shifts: Vec<ShiftRow>,
    /// Where each past dawn had put each stage; emptied when the past changes.
    footprints: BTreeMap<Time, Vec<(Stage, Time)>>,
    /// How far temperatures can be off.
    pub(crate) doubts: Doubts,
    pub(crate) dirty: bool,
    pub(crate) late: bool,
    /// Whether what it tells of its entry is to be worked out anew.
    pub(crate) untold: bool,
    /// What a person recorded since the last projection: it is then the cause of a shift.
    pub(crate) changed: Option<Changed>,
}

impl Tracked {
    pub(crate) fn new(species: Species, clutch: &Clutch) -> Self {
        let course = Course::new(&species, clutch.day0.earliest);
        Self {
            species,
            course,
            projection: None,
            kept: None,
            shifts: Vec::new(),
            footprints: BTreeMap::new(),
            doubts: Doubts::USUAL,
            dirty: true,
            late: false,
            untold: true,
            changed: None,
        }
    }

    /// Adds one temperature; a late one changes the past.
    pub(crate) fn insert(&mut self, t: Time, celsius: f64) {
        match self.course.insert(t, celsius) {
            development::Inserted::Appended => self.dirty = true,
            development::Inserted::Late => {
                self.dirty = true;
                self.late = true;
                self.untold = true;
                self.footprints.retain(|dawn, _| *dawn < t);
            }
            development::Inserted::Repeat => {}
        }
    }
}

impl Tracked {
    /// Builds the course anew from the readings of every place the clutch has been in.
    pub(crate) fn refill(&mut self, clutch: &Clutch, points: Vec<(Time, f64)>) {
        self.course = Course::new(&self.species, clutch.day0.earliest);
        for (t, celsius) in points {
            self.course.insert(t, celsius);
        }
        self.footprints.clear();
        self.dirty = true;
        self.untold = true;
    }

    /// Is projected by another state of its entry, whose pace is the same: the course stays.
    pub(crate) fn follow(&mut self, species: Species) {
        self.species = species;
        self.footprints.clear();
        self.dirty = true;
    }

    /// The projection that follows from the account and the water so far; `None` before the first reading.
    pub(crate) fn project(&self, clutch: &Clutch, setup: &Setup) -> Option<Projection> {
        self.project_until(clutch, setup, Time::from_millis(i64::MAX))
    }

    /// The projection as it stood at `until`.
    fn project_until(&self, clutch: &Clutch, setup: &Setup, until: Time) -> Option<Projection> {
        self.asked(clutch, setup, until, |ask| project(ask).ok())
    }

    /// Puts to the engine what is known of the clutch at `until`.
    pub(crate) fn asked<R>(
        &self,
        clutch: &Clutch,
        setup: &Setup,
        until: Time,
        put: impl FnOnce(&Ask<'_>) -> R,
    ) -> R {
        let seen: Vec<Sighting> = clutch.seen.iter().filter(|s| s.seen.by() <= until).copied().collect();
        let set_point =
            clutch.place_now().and_then(|v| setup.vessel(setup.water_of(v))).and_then(|v| v.set_point);
        let ask = Ask {
            species: &self.species,
            course: &self.course,
            until: Some(until),
            day0: clutch.day0,
            seen: &seen,
            water_to_come: set_point,
            doubts: self.doubts,
        };
        put(&ask)
    }

    /// Where each dawn since day 0 had put a stage, oldest first; dawns already worked out are kept.
    pub(crate) fn footprints(
        &mut self,
        clutch: &Clutch,
        setup: &Setup,
        stage: Stage,
        now: Time,
    ) -> Vec<(Time, Time)> {
        let end = self.course.last().map_or(clutch.day0.earliest, |(t, _)| t).min(now);
        let known = dawns(clutch.day0.latest, end, setup.zone);
        for dawn in &known {
            if !self.footprints.contains_key(dawn) {
                let then = self.project_until(clutch, setup, *dawn);
                let stages = then
                    .map(|p| p.stages.iter().map(|w| (w.stage, w.likeliest)).collect())
                    .unwrap_or_default();
                self.footprints.insert(*dawn, stages);
            }
        }
        known
            .into_iter()
            .filter_map(|dawn| {
                let stages = self.footprints.get(&dawn)?;
                stages.iter().find(|(s, _)| *s == stage).map(|(_, t)| (dawn, *t))
            })
            .collect()
    }

    /// Six-hour pieces of the past.
    pub(crate) fn pieces(&self, clutch: &Clutch, now: Time) -> Vec<web::view::Piece> {
        let to = self.course.last().map_or(clutch.day0.earliest, |(t, _)| t).min(now);
        self.course
            .pieces(PIECE, clutch.day0.middle(), to)
            .into_iter()
            .map(|p| web::view::Piece { from: p.from, to: p.to, celsius: p.celsius, speed: p.speed })
            .collect()
    }
}
