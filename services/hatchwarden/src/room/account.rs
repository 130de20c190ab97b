//! The account of the room as the page shows it: what lives where, who needs a tank, what mothers did.

use super::Room;
use ledger::{Account, Carrier, Clutch, Contact, Entry, Equipment, Event, Mother};
use units::{Span, Stage, Time, VesselId, VesselKind};
use web::account::{
    AccountView, ContactView, EquipmentView, HoldView, LivingView, MotherView, NeedView, PassageView,
    PlaceView, TanksPage, UsualView, VesselPage, VesselRow,
};
use web::view::EventView;

/// Who will swim free within this time needs a tank to be thought of.
const SOON: Span = Span::days(14);
/// Two people who feed one vessel within this time have most likely fed it twice. A planning value.
const TWICE: Span = Span::hours(2);
/// So long a double feed is shown.
const TWICE_SHOWN: Span = Span::days(2);
/// So much of what was done to a vessel is shown, the newest.
const CARE_SHOWN: usize = 100;
/// How many entries about the room as a whole are shown.
const OF_ROOM_SHOWN: usize = 20;
/// A quarantine that began so long ago is still traced.
const TRACED: Span = Span::days(60);

impl Room {
    /// What became of every fish of a clutch.
    pub(super) fn account_view(&self, clutch: &Clutch) -> AccountView {
        let place = |(vessel, count): (&VesselId, Option<u32>)| PlaceView {
            vessel: vessel.clone(),
            count,
            since: clutch.there_since(vessel),
        };
        AccountView {
            counted: clutch.alive.is_some(),
            statement: clutch.statement(),
            lines: clutch.lines().to_vec(),
            living: clutch.where_alive().into_iter().map(place).collect(),
            members: clutch.members.clone(),
            path: clutch.path.map(|p| p.to_string()),
            ended: clutch.ended(),
            usual: self.usual(clutch),
        }
    }

    /// How the keeper's other counted clutches of the entry did that have left the tumblers or ended.
    fn usual(&self, clutch: &Clutch) -> Option<UsualView> {
        let others = self.account.clutches().filter(|c| {
            let s = c.statement();
            let own = s.came > 0 && s.given == 0; // how those in a group did, the group alone knows
            c.id != clutch.id && c.species == clutch.species && !c.is_group() && own
        });
        let grown = others
            .filter(|c| c.ended().is_some() || c.seen.iter().any(|s| s.sign >= Stage::FreeSwimming.into()));
        let mut kept: Vec<f64> = grown.map(kept_percent).collect();
        kept.sort_by(f64::total_cmp);
        let middle = kept.len().checked_sub(1)? / 2;
        let kept_percent = f64::midpoint(kept[middle], kept[kept.len() / 2]);
        Some(UsualView { clutches: kept.len(), kept_percent })
    }

    pub(super) fn event_view(&self, e: &Entry) -> EventView {
        let setup = &self.setup;
        EventView {
            entry: e.id,
            withdrawable: !matches!(e.event, Event::Withdrawn { .. } | Event::ClutchOpened { .. }),
            stands: self.account.stands(e.id),
            at: e.event.at(),
            recorded: e.recorded,
            by: e.by.clone(),
            text: e.event.words(&|t| setup.day_text(t)),
        }
    }

    /// What was written down, the newest first, of those before a number.
    pub fn entries(&self, before: Option<u64>, most: usize) -> Vec<EventView> {
        let older = |e: &&Entry| before.is_none_or(|b| e.id < b);
        self.account.entries().rev().filter(older).take(most).map(|e| self.event_view(e)).collect()
    }

    /// All vessels, and who needs one soon.
    pub fn tanks_page(&self, now: Time) -> TanksPage {
        let mut needs: Vec<NeedView> = self.account.clutches().filter_map(|c| self.need(c, now)).collect();
        needs.sort_by_key(|n| (n.earliest, n.clutch.clone()));
        let equipment = self.account.equipment().iter().map(equipment_view).collect();
        let ids: Vec<VesselId> = self.setup.vessels.iter().map(|v| v.id.clone()).collect();
        TanksPage {
            vessels: ids.iter().filter_map(|id| self.vessel_row(id, now)).collect(),
            needs,
            equipment,
            of_room: self.of_room(),
        }
    }

    /// The newest of what was written down about no clutch, vessel or mother. What wears is listed for itself.
    fn of_room(&self) -> Vec<EventView> {
        let apart = |e: &&Entry| {
            let own = matches!(e.event, Event::Installed(_) | Event::Withdrawn { .. });
            !own && self.account.stands(e.id) && e.event.is_of_room()
        };
        self.account.entries().rev().filter(apart).take(OF_ROOM_SHOWN).map(|e| self.event_view(e)).collect()
    }

    fn need(&self, clutch: &Clutch, now: Time) -> Option<NeedView> {
        let vessel = clutch.place_now();
        let kind = self.setup.vessel(vessel?)?.kind;
        let waits = clutch.in_hand() && (kind != VesselKind::Tank || clutch.alive.is_none());
        let window = self.tracked.get(&clutch.id)?.projection.as_ref()?;
        let free = window.stages.iter().find(|w| w.stage == Stage::FreeSwimming)?;
        (waits && free.earliest <= now + SOON).then(|| NeedView {
            clutch: clutch.id.clone(),
            fish: clutch.fish.clone(),
            vessel: vessel.cloned(),
            count: clutch.alive,
            earliest: free.earliest,
            likeliest: free.likeliest,
        })
    }

    fn vessel_row(&self, id: &VesselId, now: Time) -> Option<VesselRow> {
        let vessel = self.setup.vessel(id)?;
        let living: Vec<LivingView> = self.account.in_vessel(id).map(|c| living(c, id)).collect();
        let counted: u32 = living.iter().filter_map(|l| l.count).sum();
        Some(VesselRow {
            vessel: id.clone(),
            kind: vessel.kind,
            host: vessel.host.clone(),
            litres: vessel.litres,
            per_litre: vessel.litres.map(|l| f64::from(counted) / l),
            living,
            crowded_above: self.setup.deadlines.crowded,
            quarantine: self.account.quarantine(id, now).map(|q| q.until),
        })
    }

    /// Everything about one vessel.
    pub fn vessel_page(&self, id: &VesselId, now: Time) -> Option<VesselPage> {
        let row = self.vessel_row(id, now)?;
        let water = self.setup.water_of(id);
        let probes = self.last.keys().filter(|p| p.vessel == *id || p.vessel == *water).cloned().collect();
        let hanging = self.setup.vessels.iter().filter(|v| v.host.as_ref() == Some(id)).map(|v| v.id.clone());
        let care: Vec<&Entry> = self.account.care_of(id);
        let twice =
            self.account.fed_twice(id, TWICE).into_iter().filter(|(_, b)| b.event.at() > now - TWICE_SHOWN);
        Some(VesselPage {
            row,
            water: self.water_view(id),
            probes,
            hanging: hanging.collect(),
            contacts: contacts(&self.account, &care, id, now),
            fed_twice: twice.map(|(a, b)| (self.event_view(a), self.event_view(b))).collect(),
            passages: self.passages(id),
            care: care.iter().rev().take(CARE_SHOWN).map(|e| self.event_view(e)).collect(),
        })
    }

    /// How clutches fared in a tumbler or a jar, the latest first; of a tank that says little.
    fn passages(&self, id: &VesselId) -> Vec<PassageView> {
        if self.setup.vessel(id).is_none_or(|v| v.kind == VesselKind::Tank) {
            return Vec::new();
        }
        let view = |c: &Clutch| {
            Some(PassageView { clutch: c.id.clone(), fish: c.fish.clone(), stay: c.passage(id)? })
        };
        let mut all: Vec<PassageView> = self.account.clutches().filter_map(view).collect();
        all.sort_by_key(|p| std::cmp::Reverse(p.stay.from));
        all
    }

    /// Every mother, by her code.
    pub fn mother_views(&self, now: Time) -> Vec<MotherView> {
        self.account.mothers().iter().map(|m| self.mother_view(m, now)).collect()
    }

    fn mother_view(&self, m: &Mother<'_>, now: Time) -> MotherView {
        let hold = |h: &ledger::Hold| HoldView {
            clutch: h.clutch.clone(),
            spawned: h.day0.middle(),
            path: h.path.map(|p| p.to_string()),
            left: h.left.map(|(t, _)| t),
            how: h.left.map(|(_, how)| how.words()),
            days: h.length(now).as_days(),
            count: h.count,
            sorted_out: self.account.sorted_out(&h.clutch),
        };
        MotherView {
            mother: m.id.clone(),
            fish: m.fish.to_owned(),
            holds: m.holds.iter().map(hold).collect(),
            empty_since: m.empty_since(),
            holds_in_a_year: m.holds_since(now - Span::days(365)),
            rests: m.rests().into_iter().map(Span::as_days).collect(),
            notes: m.notes.iter().rev().map(|e| self.event_view(e)).collect(),
        }
    }
}

/// Of a hundred that came, how many were not lost.
fn kept_percent(clutch: &Clutch) -> f64 {
    let s = clutch.statement();
    let lost = s.dead + s.escaped + s.unexplained.max(0);
    100.0 * (s.came - lost).max(0) as f64 / s.came.max(1) as f64
}

fn living(clutch: &Clutch, vessel: &VesselId) -> LivingView {
    LivingView {
        clutch: clutch.id.clone(),
        fish: clutch.fish.clone(),
        mother: clutch.mother.clone(),
        held: clutch.taken.is_none() && clutch.alive.is_none(),
        members: clutch.members.clone(),
        count: clutch.count_in(vessel),
        since: clutch.there_since(vessel),
    }
}

fn equipment_view(e: &Equipment<'_>) -> EquipmentView {
    EquipmentView {
        name: e.installed.name.clone(),
        kind: e.installed.kind.clone(),
        vessel: e.installed.vessel.clone(),
        since: e.installed.at,
        due: e.due,
    }
}

/// What was touched since the newest quarantine of a vessel began.
fn contacts(account: &Account, care: &[&Entry], id: &VesselId, now: Time) -> Vec<ContactView> {
    let begun = care.iter().rev().find_map(|e| match &e.event {
        Event::Quarantined(q) if q.at > now - TRACED => Some(q.at),
        _ => None,
    });
    let view = |c: Contact| ContactView {
        vessel: c.vessel,
        at: c.at,
        from: c.from,
        by: match c.by {
            Carrier::Tool(tool) => tool,
            Carrier::Fish(clutch) => format!("fish of {clutch}"),
        },
    };
    begun.map(|from| account.contacts(id, from).into_iter().map(view).collect()).unwrap_or_default()
}
