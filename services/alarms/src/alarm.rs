//! One alarm: its condition, its state, and what has become of it.

use crate::detector::Detector;
use crate::{AlarmKey, Rules, Settings, Side, State, Trigger, step};
use serde::{Deserialize, Serialize};
use units::Time;

/// One alarm. Serialised, it is what a restart needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Alarm {
    /// Which.
    pub key: AlarmKey,
    /// When it is raised and cleared.
    pub settings: Settings,
    /// Where it stands in its life cycle.
    pub state: State,
    /// When the condition began: the first reading that showed it, or the last that was heard.
    pub since: Option<Time>,
    /// When the condition ended, while the alarm has not been seen.
    pub ended: Option<Time>,
    /// Who took it on, and when.
    pub acknowledged: Option<(String, Time)>,
    /// Newest value of the probe it watches.
    #[serde(skip)]
    pub value: Option<f64>,
    pub(crate) detector: Detector,
}

/// A step of an alarm in its life cycle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Transition {
    /// Which alarm.
    pub key: AlarmKey,
    /// When.
    pub at: Time,
    /// From this state.
    pub from: State,
    /// To this one.
    pub to: State,
    /// Whether somebody is to be called.
    pub announce: bool,
    /// When the condition began.
    pub since: Time,
    /// Value of the probe then.
    pub value: Option<f64>,
}

impl Alarm {
    pub(crate) fn new(key: AlarmKey, settings: Settings) -> Self {
        Self {
            key,
            settings,
            state: State::Normal,
            since: None,
            ended: None,
            acknowledged: None,
            value: None,
            detector: Detector::new(),
        }
    }

    /// Moves through the life cycle.
    pub(crate) fn pull(&mut self, trigger: Trigger, at: Time) -> Option<Transition> {
        let rules = Rules { latching: self.settings.latching, ack_required: self.settings.ack_required };
        let from = self.state;
        let (to, announce) = step(from, trigger, rules);
        self.state = to;
        let since = self.since.unwrap_or(at);
        let value = self.value;
        (from != to || announce).then(|| Transition {
            key: self.key.clone(),
            at,
            from,
            to,
            announce,
            since,
            value,
        })
    }

    /// The condition has come or gone.
    pub(crate) fn turn(&mut self, on: bool, since: Time, at: Time) -> Option<Transition> {
        self.detector.on = on;
        self.detector.pending = None;
        if on {
            self.since = Some(since);
            self.ended = None;
            self.acknowledged = None;
            self.pull(Trigger::ConditionTrue, at)
        } else {
            self.ended = Some(since);
            self.pull(Trigger::ConditionFalse, at)
        }
    }

    /// Lets a delay run out that is over at `now`.
    pub(crate) fn mature(&mut self, now: Time) -> Option<Transition> {
        let due = self.detector.due(&self.settings).filter(|due| *due <= now)?;
        let since = self.detector.since(&self.settings).unwrap_or(due);
        self.turn(!self.detector.on, since, now)
    }

    /// Takes a fresh reading in. A device's clock that runs ahead must not put an alarm off.
    pub(crate) fn sample(&mut self, t: Time, value: f64, now: Time) -> Option<Transition> {
        if self.settings.side == Side::Silence {
            return self.heard(now);
        }
        let t = t.min(now);
        if !self.detector.sample(&self.settings, t, value) {
            return None;
        }
        self.value = Some(value);
        // Judged at the sample's own time: an on-delay that would end later ends at a tick.
        let since = self.detector.over(&self.settings, t)?;
        self.turn(!self.detector.on, since, now)
    }

    /// Silence counts from arrival: a device whose clock is slow talks all the same.
    fn heard(&mut self, now: Time) -> Option<Transition> {
        self.detector.newest = self.detector.newest.max(Some(now));
        if self.detector.on { self.turn(false, now, now) } else { None }
    }
}
