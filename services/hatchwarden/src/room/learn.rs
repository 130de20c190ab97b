//! What the clutches of this room teach about each other: kept for every clutch that was seen to reach a stage, and
//! taken into the entry by which the others are projected.

use super::moved::LONGEST;
use super::tracked::Tracked;
use super::{Outcome, Room};
use development::{Ask, Changed, Evidence, Learnt, Species, evidence};
use ledger::Clutch;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use units::{ClutchId, Span, Stage, Time};
use web::view::LearntView;

/// Name of the note under which evidence is kept.
pub(crate) const NOTE: &str = "learnt";

/// So many clutches of an entry, the newest, teach; more would cost time and tell little. A planning value.
const MOST: usize = 40;

/// All that is known.
const NOW: Time = Time::from_millis(i64::MAX);

/// What a clutch told of its entry, from a time on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Told {
    at: Time,
    evidence: Vec<Evidence>,
}

/// What clutches told by species entry and clutch, oldest first.
pub(super) type Taught = BTreeMap<String, BTreeMap<ClutchId, Vec<Told>>>;

/// What was told by a time.
fn by(all: &[Told], t: Time) -> &[Evidence] {
    all.iter().rfind(|told| told.at <= t).map_or(&[], |told| &told.evidence)
}

/// Takes in what a clutch tells now. What it told before stays for as long as one may ask what moved the dates of others;
/// of what is told within an hour the last stands for all of it, so that a backlog of readings does not fill the note.
/// True if it was another thing before.
fn tell(all: &mut Vec<Told>, evidence: Vec<Evidence>, now: Time) -> bool {
    if by(all, NOW) == evidence {
        return false;
    }
    match all.last_mut().filter(|last| now - last.at < Span::hours(1)) {
        Some(last) => last.evidence = evidence,
        None => all.push(Told { at: now, evidence }),
    }
    let old = all.iter().rposition(|told| told.at <= now - LONGEST).unwrap_or(0);
    all.drain(..old);
    true
}

impl Room {
    /// The entry by which a clutch is projected: that of the table, as the other clutches of the room have taught it. No
    /// clutch teaches itself; what was seen of it counts in its own windows.
    pub(super) fn entry_of(&self, clutch: &Clutch) -> Option<Species> {
        Some(self.taught_by(self.species.get(&clutch.species)?, clutch, NOW))
    }

    /// The entry by which a clutch was projected at a time.
    pub(super) fn entry_then(&self, clutch: &Clutch, t: Time) -> Option<Species> {
        Some(self.taught_by(&self.entry_known(&clutch.species, t)?, clutch, t))
    }

    fn taught_by(&self, entry: &Species, clutch: &Clutch, t: Time) -> Species {
        if !self.setup.learn {
            return entry.clone();
        }
        let mother = clutch.mother.as_ref().map(units::MotherId::as_str);
        Learnt::of(entry, &self.evidence_for(&clutch.species, Some(&clutch.id), t)).species(mother)
    }

    /// What clutches of an entry had told by a time, without one of them.
    fn evidence_for(&self, species: &str, but: Option<&ClutchId>, t: Time) -> Vec<Evidence> {
        let Some(all) = self.taught.get(species) else { return Vec::new() };
        let spawned = |id: &ClutchId| self.account.clutch(id).map_or(Time::from_millis(0), |c| c.day0.latest);
        let others = all.iter().filter(|(id, _)| Some(*id) != but);
        let mut told: Vec<_> =
            others.map(|(id, told)| (spawned(id), by(told, t))).filter(|(_, e)| !e.is_empty()).collect();
        told.sort_by_key(|(spawned, _)| std::cmp::Reverse(*spawned));
        told.into_iter().take(MOST).flat_map(|(_, evidence)| evidence.to_vec()).collect()
    }

    /// What clutches told of an entry was told beside the entry as it was; those in hand tell it anew.
    pub(super) fn forget_taught(&mut self, key: &str, now: Time, out: &mut Outcome) {
        for told in self.taught.get_mut(key).into_iter().flat_map(BTreeMap::values_mut) {
            tell(told, Vec::new(), now);
        }
        self.note_taught(out);
    }

    /// Takes in what clutches tell whose past has changed, and projects the others of their entry by it.
    pub(super) fn learn(&mut self, now: Time, out: &mut Outcome) {
        let mut moved = BTreeSet::new();
        for (id, tracked) in self.tracked.iter_mut().filter(|(id, t)| t.untold && !self.wanted.contains(*id))
        {
            tracked.untold = false;
            let Some(clutch) = self.account.clutch(id).filter(|_| self.setup.learn) else { continue };
            let Some(entry) = self.species.get(&clutch.species) else { continue };
            let told = told(tracked, clutch, entry, &self.setup);
            let known = self.taught.get(&clutch.species).and_then(|of| of.get(id)).map(|t| by(t, NOW));
            if known.unwrap_or_default() != told {
                let of_entry = self.taught.entry(clutch.species.clone()).or_default();
                tell(of_entry.entry(id.clone()).or_default(), told, now);
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

    fn note_taught(&self, out: &mut Outcome) {
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
        let learnt = Learnt::of(entry, &self.evidence_for(&entry.key, but, NOW));
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
    tracked.asked(clutch, setup, NOW, |ask| {
        evidence(&Ask { species: entry, ..*ask }, clutch.id.as_str(), mother)
    })
}
