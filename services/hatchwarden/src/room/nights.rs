//! A night that is looked back on: which one, and what is known of the room without its readings.

use super::moved::Known;
use super::{Night, Room, Setup};
use chrono::NaiveDate;
use development::Species;
use ledger::Clutch;
use readings::Offsets;
use std::sync::Arc;
use units::{ClutchId, Time, VesselId};
use web::keeper::Trouble;

/// So many nights before are looked at for what is usual. A planning value: two weeks, in which a room changes little.
pub(crate) const COMPARED: u64 = 14;

/// A night, and what must be known of the room to review it. Readings are in the store.
#[derive(Debug)]
pub(crate) struct Asked {
    pub(crate) setup: Arc<Setup>,
    pub(crate) night: Night,
    /// The nights before, the latest first, and where a clutch was in each.
    pub(crate) before: Vec<(Night, Vec<Stay>)>,
    pub(crate) offsets: Arc<Offsets>,
    pub(crate) clutches: Vec<AskedClutch>,
}

/// A clutch that was in hand in the night.
#[derive(Debug)]
pub(crate) struct AskedClutch {
    pub(crate) id: ClutchId,
    pub(crate) fish: String,
    /// The entry by which it was projected at dawn; `None` where there is none.
    pub(crate) species: Option<Species>,
    /// Where it was in the night: which vessel, from when to when, oldest first.
    pub(crate) stays: Vec<Stay>,
    /// What was known of it at dusk and at dawn, or why nothing can be said of its dates.
    pub(crate) known: Result<Box<(Known, Known)>, String>,
}

/// A part of a night in one vessel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Stay {
    pub(crate) vessel: VesselId,
    pub(crate) from: Time,
    pub(crate) to: Time,
}

impl Room {
    /// The night that began on the evening of that date, or the last one that has ended, ready to be reviewed.
    ///
    /// # Errors
    /// [`Trouble::Refused`] when it has not ended yet.
    pub(crate) fn night_asked(&self, date: Option<NaiveDate>, now: Time) -> Result<Asked, Trouble> {
        let zone = self.setup.zone;
        let last = Night::last_ended(now, zone);
        let night = date.map_or(last, |date| Night::on(date, zone));
        if night.dawn > now {
            return Err(not_over(&night, &last));
        }
        let mut clutches: Vec<AskedClutch> =
            self.account.clutches().filter_map(|clutch| self.asked_clutch(clutch, &night)).collect();
        clutches.sort_by(|a, b| a.id.cmp(&b.id));
        let (setup, offsets) = (self.setup.clone(), self.offsets.clone());
        let before = night.before(COMPARED, zone);
        let before = before.into_iter().map(|night| (night, self.occupied(&night))).collect();
        Ok(Asked { setup, night, before, offsets, clutches })
    }

    /// Where any clutch was in a night.
    fn occupied(&self, night: &Night) -> Vec<Stay> {
        self.account.clutches().flat_map(|clutch| stays(clutch, night)).collect()
    }

    fn asked_clutch(&self, clutch: &Clutch, night: &Night) -> Option<AskedClutch> {
        let stays = stays(clutch, night);
        if stays.is_empty() {
            return None;
        }
        let known = self.known(&clutch.id, night.dusk, night.dawn).map(Box::new).map_err(|e| match e {
            Trouble::Refused { reason, .. } => reason,
            e => e.to_string(),
        });
        let tracked = self.tracked.get(&clutch.id).map(|t| t.species.clone());
        let species = self.entry_then(clutch, night.dawn).or(tracked);
        Some(AskedClutch { id: clutch.id.clone(), fish: clutch.fish.clone(), species, stays, known })
    }
}

fn not_over(night: &Night, last: &Night) -> Trouble {
    let reason = format!(
        "the night of {} ends at {}; ask for one that is over, {} at the latest",
        night.date, night.dawn, last.date
    );
    Trouble::Refused { field: "date".to_owned(), reason }
}

/// Where a clutch was in a night; nothing before day 0 and after there was nothing of it any more.
fn stays(clutch: &Clutch, night: &Night) -> Vec<Stay> {
    let end = clutch.ended().unwrap_or(night.dawn).min(night.dawn);
    let ends = clutch.places.iter().skip(1).map(|(t, _)| *t).chain([end]);
    let part = |((since, vessel), until): (&(Time, VesselId), Time)| Stay {
        vessel: vessel.clone(),
        from: (*since).max(night.dusk),
        to: until.min(end),
    };
    let mut all: Vec<Stay> = clutch.places.iter().zip(ends).map(part).collect();
    // A part of it may live beside the rest since a time.
    for (vessel, _) in clutch.where_alive() {
        let since = clutch.there_since(vessel).filter(|_| all.iter().all(|stay| stay.vessel != *vessel));
        all.extend(since.map(|from| Stay { vessel: vessel.clone(), from: from.max(night.dusk), to: end }));
    }
    all.retain(|stay| stay.from < stay.to);
    all
}

impl AskedClutch {
    /// What is known of its dates, taken out.
    pub(crate) fn apart(mut self) -> (Self, Result<Box<(Known, Known)>, String>) {
        let known = std::mem::replace(&mut self.known, Err(String::new()));
        (self, known)
    }
}
