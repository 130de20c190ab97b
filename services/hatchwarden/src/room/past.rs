//! Filling a room from what the store has kept, so that a restart equals no restart.

use super::air::KEPT;
use super::{Room, Setup};
use ledger::{Account, Clutch, Entry, Event};
use readings::{MapEntry, Offsets, Sender};
use std::sync::Arc;
use store::{EntryRow, ProjectionRow, ReadingRow, RefusalCount, ShiftRow};
use units::{ClutchId, ProbeKey, Quantity, Span, Time, VesselId};
use web::view::RefusalView;

/// How many of a probe's newest readings tell repeats after a restart.
pub const RECENT: usize = 512;
/// How far back the night strip and the waterline look.
pub const LOOK_BACK: Span = KEPT;

/// What the store remembers of a room.
#[derive(Debug, Default)]
pub struct Past {
    /// The account, oldest first.
    pub entries: Vec<EntryRow>,
    /// Newest readings of each probe, oldest first, at most [`RECENT`] each.
    pub recent: Vec<Vec<ReadingRow>>,
    /// Readings of air and water of the last [`LOOK_BACK`], oldest first, for each probe.
    pub day: Vec<(ProbeKey, Vec<(Time, f64)>)>,
    /// The first reading of each minute of the last days, of what is followed over days.
    pub courses: Vec<(ProbeKey, Vec<(Time, f64)>)>,
    /// Snapshots of alarms.
    pub alarms: Vec<(String, String)>,
    /// Kept projections.
    pub projections: Vec<ProjectionRow>,
    /// Kept shifts, newest first.
    pub shifts: Vec<ShiftRow>,
    /// Refusals so far.
    pub refusals: Vec<RefusalCount>,
    /// Readings that wait for a second one: the value of [`held_note`] of each probe.
    pub held: Vec<String>,
    /// Entries claimed for the topic map.
    pub claims: Option<String>,
    /// Comparisons of probes with a reference.
    pub comparisons: Option<String>,
    /// What clutches tell of their entries.
    pub learnt: Option<String>,
    /// Species entries written on the page.
    pub species: Option<String>,
    /// What devices have said of themselves.
    pub devices: Option<String>,
    /// The last jump of the machine's clock.
    pub clock: Option<String>,
    /// Tasks that calendars were told of.
    pub work: Option<String>,
    /// Where calendars ask.
    pub calendar_address: Option<String>,
    /// Who was called.
    pub calls: Option<String>,
    /// What links in messages are made from.
    pub link_secret: Option<String>,
}

/// Temperatures that a clutch needs to have its course built again.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Which clutch.
    pub clutch: ClutchId,
    /// Whose thermometer, from when to when.
    pub spans: Vec<(VesselId, Time, Time)>,
    /// What is to be added to what was read.
    pub offsets: Arc<Offsets>,
}

/// Name of the note under which a held reading of a probe is kept.
pub fn held_note(probe: &ProbeKey) -> String {
    format!("held/{probe}")
}

impl Room {
    /// A room as it was when its store was last written.
    ///
    /// # Errors
    /// Words naming the record that cannot be understood.
    pub fn restore(setup: Arc<Setup>, past: Past, now: Time) -> Result<Self, String> {
        let mut room = Self::new(setup).map_err(|e| e.to_string())?;
        room.moment = now;
        past.claims.as_deref().map_or(Ok(()), |note| room.restore_claims(note))?;
        past.species.as_deref().map_or(Ok(()), |note| room.restore_species(note))?;
        past.learnt.as_deref().map_or(Ok(()), |note| room.restore_taught(note))?;
        past.comparisons.as_deref().map_or(Ok(()), |note| room.restore_comparisons(note))?;
        past.devices.as_deref().map_or(Ok(()), |note| room.restore_devices(note))?;
        past.clock.as_deref().map_or(Ok(()), |note| room.restore_jump(note))?;
        let unseen = room.unseen_jump(&past.recent, now);
        // The room as it was by its clock of then, which is moved to what it shows now.
        let (now, moved) = unseen.map_or((now, None), |then| (then, Some(now - then)));
        room.restore_work(past.work.as_deref(), past.calendar_address.as_deref())?;
        past.calls.as_deref().map_or(Ok(()), |note| room.restore_calls(note))?;
        room.link_secret = past.link_secret;
        room.restore_account(past.entries)?;
        room.follow_taught();
        for rows in &past.recent {
            room.restore_twice(rows, now);
        }
        for held in past.held.iter().filter(|h| !h.is_empty()) {
            room.judge.hold(serde_json::from_str(held).map_err(|e| format!("held reading {held}: {e}"))?);
        }
        for (probe, points) in past.day {
            room.restore_day(&probe, &points);
        }
        for (probe, points) in past.courses {
            room.restore_course(&probe, &points);
        }
        for (key, json) in past.alarms {
            room.panel.restore(serde_json::from_str(&json).map_err(|e| format!("alarm {key}: {e}"))?);
        }
        room.restore_projections(past.projections, past.shifts)?;
        room.refusals = past.refusals.into_iter().map(refusal_view).collect();
        room.restore_unmapped();
        room.watch_all(now);
        let newest = |rows: &Vec<ReadingRow>| {
            let fresh = |r: &&ReadingRow| r.fresh && r.probe.mark.is_none();
            let come = rows.iter().rfind(|r| fresh(r) && r.received <= now);
            come.or_else(|| rows.iter().rfind(fresh)).cloned()
        };
        for row in past.recent.iter().filter_map(newest) {
            room.recall_row(&row, now);
        }
        room.wanted = room.tracked.keys().cloned().collect();
        if let Some(by) = moved {
            room.shift(by, now + by);
            room.untold_jump = moved;
        }
        Ok(room)
    }

    fn restore_account(&mut self, rows: Vec<EntryRow>) -> Result<(), String> {
        self.next_entry = rows.last().map_or(1, |row| row.id + 1);
        let entries = rows.into_iter().map(entry_of).collect::<Result<Vec<_>, String>>()?;
        self.account = Account::restored(entries);
        let ids: Vec<ClutchId> = self.account.clutches().map(|c| c.id.clone()).collect();
        ids.iter().for_each(|id| self.track(id));
        Ok(())
    }

    /// `judged` tell the judge what comes next to them, `rows` how the probe is heard.
    pub(super) fn restore_probe(&mut self, judged: &[ReadingRow], rows: &[ReadingRow]) {
        for row in judged {
            self.judge.remember(&super::reading_of(row));
        }
        for row in rows {
            let sender = self.usual_sender(&row.probe);
            if let Some(hearing) = self.hearing(&row.probe) {
                hearing.restored(row, sender);
            }
            if row.fresh {
                let heard = self.newest_fresh.entry(row.probe.clone()).or_insert(row.received);
                *heard = row.received.max(*heard);
            }
        }
        if let Some(row) = rows.last() {
            self.last.insert(row.probe.clone(), row.clone());
        }
    }

    /// Who sends a probe's readings, as far as the map tells before the first message: without an entry that could feed
    /// it, they come in our own shape.
    fn usual_sender(&self, probe: &ProbeKey) -> Sender {
        let feeds = |e: &MapEntry| {
            let vessel = e.vessel.as_deref().unwrap_or_default();
            e.quantity == Some(probe.quantity) && (vessel.starts_with('+') || vessel == probe.vessel.as_str())
        };
        if self.map.entries().any(feeds) { Sender::Unknown } else { Sender::Vessel }
    }

    /// What was heard on topics that are still not mapped.
    fn restore_unmapped(&mut self) {
        self.unmapped.restore(self.refusals.values());
        let map = self.map.clone();
        self.unmapped.retain(|topic| !map.entries().any(|e| readings::matches(&e.topic, topic)));
    }

    fn restore_day(&mut self, probe: &ProbeKey, points: &[(Time, f64)]) {
        let setup = self.setup.clone();
        let vessel = setup.vessel(&probe.vessel);
        for (t, value) in points {
            match probe.quantity {
                Quantity::Temperature => {
                    self.water.entry(probe.vessel.clone()).or_default().note(*t, *value);
                    self.trends.entry(probe.vessel.clone()).or_default().note(*t, *value);
                }
                quantity => {
                    let still = vessel.is_some_and(|v| v.lies_still(quantity, *value));
                    self.air.entry(probe.vessel.clone()).or_default().note(*t, still);
                }
            }
        }
    }

    fn restore_course(&mut self, probe: &ProbeKey, points: &[(Time, f64)]) {
        for (time, value) in points {
            let (time, value, probe) = (*time, *value, probe.clone());
            let row =
                ReadingRow { probe, time, value, received: time, sequence: None, fresh: true, flags: 0 };
            self.monitors_take(&row);
        }
    }

    fn restore_projections(&mut self, rows: Vec<ProjectionRow>, shifts: Vec<ShiftRow>) -> Result<(), String> {
        for row in rows {
            let kept =
                serde_json::from_str(&row.json).map_err(|e| format!("projection of {}: {e}", row.clutch))?;
            if let Some(tracked) = tracked_mut(self, &row.clutch) {
                tracked.kept = Some(kept);
            }
        }
        for shift in shifts {
            if let Some(tracked) = tracked_mut(self, &shift.clutch) {
                tracked.shifts.push(shift.clone());
            }
        }
        Ok(())
    }

    /// Whether there are courses to be read again, which is to be done when everything is on disk.
    pub fn wants_courses(&self) -> bool {
        !self.wanted.is_empty()
    }

    /// Courses to be read again because their clutch's past has changed; empties the list.
    pub fn take_wanted(&mut self) -> Vec<Wanted> {
        let wanted = std::mem::take(&mut self.wanted);
        let of = |id: ClutchId| {
            let clutch = self.account.clutch(&id).filter(|_| self.tracked.contains_key(&id))?;
            Some(self.wanted_for(clutch, self.offsets.clone()))
        };
        wanted.into_iter().filter_map(of).collect()
    }

    /// The temperatures that a clutch needs.
    pub(super) fn wanted_for(&self, clutch: &Clutch, offsets: Arc<Offsets>) -> Wanted {
        let end_of_time = Time::from_millis(i64::MAX);
        let ends =
            clutch.places.iter().skip(1).map(|(t, _)| *t).chain([clutch.ended().unwrap_or(end_of_time)]);
        let spans = clutch
            .places
            .iter()
            .zip(ends)
            .map(|((from, place), to)| (self.setup.water_of(place).clone(), *from, to))
            .collect();
        Wanted { clutch: clutch.id.clone(), spans, offsets }
    }

    /// Gives a clutch its course anew.
    pub fn fill_course(&mut self, id: &ClutchId, points: Vec<(Time, f64)>) {
        let Some(clutch) = self.account.clutch(id) else { return };
        if let Some(tracked) = self.tracked.get_mut(id) {
            tracked.refill(clutch, points);
        }
    }
}

fn entry_of(row: EntryRow) -> Result<Entry, String> {
    let event: Event =
        serde_json::from_str(&row.json).map_err(|e| format!("account entry {}: {e}", row.id))?;
    Ok(Entry { id: row.id, recorded: row.recorded, by: row.by, event })
}

fn tracked_mut<'a>(room: &'a mut Room, clutch: &str) -> Option<&'a mut super::tracked::Tracked> {
    room.tracked.get_mut(&ClutchId::new(clutch).ok()?)
}

fn refusal_view(r: RefusalCount) -> ((String, String), RefusalView) {
    let view = RefusalView {
        place: r.place.clone(),
        reason: r.reason.clone(),
        count: r.count,
        last: r.last,
        excerpt: r.excerpt,
    };
    ((r.place, r.reason), view)
}
