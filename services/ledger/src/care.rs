//! What was done to vessels and tools, and what follows from it.

use crate::account::Account;
use crate::check::fault;
use crate::event::{Installation, Quarantine};
use crate::{Entry, Event, LedgerError, Side};
use std::collections::BTreeMap;
use units::{ClutchId, Span, Time, VesselId};

/// Longest text of a note, letters.
const LONGEST: usize = 2_000;

impl Event {
    /// Whether it can be at all, whatever else was entered.
    pub(crate) fn check_alone(&self) -> Result<(), LedgerError> {
        match self {
            Event::Fed(e) => filled("food", &e.food, "what was fed"),
            Event::WaterTested(e) => {
                let (highest, unit) = (e.tested.highest(), e.tested.unit());
                if (0.0..=highest).contains(&e.value) {
                    return Ok(());
                }
                fault("value", format!("{} {unit} of {} cannot be; write 0 to {highest}", e.value, e.tested))
            }
            Event::WaterChanged(e) if e.percent == 0 || e.percent > 100 => {
                fault("percent", format!("{} % cannot be changed; write 1 to 100", e.percent))
            }
            Event::Treated(e) => {
                filled("what", &e.what, "what was used")?;
                filled("unit", &e.unit, "the unit of its strength, e.g. mg/L")?;
                if e.strength.is_finite() && e.strength > 0.0 {
                    return Ok(());
                }
                fault("strength", format!("{} is no strength; write a number above 0", e.strength))
            }
            Event::Quarantined(e) => {
                filled("reason", &e.reason, "why")?;
                if e.until > e.at {
                    return Ok(());
                }
                fault("until", format!("{} is not after {}; write when it ends", e.until, e.at))
            }
            Event::ToolUsed(e) => filled("tool", &e.tool, "which tool, e.g. net-Q1"),
            Event::ToolCleaned(e) => filled("tool", &e.tool, "which tool, e.g. net-Q1"),
            Event::Installed(e) => {
                filled("name", &e.name, "its name, e.g. P1")?;
                filled("kind", &e.kind, "what it is, e.g. air pump")
            }
            Event::Retired(e) => filled("name", &e.name, "its name, e.g. P1"),
            Event::Drilled(e) => filled("text", &e.text, "what was done and what came of it"),
            Event::Noted(e) => filled("text", &e.text, "what is to be kept"),
            _ => Ok(()),
        }
    }
}

fn filled(field: &'static str, said: &str, what: &str) -> Result<(), LedgerError> {
    if said.trim().is_empty() {
        return fault(field, format!("this is empty; write {what}"));
    }
    if said.chars().count() > LONGEST {
        return fault(field, format!("this is longer than {LONGEST} letters; shorten it"));
    }
    Ok(())
}

/// Something that touched what was touched before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contact {
    /// Which vessel was touched.
    pub vessel: VesselId,
    /// When first.
    pub at: Time,
    /// From which vessel.
    pub from: VesselId,
    /// By a tool or by fish of a clutch.
    pub by: Carrier,
}

/// What goes from vessel to vessel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Carrier {
    /// A net, a jug, a filter.
    Tool(String),
    /// Fish that were moved.
    Fish(ClutchId),
}

/// Something that wears.
#[derive(Debug, Clone, PartialEq)]
pub struct Equipment<'a> {
    /// As it was put into use.
    pub installed: &'a Installation,
    /// When it is to be looked at or replaced, as the keeper planned.
    pub due: Option<Time>,
}

impl Account {
    /// What was written down about a vessel itself, in the order in which it happened.
    pub fn care_of(&self, vessel: &VesselId) -> Vec<&Entry> {
        let about = |e: &&Entry| e.event.clutch().is_none() && e.event.vessel() == Some(vessel);
        let mut all: Vec<&Entry> = self.entries().filter(about).filter(|e| self.stands(e.id)).collect();
        all.sort_by_key(|e| (e.event.at(), e.id));
        all
    }

    /// The quarantine that a vessel is in at a time.
    pub fn quarantine(&self, vessel: &VesselId, now: Time) -> Option<&Quarantine> {
        let mut stands = None;
        for entry in self.care_of(vessel) {
            match &entry.event {
                Event::Quarantined(q) if q.at <= now => stands = Some(q),
                Event::QuarantineEnded(e) if e.at <= now => stands = None,
                _ => {}
            }
        }
        stands.filter(|q| now < q.until)
    }

    /// Feeds of one vessel by two people within a while of each other: the first and the second.
    pub fn fed_twice(&self, vessel: &VesselId, within: Span) -> Vec<(&Entry, &Entry)> {
        let feeds: Vec<&Entry> =
            self.care_of(vessel).into_iter().filter(|e| matches!(e.event, Event::Fed(_))).collect();
        let close = |p: &&[&Entry]| p[1].by != p[0].by && p[1].event.at() - p[0].event.at() <= within;
        feeds.windows(2).filter(close).map(|p| (p[0], p[1])).collect()
    }

    /// Every vessel that was touched, through tools and fish, by what was in one from a time on. A tool that was
    /// disinfected carries nothing on.
    pub fn contacts(&self, vessel: &VesselId, from: Time) -> Vec<Contact> {
        let mut touched: BTreeMap<VesselId, Time> = BTreeMap::from([(vessel.clone(), from)]);
        let mut tools: BTreeMap<&str, VesselId> = BTreeMap::new();
        let mut contacts = Vec::new();
        for entry in self.happened().into_iter().filter(|e| e.event.at() >= from) {
            let at = entry.event.at();
            match &entry.event {
                Event::ToolCleaned(e) => drop(tools.remove(e.tool.as_str())),
                Event::ToolUsed(e) if touched.contains_key(&e.vessel) => {
                    tools.entry(&e.tool).or_insert_with(|| e.vessel.clone());
                }
                Event::ToolUsed(e) => {
                    if let Some(source) = tools.get(e.tool.as_str()) {
                        touched.insert(e.vessel.clone(), at);
                        let by = Carrier::Tool(e.tool.clone());
                        contacts.push(Contact { vessel: e.vessel.clone(), at, from: source.clone(), by });
                    }
                }
                _ => {
                    for (source, vessel, clutch) in self.moves_of(entry) {
                        if touched.contains_key(&source) && !touched.contains_key(&vessel) {
                            touched.insert(vessel.clone(), at);
                            contacts.push(Contact { vessel, at, from: source, by: Carrier::Fish(clutch) });
                        }
                    }
                }
            }
        }
        contacts
    }

    /// From which vessel into which fish, or a mother with hers, went by an entry.
    fn moves_of(&self, entry: &Entry) -> Vec<(VesselId, VesselId, ClutchId)> {
        let mut all = self.lines_between(entry);
        let into = match &entry.event {
            Event::Moved { .. } | Event::Taken { .. } | Event::Separated(_) => entry.event.vessel(),
            _ => None,
        };
        if let Some((clutch, into)) = entry.event.clutch().and_then(|id| self.clutch(id)).zip(into) {
            let before = entry.event.at() - Span::from_millis(1);
            let from = clutch.place_at(before).filter(|v| *v != into);
            all.extend(from.map(|v| (v.clone(), into.clone(), clutch.id.clone())));
        }
        all
    }

    fn lines_between(&self, entry: &Entry) -> Vec<(VesselId, VesselId, ClutchId)> {
        let of = |id: &ClutchId| {
            let lines = self.clutch(id).map(crate::Clutch::lines).unwrap_or_default();
            let move_of =
                |side: &Side, to: &Side| Some((side.vessel()?.clone(), to.vessel()?.clone(), id.clone()));
            lines
                .iter()
                .filter(|l| l.entry == entry.id)
                .filter_map(|l| move_of(&l.from, &l.to))
                .collect::<Vec<_>>()
        };
        entry.event.clutches().into_iter().flat_map(of).collect()
    }

    /// What wears and is in use, the one due first in front.
    pub fn equipment(&self) -> Vec<Equipment<'_>> {
        let mut all: BTreeMap<&str, &Installation> = BTreeMap::new();
        for entry in self.happened() {
            match &entry.event {
                Event::Installed(e) => drop(all.insert(&e.name, e)),
                Event::Retired(e) => drop(all.remove(e.name.as_str())),
                _ => {}
            }
        }
        let due = |e: &Installation| e.days.map(|d| e.at + Span::days(i64::from(d)));
        let mut all: Vec<Equipment<'_>> =
            all.into_values().map(|installed| Equipment { installed, due: due(installed) }).collect();
        all.sort_by_key(|e| (e.due.is_none(), e.due, e.installed.name.clone()));
        all
    }
}
