//! Offsets of thermometers at work: what was compared with what, kept in the store, and added wherever a reading is used.

use super::setup::Setup;
use super::{Outcome, Room};
use development::{Changed, Doubts};
use ledger::Clutch;
use readings::{Comparison, Offsets};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use store::ReadingRow;
use units::{ClutchId, ProbeKey, Quantity, Span, Time};
use web::keeper::{NewComparison, Trouble};
use web::probes::{ComparisonView, OffsetView};

/// Name of the note under which comparisons are kept.
pub(crate) const NOTE: &str = "comparisons";

/// The newest reading of a probe stands for what it read at a comparison if it lies this near.
const NEAR: Span = Span::minutes(10);

/// One comparison as it was entered. It stays when it is withdrawn, so that old dates can be explained.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Kept {
    pub(crate) comparison: Comparison,
    pub(crate) by: String,
    pub(crate) recorded: Time,
    pub(crate) withdrawn: Option<(String, Time)>,
}

fn refused(field: &str, reason: impl std::fmt::Display) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason: reason.to_string() }
}

/// The probe that tells the water of a vessel.
fn thermometer(setup: &Setup, vessel: &units::VesselId) -> ProbeKey {
    ProbeKey::new(setup.water_of(vessel).clone(), Quantity::Temperature)
}

/// How far the temperatures of a clutch can be off: as far as the worst of the thermometers in whose water it has been.
pub(super) fn doubts(setup: &Setup, offsets: &Offsets, clutch: &Clutch) -> Doubts {
    let of = |(since, place): &(Time, units::VesselId)| {
        let probe = thermometer(setup, place);
        let rated = setup.vessel(&probe.vessel).map_or(Doubts::USUAL.probe, |v| v.probe_accuracy / 2.0);
        offsets.doubt_since(&probe, *since).unwrap_or(rated)
    };
    let worst = clutch.places.iter().map(of).reduce(f64::max);
    Doubts { probe: worst.unwrap_or(Doubts::USUAL.probe), ..Doubts::USUAL }
}

impl Room {
    /// The offsets that hold just now, and have held.
    pub fn offsets(&self) -> &Arc<Offsets> {
        &self.offsets
    }

    /// A kept reading as it is to be used.
    pub(super) fn corrected(&self, row: &ReadingRow) -> f64 {
        self.offsets.corrected(&row.probe, row.time, row.value)
    }

    /// Says anew how far the temperatures of a clutch can be off.
    pub(super) fn doubt(&mut self, id: &ClutchId) {
        if let Some((clutch, tracked)) = self.account.clutch(id).zip(self.tracked.get_mut(id)) {
            tracked.doubts = doubts(&self.setup, &self.offsets, clutch);
        }
    }

    /// Takes in that a probe was compared.
    pub(super) fn compare(
        &mut self,
        new: NewComparison,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let comparison = self.comparison(new, now)?;
        self.take_comparison(&comparison, by, now, out)
    }

    /// Takes in a comparison of which everything is known.
    ///
    /// # Errors
    /// [`Trouble`] naming the field that cannot be.
    pub(crate) fn take_comparison(
        &mut self,
        comparison: &Comparison,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        comparison.check().map_err(|e| refused(e.field, e.reason))?;
        let kept = Kept { comparison: comparison.clone(), by: by.to_owned(), recorded: now, withdrawn: None };
        self.comparisons.push(kept);
        self.use_comparisons(comparison, Some(comparison.offset()), out);
        Ok(())
    }

    fn comparison(&self, new: NewComparison, now: Time) -> Result<Comparison, Trouble> {
        let NewComparison { probe, at, since, read, reference, against, accuracy } = new;
        let last = self.last.get(&probe).ok_or_else(|| {
            refused(
                "probe",
                format!("nothing has been read from {probe} yet; name a probe that has been heard"),
            )
        })?;
        let at = at.unwrap_or(now);
        super::command::not_ahead("at", at, now)?;
        let near = Some(last).filter(|row| (row.time - at).abs() <= NEAR).map(|row| row.value);
        let read = read.or(near).ok_or_else(|| {
            let said = format!(
                "its newest reading is of {}, over {NEAR} away; write what the probe itself read then",
                self.setup.day_text(last.time)
            );
            refused("read", said)
        })?;
        Ok(Comparison { probe, at, since, read, reference, against: against.trim().to_owned(), accuracy })
    }

    /// Withdraws a comparison that was a mistake.
    pub(super) fn withdraw_comparison(
        &mut self,
        number: u64,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let nothing = || Trouble::NotFound(format!("there is no comparison {number} to withdraw"));
        let index = usize::try_from(number).ok().and_then(|n| n.checked_sub(1)).ok_or_else(nothing)?;
        let kept = self.comparisons.get_mut(index).filter(|c| c.withdrawn.is_none()).ok_or_else(nothing)?;
        kept.withdrawn = Some((by.to_owned(), now));
        let comparison = kept.comparison.clone();
        self.use_comparisons(&comparison, None, out);
        Ok(())
    }

    /// Brings everything in line with a comparison that was made, by so many K, or withdrawn: the offsets, what an alarm
    /// quotes, and the past of clutches.
    fn use_comparisons(&mut self, comparison: &Comparison, by: Option<f64>, out: &mut Outcome) {
        let (probe, from) = (&comparison.probe, comparison.holds_from());
        self.gather_offsets();
        let note = serde_json::to_string(&self.comparisons).unwrap_or_default();
        out.batch.notes.push((NOTE.to_owned(), note));
        if probe.mark.is_some() {
            return;
        }
        self.recall(probe);
        for id in self.in_the_water_of(probe, from) {
            self.doubt(&id);
            if let Some(tracked) = self.tracked.get_mut(&id) {
                tracked.changed = Some(Changed::Offset { probe: probe.to_string(), by, from });
            }
            self.wanted.insert(id);
        }
    }

    fn gather_offsets(&mut self) {
        self.offsets = Arc::new(self.offsets_known(Time::from_millis(i64::MAX)));
    }

    /// The offsets as they were written down at a time.
    pub(super) fn offsets_known(&self, t: Time) -> Offsets {
        let withdrawn = |c: &Kept| c.withdrawn.as_ref().is_some_and(|(_, at)| *at <= t);
        let standing = self.comparisons.iter().filter(|c| c.recorded <= t && !withdrawn(c));
        Offsets::of(standing.map(|c| &c.comparison))
    }

    /// Tells the alarms the newest reading as it is now taken; the next one is judged by it.
    pub(super) fn recall(&mut self, probe: &ProbeKey) {
        if let Some(row) = self.last.get(probe).filter(|r| r.fresh).cloned() {
            self.recall_row(&row, Time::from_millis(i64::MAX));
        }
    }

    /// Clutches that have been in the water of a thermometer after a time.
    fn in_the_water_of(&self, probe: &ProbeKey, from: Time) -> Vec<ClutchId> {
        let touched = |id: &&ClutchId| {
            let Some(clutch) = self.account.clutch(id) else { return false };
            let left = clutch.places.iter().skip(1).map(|(t, _)| Some(*t)).chain([clutch.ended()]);
            let mut stays = clutch.places.iter().zip(left);
            stays.any(|((_, place), left)| {
                left.is_none_or(|t| t > from) && thermometer(&self.setup, place) == *probe
            })
        };
        self.tracked.keys().filter(touched).cloned().collect()
    }

    /// Takes in the comparisons of before a restart.
    pub(super) fn restore_comparisons(&mut self, note: &str) -> Result<(), String> {
        self.comparisons = serde_json::from_str(note).map_err(|e| format!("note {NOTE}: {e}"))?;
        self.gather_offsets();
        Ok(())
    }

    /// The offset of a probe just now.
    pub(super) fn offset_view(&self, probe: &ProbeKey, t: Time) -> Option<OffsetView> {
        self.offsets.at(probe, t).map(|o| OffsetView { by: o.by, from: o.from })
    }

    /// Every comparison, the newest first.
    pub(super) fn comparison_views(&self) -> Vec<ComparisonView> {
        let view = |(number, kept): (u64, &Kept)| ComparisonView {
            number,
            comparison: kept.comparison.clone(),
            offset: kept.comparison.offset(),
            by: kept.by.clone(),
            recorded: kept.recorded,
            withdrawn: kept.withdrawn.clone(),
        };
        let mut views: Vec<ComparisonView> = (1..).zip(&self.comparisons).map(view).collect();
        views.sort_by_key(|v| std::cmp::Reverse((v.comparison.at, v.number)));
        views
    }
}
