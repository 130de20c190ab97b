//! All alarms of a room.

use crate::{Alarm, AlarmKey, Condition, Settings, Side, State, Transition, Trigger};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use units::{Quantity, Time, VesselId};

/// An alarm that cannot be acknowledged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmError(String);

impl fmt::Display for AlarmError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for AlarmError {}

/// All alarms of a room, those at rest too.
#[derive(Debug, Default)]
pub struct Panel {
    alarms: BTreeMap<AlarmKey, Alarm>,
    changed: BTreeSet<AlarmKey>,
    /// No delay runs out before this, so that a tick of a large room need not ask every alarm. Never later than
    /// the truth: it only goes back when an alarm is touched, and is found anew when it has come.
    idle_until: Option<Time>,
}

impl Panel {
    /// Watches nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Begins to watch, or renews the settings of what is watched. `heard` is the moment from which silence counts: the
    /// last reading, or now.
    pub fn watch(&mut self, key: AlarmKey, settings: Settings, heard: Time) {
        let alarm = self.alarms.entry(key.clone()).or_insert_with(|| Alarm::new(key, settings));
        alarm.settings = settings;
        if settings.side == Side::Silence && alarm.detector.newest.is_none() {
            alarm.detector.newest = Some(heard);
        }
        self.idle_until = sooner(self.idle_until, alarm);
    }

    /// Ends a watch, e.g. when a tumbler has been emptied: an alarm that stands is over.
    pub fn unwatch(&mut self, key: &AlarmKey, now: Time) -> Vec<Transition> {
        let Some(mut alarm) = self.alarms.remove(key) else { return Vec::new() };
        self.changed.insert(key.clone());
        let from = alarm.state;
        if from == State::Normal {
            return Vec::new();
        }
        alarm.state = State::Normal;
        let since = alarm.since.unwrap_or(now);
        vec![Transition {
            key: alarm.key,
            at: now,
            from,
            to: State::Normal,
            announce: false,
            since,
            value: alarm.value,
        }]
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
            let Some(alarm) = self.alarms.get_mut(&key) else { continue };
            let before = alarm.detector;
            moved.extend(alarm.sample(t, value, now));
            self.idle_until = sooner(self.idle_until, alarm);
            if (before.on, before.pending) != (alarm.detector.on, alarm.detector.pending) {
                self.changed.insert(key);
            }
        }
        self.note(moved)
    }

    /// Tells a condition from outside.
    pub fn set(&mut self, key: &AlarmKey, on: bool, now: Time) -> Vec<Transition> {
        if !on && !self.alarms.contains_key(key) {
            return Vec::new();
        }
        let alarm =
            self.alarms.entry(key.clone()).or_insert_with(|| Alarm::new(key.clone(), Settings::told()));
        let moved = if alarm.detector.on == on { None } else { alarm.turn(on, now, now) };
        self.idle_until = sooner(self.idle_until, alarm);
        self.note(moved.into_iter().collect())
    }

    /// The device of a probe has said that it goes: its silence stands at once, and a reading ends it. Nothing else is
    /// known by that, least of all that air has stopped.
    pub fn gone(&mut self, vessel: &VesselId, quantity: Quantity, now: Time) -> Vec<Transition> {
        let alarm = self.alarms.get_mut(&AlarmKey::silent(vessel, quantity)).filter(|a| !a.detector.on);
        let moved = alarm.and_then(|a| a.turn(true, a.detector.newest.unwrap_or(now), now));
        self.note(moved.into_iter().collect())
    }

    /// Lets time pass.
    pub fn tick(&mut self, now: Time) -> Vec<Transition> {
        if self.idle_until.is_none_or(|until| now < until) {
            return Vec::new();
        }
        let moved = self.alarms.values_mut().filter_map(|a| a.mature(now)).collect();
        self.idle_until = self.alarms.values().filter_map(due).min();
        self.note(moved)
    }

    /// When [`Panel::tick`] is to be called next. It may find nothing to do then: a probe that is heard puts its
    /// silence off, and that is looked up only when the time has come.
    pub fn next_due(&self) -> Option<Time> {
        self.idle_until
    }

    /// A person takes an alarm on.
    ///
    /// # Errors
    /// [`AlarmError`] when there is no such alarm.
    pub fn acknowledge(
        &mut self,
        key: &AlarmKey,
        by: &str,
        now: Time,
    ) -> Result<Vec<Transition>, AlarmError> {
        let standing = self.alarms.get_mut(key).filter(|a| a.state != State::Normal);
        let Some(alarm) = standing else {
            return Err(AlarmError(format!("no alarm {key} stands; look at the list again, it may be over")));
        };
        let moved = alarm.pull(Trigger::Acknowledge, now);
        if moved.is_some() {
            alarm.acknowledged = Some((by.to_owned(), now));
        }
        Ok(self.note(moved.into_iter().collect()))
    }

    /// Alarms that stand, are latched, or have gone unseen.
    pub fn standing(&self) -> impl Iterator<Item = &Alarm> {
        self.alarms.values().filter(|a| a.state != State::Normal)
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
    /// it and older readings are left out.
    pub fn recall(&mut self, vessel: &VesselId, quantity: Quantity, t: Time, value: f64) {
        for key in keys_of(vessel, quantity) {
            let alarm = self.alarms.get_mut(&key).filter(|a| a.settings.side != Side::Silence);
            if let Some(alarm) = alarm {
                alarm.value = Some(value);
                alarm.detector.newest = Some(t);
                self.idle_until = sooner(self.idle_until, alarm);
            }
        }
    }

    /// Alarms of which a restart needs to know more than before; empties the list. One that is not watched any more is
    /// among them.
    pub fn take_changed(&mut self) -> Vec<AlarmKey> {
        std::mem::take(&mut self.changed).into_iter().collect()
    }

    fn note(&mut self, moved: Vec<Transition>) -> Vec<Transition> {
        self.changed.extend(moved.iter().map(|t| t.key.clone()));
        moved
    }
}

/// When a delay of this alarm runs out.
fn due(alarm: &Alarm) -> Option<Time> {
    alarm.detector.due(&alarm.settings)
}

/// The earlier of a time and when a delay of this alarm runs out.
fn sooner(until: Option<Time>, alarm: &Alarm) -> Option<Time> {
    [until, due(alarm)].into_iter().flatten().min()
}

/// The alarms that a reading can move.
fn keys_of(vessel: &VesselId, quantity: Quantity) -> Vec<AlarmKey> {
    let mut keys = vec![AlarmKey::silent(vessel, quantity)];
    keys.extend(match quantity {
        Quantity::AirFlow | Quantity::WaterFlow => vec![AlarmKey::at(vessel, Condition::AirStopped)],
        Quantity::Temperature => {
            vec![AlarmKey::at(vessel, Condition::TooWarm), AlarmKey::at(vessel, Condition::TooCold)]
        }
        _ => Vec::new(),
    });
    keys
}
