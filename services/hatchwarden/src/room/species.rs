//! Species entries that a keeper has written on the page, beside those that are shipped or stand in a file.

use super::{Outcome, Room};
use development::{Changed, Species, SpeciesTable};
use serde::{Deserialize, Serialize};
use toml::{Table, Value};
use units::{ClutchId, Time};
use web::keeper::{NewSpecies, PlainSpecies, Trouble};
use web::species::{EntryFrom, SpeciesView};
use web::view::Figure;

/// Name of the note under which entries are kept.
pub(crate) const NOTE: &str = "species";

/// Water to either side of the temperature of an entry in which it is taken to hold, K: a planning value.
const HOLDS: f64 = 2.0;

/// One entry as it was written. It stays when another takes its place or it is withdrawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Written {
    key: String,
    text: String,
    by: String,
    at: Time,
    withdrawn: Option<(String, Time)>,
}

fn refused(field: &str, reason: impl std::fmt::Display) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason: reason.to_string() }
}

/// The one entry that a text holds.
fn one(text: &str) -> Result<Species, Trouble> {
    let table = SpeciesTable::from_toml(text).map_err(|e| refused("text", e))?;
    let mut entries = table.iter();
    match (entries.next(), entries.next()) {
        (Some(entry), None) => Ok(entry.clone()),
        (None, _) => {
            Err(refused("text", "there is no entry in it; begin with [species.NAME] and name = \"…\""))
        }
        (Some(_), Some(two)) => {
            Err(refused("text", format!("it holds a second entry, {:?}; write one at a time", two.key)))
        }
    }
}

/// The text of an entry that rests on days at one temperature for each stage.
fn text_of(plain: &PlainSpecies) -> Result<String, Trouble> {
    let said = |source: &str, how: &str| {
        [("source", source), ("how", how)].map(|(k, v)| (k.to_owned(), Value::from(v.to_owned())))
    };
    let number = |name: &str, x: f64| (name.to_owned(), Value::from(x));
    let mut base = Table::from_iter([
        number("low", plain.base_low),
        number("likely", plain.base_likely),
        number("high", plain.base_high),
    ]);
    base.extend(said("entered with the days; see there", "planning value"));
    let celsius = plain.stages.iter().map(|s| s.celsius);
    let (low, high) = celsius.fold((f64::MAX, f64::MIN), |(l, h), c| (l.min(c), h.max(c)));
    let mut holds = Table::from_iter([number("low", low - HOLDS), number("high", high + HOLDS)]);
    holds.extend(said("two degrees to either side of the temperatures", "planning value"));
    let stage = |s: &web::keeper::PlainStage| {
        let anchor = Table::from_iter([number("celsius", s.celsius), number("days", s.days)]);
        let mut stage = Table::from_iter([("anchor".to_owned(), Value::from(anchor))]);
        stage.extend(plain.spread_percent.map(|p| number("spread_percent", p)));
        stage.extend(said(&plain.source, &plain.how));
        (s.stage.word().to_owned(), Value::from(stage))
    };
    let entry = Table::from_iter([
        ("name".to_owned(), Value::from(plain.name.clone())),
        ("mouthbrooder".to_owned(), Value::from(plain.mouthbrooder)),
        ("base".to_owned(), Value::from(base)),
        ("calibrated".to_owned(), Value::from(holds)),
        ("stage".to_owned(), Value::from(plain.stages.iter().map(stage).collect::<Table>())),
    ]);
    let keyed = Table::from_iter([(plain.key.clone(), Value::from(entry))]);
    let whole = Table::from_iter([("species".to_owned(), Value::from(keyed))]);
    toml::to_string(&whole).map_err(|e| Trouble::Unable(e.to_string()))
}

/// Faults of a form's text are said of its fields.
fn of_form(trouble: Trouble, plain: &PlainSpecies) -> Trouble {
    match trouble {
        Trouble::Refused { field, reason } if field == "text" => {
            let field = ["name", "how", "source", "base", "spread_percent"]
                .into_iter()
                .find(|f| reason.contains(&format!("{f} = ")) || reason.contains(&format!("{f}.")))
                .unwrap_or("key");
            let field = if field == "base" { "base_likely" } else { field };
            refused(field, reason.replace(&format!("species {:?}, ", plain.key), ""))
        }
        other => other,
    }
}

impl Room {
    /// Puts an entry into the table, in the place of one with the same key.
    pub(super) fn enter_species(
        &mut self,
        new: &NewSpecies,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let (text, entry) = match new {
            NewSpecies::Text(text) => (text.clone(), one(text)?),
            NewSpecies::Plain(plain) if plain.stages.is_empty() => {
                return Err(refused("hatch_days", "say how long at least one stage takes"));
            }
            NewSpecies::Plain(plain) => {
                let text = text_of(plain)?;
                let entry = one(&text).map_err(|e| of_form(e, plain))?;
                (text, entry)
            }
        };
        let key = entry.key;
        self.written.push(Written { key: key.clone(), text, by: by.to_owned(), at: now, withdrawn: None });
        self.use_species(&key, now, out);
        Ok(())
    }

    /// Takes a written entry out of the table; one that it had replaced stands again.
    pub(super) fn withdraw_species(
        &mut self,
        key: &str,
        by: &str,
        now: Time,
        out: &mut Outcome,
    ) -> Result<(), Trouble> {
        let newest = self.written.iter().rposition(|w| w.key == key && w.withdrawn.is_none());
        let Some(index) = newest else {
            return Err(Trouble::NotFound(format!("no entry {key:?} was written on the page")));
        };
        let before = self.written[..index].iter().any(|w| w.key == key && w.withdrawn.is_none());
        let users = self.clutches_of(key);
        if let (false, None, Some(user)) = (before, self.setup.species.get(key), users.first()) {
            return Err(refused(
                "key",
                format!("clutch {user} is projected by {key:?}; it can be withdrawn when that is closed"),
            ));
        }
        self.written[index].withdrawn = Some((by.to_owned(), now));
        self.use_species(key, now, out);
        Ok(())
    }

    pub(super) fn clutches_of(&self, key: &str) -> Vec<ClutchId> {
        let of = |id: &&ClutchId| self.account.clutch(id).is_some_and(|c| c.species == key);
        self.tracked.keys().filter(of).cloned().collect()
    }

    fn use_species(&mut self, key: &str, now: Time, out: &mut Outcome) {
        self.gather_species();
        let note = serde_json::to_string(&self.written).unwrap_or_default();
        out.batch.notes.push((NOTE.to_owned(), note));
        self.forget_taught(key, now, out);
        for id in self.clutches_of(key) {
            let entry = self.account.clutch(&id).and_then(|c| self.entry_of(c));
            if let Some((tracked, entry)) = self.tracked.get_mut(&id).zip(entry) {
                tracked.species = entry;
                tracked.changed = Some(Changed::Entry);
            }
            self.wanted.insert(id);
        }
    }

    /// An entry as it stood at a time. One that is only known since is taken as it is now.
    pub(super) fn entry_known(&self, key: &str, t: Time) -> Option<Species> {
        let stood = |w: &&Written| {
            let withdrawn = w.withdrawn.as_ref().is_some_and(|(_, at)| *at <= t);
            w.key == key && w.at <= t && !withdrawn
        };
        let written = self.written.iter().rfind(stood).and_then(|w| one(&w.text).ok());
        written.or_else(|| self.setup.species.get(key).or(self.species.get(key)).cloned())
    }

    /// The shipped entries, those of the file, and those of the page; of one key the last stands.
    fn gather_species(&mut self) {
        let standing = self.written.iter().filter(|w| w.withdrawn.is_none());
        self.species = standing.fold(self.setup.species.clone(), |table, w| {
            match SpeciesTable::from_toml(&w.text) {
                Ok(own) => table.with(own),
                Err(error) => {
                    tracing::error!(key = %w.key, %error, "a species entry of the page does not read any more; it is left out");
                    table
                }
            }
        });
    }

    /// Takes in the entries of before a restart.
    pub(super) fn restore_species(&mut self, note: &str) -> Result<(), String> {
        self.written = serde_json::from_str(note).map_err(|e| format!("note {NOTE}: {e}"))?;
        self.gather_species();
        Ok(())
    }

    /// Every entry: the room's own first, then mouthbrooders, then other fish; by name among each.
    pub fn species_views(&self) -> Vec<SpeciesView> {
        let shipped = SpeciesTable::shipped();
        let mut views: Vec<SpeciesView> =
            self.species.iter().map(|s| self.species_view(s, &shipped)).collect();
        views.sort_by_key(|v| (v.from == EntryFrom::Shipped, !v.mouthbrooder, v.name.clone()));
        views
    }

    fn species_view(&self, s: &Species, shipped: &SpeciesTable) -> SpeciesView {
        let written = self.written.iter().rfind(|w| w.key == s.key && w.withdrawn.is_none());
        let from = match written {
            Some(w) => EntryFrom::Page { by: w.by.clone(), at: w.at, text: w.text.clone() },
            None if shipped.get(&s.key) != Some(s) => EntryFrom::File,
            None => EntryFrom::Shipped,
        };
        SpeciesView {
            key: s.key.clone(),
            name: s.name.clone(),
            mouthbrooder: s.mouthbrooder,
            from,
            stages: s
                .requirements
                .iter()
                .filter_map(|r| Some((r.stage, s.required(r.stage, s.base.likely)?)))
                .collect(),
            base: s.base.likely,
            learnt: self.learnt_views(s, None),
            figures: s
                .figures
                .iter()
                .map(|f| Figure {
                    name: f.name.clone(),
                    value: f.value.clone(),
                    source: f.source.clone(),
                    how: f.how.clone(),
                })
                .collect(),
        }
    }
}
