//! What the clutches of this room teach about each other: kept for every clutch that was seen to reach a stage, and
//! taken into the entry by which the others are projected.

use super::tracked::Tracked;
use super::{Outcome, Room};
use development::{Ask, Changed, Evidence, Learnt, Species, evidence};
use ledger::Clutch;
use std::collections::{BTreeMap, BTreeSet};
use units::{ClutchId, Stage, Time};
use web::view::LearntView;

/// Name of the note under which evidence is kept.
pub(crate) const NOTE: &str = "learnt";

/// So many clutches of an entry, the newest, teach; more would cost time and tell little. A planning value.
const MOST: usize = 40;

/// Evidence by species entry and clutch.
pub(super) type Taught = BTreeMap<String, BTreeMap<ClutchId, Vec<Evidence>>>;

impl Room {
    /// The entry by which a clutch is projected: that of the table, as the other clutches of the room have taught it. No
    /// clutch teaches itself; what was seen of it counts in its own windows.
    pub(super) fn entry_of(&self, clutch: &Clutch) -> Option<Species> {
        let entry = self.species.get(&clutch.species)?;
        if !self.setup.learn {
            return Some(entry.clone());
        }
        let mother = clutch.mother.as_ref().map(units::MotherId::as_str);
        Some(Learnt::of(entry, &self.evidence_for(&clutch.species, Some(&clutch.id))).species(mother))
    }

    /// What clutches of an entry tell, without one of them.
    fn evidence_for(&self, species: &str, but: Option<&ClutchId>) -> Vec<Evidence> {
        let Some(all) = self.taught.get(species) else { return Vec::new() };
        let spawned = |id: &ClutchId| self.account.clutch(id).map_or(Time::from_millis(0), |c| c.day0.latest);
        let mut clutches: Vec<_> = all.iter().filter(|(id, _)| Some(*id) != but).collect();
        clutches.sort_by_key(|(id, _)| std::cmp::Reverse(spawned(id)));
        clutches.into_iter().take(MOST).flat_map(|(_, told)| told.clone()).collect()
    }

    /// Takes in what clutches tell whose past has changed, and projects the others of their entry by it.
    pub(super) fn learn(&mut self, out: &mut Outcome) {
        let mut moved = BTreeSet::new();
        for (id, tracked) in self.tracked.iter_mut().filter(|(id, t)| t.untold && !self.wanted.contains(*id))
        {
            tracked.untold = false;
            let Some(clutch) = self.account.clutch(id).filter(|_| self.setup.learn) else { continue };
            let Some(entry) = self.species.get(&clutch.species) else { continue };
            let told = told(tracked, clutch, entry, &self.setup);
            let of_entry = self.taught.entry(clutch.species.clone()).or_default();
            let before =
                if told.is_empty() { of_entry.remove(id) } else { of_entry.insert(id.clone(), told.clone()) };
            if before.unwrap_or_default() != told {
                moved.insert(clutch.species.clone());
            }
        }
        for species in &moved {
            self.teach(species);
        }
        if !moved.is_empty() {
            self.note_taught(out);
        }
    }

    pub(super) fn note_taught(&self, out: &mut Outcome) {
        let note = serde_json::to_string(&self.taught).unwrap_or_default();
        out.batch.notes.push((NOTE.to_owned(), note));
    }

    fn teach(&mut self, species: &str) {
        for id in self.clutches_of(species) {
            let Some(entry) = self.account.clutch(&id).and_then(|c| self.entry_of(c)) else { continue };
            if let Some(tracked) = self.tracked.get_mut(&id).filter(|t| t.species != entry) {
                tracked.follow(entry);
                tracked.changed.get_or_insert(Changed::Learnt);
            }
        }
    }

    /// Takes in the evidence of before a restart.
    pub(super) fn restore_taught(&mut self, note: &str) -> Result<(), String> {
        self.taught = serde_json::from_str(note).map_err(|e| format!("note {NOTE}: {e}"))?;
        Ok(())
    }

    /// Every clutch is projected by its entry as it was taught; asked when the whole account has been restored.
    pub(super) fn follow_taught(&mut self) {
        for id in self.tracked.keys().cloned().collect::<Vec<_>>() {
            let entry = self.account.clutch(&id).and_then(|c| self.entry_of(c));
            if let Some((tracked, entry)) = self.tracked.get_mut(&id).zip(entry) {
                tracked.follow(entry);
            }
        }
    }

    /// What the room has learnt of an entry, for people; without one clutch.
    pub(super) fn learnt_views(&self, entry: &Species, but: Option<&ClutchId>) -> Vec<LearntView> {
        let learnt = Learnt::of(entry, &self.evidence_for(&entry.key, but));
        let view = |stage: &Stage| {
            let figure = learnt.says(*stage).filter(|_| self.setup.learn)?;
            Some(LearntView {
                stage: *stage,
                clutches: figure.clutches,
                required: figure.required,
                plus_minus: figure.plus_minus,
                words: figure.to_string(),
            })
        };
        Stage::ALL.iter().filter_map(view).collect()
    }
}

/// What one clutch tells beside its entry as it stands in the table.
fn told(tracked: &Tracked, clutch: &Clutch, entry: &Species, setup: &super::Setup) -> Vec<Evidence> {
    let mother = clutch.mother.as_ref().map(units::MotherId::as_str);
    let end = Time::from_millis(i64::MAX);
    tracked.asked(clutch, setup, end, |ask| {
        evidence(&Ask { species: entry, ..*ask }, clutch.id.as_str(), mother)
    })
}
