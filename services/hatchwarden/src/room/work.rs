//! What there is to do, and what calendars were told of it.
//!
//! What is shown follows the projections. What is published stands still until a date moves by more than the keeper's
//! threshold, and is kept, so that a feed is the same before and after a restart.

use super::{Outcome, Room};
use development::{LeadTimes, Task, TaskKind, done, tasks};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use units::{ClutchId, Span, Time};
use web::calendar::{Address, CalendarEntry, CalendarView};
use web::view::TaskView;

/// Name of the note under which published tasks are kept.
pub(crate) const NOTE: &str = "work";
/// Name of the note under which the feed's address is kept.
pub(crate) const ADDRESS_NOTE: &str = "calendar-address";
/// How long a task stays published after its window, or after it fell away: a calendar that is opened once a month still
/// hears of it. A planning value.
const KEPT: Span = Span::days(30);

/// One task as calendars know it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Published {
    task: Task,
    sequence: u32,
    /// When it was last revised.
    stamp: Time,
    /// Since when it has fallen away.
    cancelled: Option<Time>,
}

/// The published tasks of one clutch.
type Plan = BTreeMap<TaskKind, Published>;

/// Everything published, and where.
#[derive(Debug, Default)]
pub(super) struct Work {
    plans: BTreeMap<ClutchId, Plan>,
    address: Option<AddressNote>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
struct AddressNote {
    token: String,
    since: Time,
    by: Option<String>,
}

impl Published {
    /// Takes over where the task is now. True when it was revised.
    fn follow(&mut self, task: &Task, moves_over: Span, now: Time) -> bool {
        let back = self.cancelled.is_some();
        // What is past on both sides stays as it was.
        let ahead = task.latest > now || (!back && self.task.latest > now);
        let revised = ahead && (back || moved(&self.task, task) > moves_over);
        if revised {
            (self.task, self.cancelled) = (*task, None);
            self.revise(now);
        }
        revised
    }

    /// The task is there no more. What was done once its window had begun, or whose window is past, stays as it was.
    fn fall_away(&mut self, done: bool, now: Time) -> bool {
        let stays = self.task.latest <= now || (done && self.task.earliest <= now);
        let revised = self.cancelled.is_none() && !stays;
        if revised {
            self.cancelled = Some(now);
            self.revise(now);
        }
        revised
    }

    fn revise(&mut self, now: Time) {
        self.sequence += 1;
        self.stamp = now;
    }
}

/// How far a task has moved at most.
fn moved(a: &Task, b: &Task) -> Span {
    let by = [b.earliest - a.earliest, b.likeliest - a.likeliest, b.latest - a.latest];
    by.into_iter().map(Span::abs).max().unwrap_or(Span::ZERO)
}

/// Brings a plan up to the tasks of now; true when it changed. `done` says of a task that is gone whether it was done.
fn renew(plan: &mut Plan, now_due: &[Task], done: &dyn Fn(TaskKind) -> bool, over: Span, now: Time) -> bool {
    let mut changed = false;
    for task in now_due {
        match plan.get_mut(&task.kind) {
            Some(known) => changed |= known.follow(task, over, now),
            // Nobody plans the past: a clutch entered late begins with what lies ahead.
            None if task.latest > now => {
                plan.insert(task.kind, Published { task: *task, sequence: 0, stamp: now, cancelled: None });
                changed = true;
            }
            None => {}
        }
    }
    let gone = plan.values_mut().filter(|p| now_due.iter().all(|t| t.kind != p.task.kind));
    gone.fold(changed, |changed, p| p.fall_away(done(p.task.kind), now) || changed)
}

impl Room {
    /// Clutches whose projection is about to be renewed.
    pub(super) fn to_renew(&self) -> Vec<ClutchId> {
        self.tracked.iter().filter(|(_, t)| t.dirty).map(|(id, _)| id.clone()).collect()
    }

    /// Publishes what has come, gone or moved far enough, after these projections were renewed.
    pub(super) fn publish_work(&mut self, renewed: Vec<ClutchId>, now: Time, out: &mut Outcome) {
        let closed = self.work.plans.keys().filter(|id| !self.tracked.contains_key(*id)).cloned();
        let touched: BTreeSet<ClutchId> = closed.chain(renewed).collect();
        let mut changed = false;
        for id in touched {
            let mut plan = self.work.plans.remove(&id).unwrap_or_default();
            changed |= self.renew_plan(&id, &mut plan, now);
            if !plan.is_empty() {
                self.work.plans.insert(id, plan);
            }
        }
        changed |= self.drop_old(now);
        if changed {
            out.batch
                .notes
                .push((NOTE.to_owned(), serde_json::to_string(&self.work.plans).unwrap_or_default()));
        }
    }

    fn renew_plan(&self, id: &ClutchId, plan: &mut Plan, now: Time) -> bool {
        let over = self.setup.moves_over;
        let taken = self.account.clutch(id).and_then(|c| c.taken);
        match self.tracked.get(id).map(|t| t.projection.as_ref()) {
            // Without a reading nothing can be said, and what was said stands.
            Some(None) => false,
            Some(Some(projection)) => {
                renew(plan, &self.tasks_of(id), &|kind| done(kind, projection, taken), over, now)
            }
            // A clutch that was closed leaves its mother's rest.
            None => {
                let rest: Vec<Task> = plan.get(&TaskKind::MotherRest).map(|p| p.task).into_iter().collect();
                renew(plan, &rest, &|_| false, over, now)
            }
        }
    }

    /// Drops what calendars have had time enough to hear of. True when there was any.
    fn drop_old(&mut self, now: Time) -> bool {
        let mut dropped = false;
        self.work.plans.retain(|_, plan| {
            let before = plan.len();
            plan.retain(|_, p| p.cancelled.unwrap_or(p.task.latest) + KEPT > now);
            dropped |= plan.len() < before;
            !plan.is_empty()
        });
        dropped
    }

    /// The tasks of a clutch by its projection; none before its first reading.
    fn tasks_of(&self, id: &ClutchId) -> Vec<Task> {
        let projection = self.tracked.get(id).and_then(|t| t.projection.as_ref());
        let Some((projection, clutch)) = projection.zip(self.account.clutch(id)) else { return Vec::new() };
        let mut all = tasks(projection, clutch.taken, &LeadTimes::default());
        if clutch.alive == Some(0) {
            all.retain(|t| t.kind == TaskKind::MotherRest); // nobody is left to hatch
        }
        if clutch.is_group() {
            all.retain(|t| t.kind != TaskKind::MotherRest); // its members' mothers rest
        }
        all
    }

    /// What there is to do, by its likeliest time. A rest that is over leaves nothing to record, so it is not listed.
    pub(super) fn task_views(&self, now: Time) -> Vec<TaskView> {
        let mut all: Vec<TaskView> = Vec::new();
        for id in self.tracked.keys() {
            let open = |t: &Task| t.kind != TaskKind::MotherRest || t.latest > now;
            all.extend(self.tasks_of(id).into_iter().filter(open).filter_map(|t| self.task_view(id, t)));
        }
        all.sort_by_key(|t| t.likeliest);
        all
    }

    fn task_view(&self, id: &ClutchId, task: Task) -> Option<TaskView> {
        let clutch = self.account.clutch(id)?;
        let hers = task.kind == TaskKind::MotherRest;
        Some(TaskView {
            clutch: id.clone(),
            fish: clutch.fish.clone(),
            vessel: clutch.place_now().filter(|_| !hers).cloned(),
            mother: clutch.mother.clone().filter(|_| hers),
            task: task.kind.word(),
            title: task.kind.title(),
            earliest: task.earliest,
            likeliest: task.likeliest,
            latest: task.latest,
            reason: task.kind.reason(),
        })
    }

    /// What calendars are told, and where they ask.
    pub fn calendar_view(&self) -> CalendarView {
        let address = self.work.address.clone();
        let plans = self.work.plans.iter().flat_map(|(id, plan)| plan.values().map(move |p| (id, p)));
        CalendarView {
            room: self.setup.room.to_string(),
            zone: self.setup.zone.name().to_owned(),
            moves_over: self.setup.moves_over,
            address: address.map(|a| Address { token: a.token, since: a.since, by: a.by }),
            entries: plans.filter_map(|(id, p)| self.calendar_entry(id, p)).collect(),
        }
    }

    fn calendar_entry(&self, id: &ClutchId, published: &Published) -> Option<CalendarEntry> {
        let Task { kind, earliest, likeliest, latest } = published.task;
        Some(CalendarEntry {
            clutch: id.clone(),
            fish: self.account.clutch(id)?.fish.clone(),
            task: kind.word(),
            title: kind.title(),
            reason: kind.reason(),
            earliest,
            likeliest,
            latest,
            sequence: published.sequence,
            stamp: published.stamp,
            cancelled: published.cancelled.is_some(),
        })
    }

    /// Whether calendars have no address to ask at yet.
    pub fn wants_address(&self) -> bool {
        self.work.address.is_none()
    }

    /// Calendars ask under this token from now on, and under no other. It must be one that nobody can guess, which a room
    /// cannot draw itself.
    pub fn set_address(&mut self, token: String, by: Option<&str>, now: Time, out: &mut Outcome) {
        let address = AddressNote { token, since: now, by: by.map(str::to_owned) };
        out.batch.notes.push((ADDRESS_NOTE.to_owned(), serde_json::to_string(&address).unwrap_or_default()));
        self.work.address = Some(address);
    }

    /// Takes in what was published before a restart.
    pub(super) fn restore_work(&mut self, plans: Option<&str>, address: Option<&str>) -> Result<(), String> {
        if let Some(note) = plans {
            self.work.plans = serde_json::from_str(note).map_err(|e| format!("note {NOTE}: {e}"))?;
        }
        if let Some(note) = address {
            self.work.address =
                Some(serde_json::from_str(note).map_err(|e| format!("note {ADDRESS_NOTE}: {e}"))?);
        }
        Ok(())
    }
}
