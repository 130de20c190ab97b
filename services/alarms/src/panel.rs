//! All alarms of a room.

use crate::detector::Detector;
use crate::{Alarm, AlarmKey, Cause, Condition, Flags, Place, Settings, Side, State, Transition};
use std::collections::{BTreeMap, BTreeSet};
use units::{Quantity, Span, Time, VesselId};

/// A device that has said that it goes is waited for so long: most losses of Wi-Fi are over by then. A planning value.
pub const GONE: Span = Span::minutes(3);

/// All alarms of a room, those at rest too.
#[derive(Debug, Default)]
pub struct Panel {
    pub(crate) alarms: BTreeMap<AlarmKey, Alarm>,
    pub(crate) changed: BTreeSet<AlarmKey>,
    /// No delay runs out, no flag ends and nothing calls again before this, so that a tick of a large room need not ask every alarm. Never later than
    /// the truth: it only goes back when an alarm is touched, and is found anew when it has come.
    pub(crate) idle_until: Option<Time>,
}

impl Panel {
    /// Watches nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Begins to watch, or renews the settings of what is watched. `heard` is the moment from which silence counts: the
    /// last reading, or now. A delay that is running is judged by the new limit: readings that show the change by both
    /// limits go on counting, otherwise it starts at the newest reading or not at all.
    pub fn watch(&mut self, key: AlarmKey, settings: Settings, heard: Time) {
        let alarm = self.alarms.entry(key).or_insert_with_key(|key| Alarm::new(key.clone(), settings));
        if alarm.renew(settings) {
            self.changed.insert(alarm.key.clone());
        }
        if settings.side == Side::Silence && alarm.detector.newest.is_none() {
            alarm.detector.newest = Some(heard).max(alarm.detector.counts_from);
        }
        self.idle_until = sooner(self.idle_until, alarm);
    }

    /// Ends a watch, e.g. when a tumbler has been emptied: an alarm that stands is over, and so are its flags.
    pub fn unwatch(&mut self, key: &AlarmKey, now: Time) -> Vec<Transition> {
        let Some(mut alarm) = self.alarms.remove(key) else { return Vec::new() };
        self.changed.insert(key.clone());
        if alarm.state == State::Normal {
            return Vec::new();
        }
        alarm.flags = Flags::default();
        let mut moved = vec![alarm.move_to(State::Normal, false, now, Cause::Unwatched)];
        self.end_causes(now, &mut moved);
        moved
    }

    /// Takes in a fresh reading measured at `t`. Late readings must not be given: they neither raise nor clear.
    pub fn reading(
        &mut self,
        vessel: &VesselId,
        quantity: Quantity,
        t: Time,
        value: f64,
        now: Time,
    ) -> Vec<Transition> {
        let mut moved = Vec::new();
        for key in keys_of(vessel, quantity) {
            self.sample(key, t, value, now, &mut moved);
        }
        self.note(moved, now)
    }

    /// Takes in what was worked out from readings up to `t` for one alarm, e.g. how long water stays in its band.
    pub fn derived(&mut self, key: AlarmKey, t: Time, value: f64, now: Time) -> Vec<Transition> {
        let mut moved = Vec::new();
        self.sample(key, t, value, now, &mut moved);
        self.note(moved, now)
    }

    fn sample(&mut self, key: AlarmKey, t: Time, value: f64, now: Time, moved: &mut Vec<Transition>) {
        let Some(alarm) = self.alarms.get_mut(&key) else { return };
        let before = alarm.detector;
        alarm.sample(t, value, now, moved);
        self.idle_until = sooner(self.idle_until, alarm);
        let kept = |d: &Detector| (d.on, d.pending, d.gone_until);
        if kept(&before) != kept(&alarm.detector) {
            self.changed.insert(key);
        }
    }

    /// Tells a condition from outside.
    pub fn set(&mut self, key: &AlarmKey, on: bool, now: Time) -> Vec<Transition> {
        if !on && !self.alarms.contains_key(key) {
            return Vec::new();
        }
        let alarm =
            self.alarms.entry(key.clone()).or_insert_with(|| Alarm::new(key.clone(), Settings::told()));
        let mut moved = Vec::new();
        alarm.lapse(now, &mut moved);
        if alarm.detector.on != on {
            alarm.turn(on, now, now, &mut moved);
        }
        self.idle_until = sooner(self.idle_until, alarm);
        self.note(moved, now)
    }

    /// The device of a probe has said that it goes: unless a reading comes before, its silence stands after [`GONE`], however
    /// seldom the probe speaks. Nothing else is known by that, least of all that air has stopped.
    pub fn gone(&mut self, vessel: &VesselId, quantity: Quantity, now: Time) {
        let key = AlarmKey::silent(vessel, quantity);
        let Some(alarm) = self.alarms.get_mut(&key).filter(|a| !a.detector.on) else { return };
        alarm.detector.gone_until.get_or_insert(now + GONE);
        self.idle_until = sooner(self.idle_until, alarm);
        self.changed.insert(key);
    }

    /// The device has said that it is back: its probe has its usual time again. That it is silent, if it stands, ends with a reading.
    pub fn returned(&mut self, vessel: &VesselId, quantity: Quantity) {
        let key = AlarmKey::silent(vessel, quantity);
        let waits = |a: &&mut Alarm| !a.detector.on && a.detector.gone_until.is_some();
        if let Some(alarm) = self.alarms.get_mut(&key).filter(waits) {
            alarm.detector.gone_until = None;
            self.changed.insert(key);
        }
    }

    /// Lets time pass: delays run out, flags end, and what nobody has taken on calls again.
    pub fn tick(&mut self, now: Time) -> Vec<Transition> {
        if self.idle_until.is_none_or(|until| now < until) {
            return Vec::new();
        }
        let mut moved = Vec::new();
        for alarm in self.alarms.values_mut() {
            alarm.pass(now, &mut moved);
        }
        self.idle_until = self.alarms.values().filter_map(Alarm::due).min();
        self.note(moved, now)
    }

    /// When [`Panel::tick`] is to be called next. It may find nothing to do then: a probe that is heard puts its
    /// silence off, and that is looked up only when the time has come.
    pub fn next_due(&self) -> Option<Time> {
        self.idle_until
    }

    /// Alarms that stand, are latched, or have gone unseen, and are not under a flag.
    pub fn standing(&self) -> impl Iterator<Item = &Alarm> {
        self.alarms.values().filter(|a| a.state != State::Normal && a.flags.is_empty())
    }

    /// Alarms that are under a flag, whatever goes on beneath it.
    pub fn flagged(&self) -> impl Iterator<Item = &Alarm> {
        self.alarms.values().filter(|a| !a.flags.is_empty())
    }

    /// Every place that has an alarm, at rest or not.
    pub fn places(&self) -> impl Iterator<Item = &Place> {
        self.alarms.keys().map(|key| &key.place)
    }

    /// The alarm, if it is watched.
    pub fn get(&self, key: &AlarmKey) -> Option<&Alarm> {
        self.alarms.get(key)
    }

    /// Whether a probe is silent.
    pub fn is_silent(&self, vessel: &VesselId, quantity: Quantity) -> bool {
        self.alarms.get(&AlarmKey::silent(vessel, quantity)).is_some_and(|a| a.detector.on)
    }

    /// Puts an alarm back that was kept before a restart.
    pub fn restore(&mut self, alarm: Alarm) {
        self.idle_until = sooner(self.idle_until, &alarm);
        self.alarms.insert(alarm.key.clone(), alarm);
    }

    /// Tells the newest fresh reading from before a restart to the alarms that watch it: it moves nothing, but words quote
    /// it and older readings are left out. Only where settings have changed over the restart it is judged by the new ones.
    pub fn recall(&mut self, vessel: &VesselId, quantity: Quantity, t: Time, value: f64) {
        for key in keys_of(vessel, quantity) {
            let alarm = self.alarms.get_mut(&key).filter(|a| a.settings.side != Side::Silence);
            if let Some(alarm) = alarm {
                alarm.recall(t, value);
                self.idle_until = sooner(self.idle_until, alarm);
            }
        }
    }

    /// Alarms of which a restart needs to know more than before; empties the list. One that is not watched any more is
    /// among them.
    pub fn take_changed(&mut self) -> Vec<AlarmKey> {
        std::mem::take(&mut self.changed).into_iter().collect()
    }

    /// Every step passes here: what has one cause is put under one alarm, and what has changed is remembered.
    pub(crate) fn note(&mut self, moved: Vec<Transition>, now: Time) -> Vec<Transition> {
        let moved = if moved.is_empty() { moved } else { self.fold(moved, now) };
        self.changed.extend(moved.iter().map(|t| t.key.clone()));
        moved
    }

    /// Remembers that a restart needs to know more of an alarm, and when it is due.
    pub(crate) fn touched(&mut self, key: &AlarmKey) {
        self.changed.insert(key.clone());
        if let Some(alarm) = self.alarms.get(key) {
            self.idle_until = sooner(self.idle_until, alarm);
        }
    }
}

/// The earlier of a time and when time alone moves this alarm.
pub(crate) fn sooner(until: Option<Time>, alarm: &Alarm) -> Option<Time> {
    [until, alarm.due()].into_iter().flatten().min()
}

/// The alarms that a reading can move.
fn keys_of(vessel: &VesselId, quantity: Quantity) -> Vec<AlarmKey> {
    let mut keys = vec![AlarmKey::silent(vessel, quantity)];
    keys.extend(match quantity {
        Quantity::AirFlow | Quantity::WaterFlow | Quantity::BubbleRate | Quantity::AirSwitch => {
            vec![AlarmKey::at(vessel, Condition::AirStopped)]
        }
        Quantity::Temperature => {
            vec![AlarmKey::at(vessel, Condition::TooWarm), AlarmKey::at(vessel, Condition::TooCold)]
        }
        Quantity::MainsSwitch => vec![AlarmKey::at(vessel, Condition::PowerCut)],
        Quantity::LeakSwitch => vec![AlarmKey::at(vessel, Condition::Leak)],
        Quantity::Level | Quantity::LevelSwitch => vec![AlarmKey::at(vessel, Condition::LevelLow)],
        _ => Vec::new(),
    });
    keys
}
