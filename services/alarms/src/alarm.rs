//! One alarm: its condition, its state, and what has become of it.

use crate::detector::Detector;
use crate::{AlarmKey, Cause, Flags, Place, Rules, Settings, Shown, Side, State, Transition, Trigger, step};
use serde::{Deserialize, Serialize};
use units::{Span, Time};

/// How long an alarm may stand before it says nothing any more: ISA-18.2-2009 clause 16, EEMUA 191 (from memory).
const STALE: Span = Span::hours(24);

/// One alarm. Serialised, it is what a restart needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Alarm {
    /// Which.
    pub key: AlarmKey,
    /// When it is raised and cleared.
    pub settings: Settings,
    /// Where it stands among the six main states. They go on beneath flags: [`Alarm::shown`] is what to show.
    pub state: State,
    /// When the condition began: the first reading that showed it, or the last that was heard.
    pub since: Option<Time>,
    /// When the condition ended, while the alarm has not been seen.
    pub ended: Option<Time>,
    /// Who took it on, and when.
    pub acknowledged: Option<(String, Time)>,
    /// When somebody was last called for it since it stands. Not under flags.
    #[serde(default)]
    pub announced: Option<Time>,
    /// What keeps it quiet.
    #[serde(default, skip_serializing_if = "Flags::is_empty")]
    pub flags: Flags,
    /// With what it shares causes: a silent probe with its device, still air with its line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shares: Option<Place>,
    /// Newest value of the probe it watches.
    #[serde(skip)]
    pub value: Option<f64>,
    pub(crate) detector: Detector,
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
            announced: None,
            flags: Flags::default(),
            shares: None,
            value: None,
            detector: Detector::new(),
        }
    }

    /// What it is to be shown as: the flag that holds, else its main state.
    pub fn shown(&self) -> Shown {
        Shown::of(self.state, self.flags.shown())
    }

    /// Whether it has stood for more than 24 h, acknowledged or not: its limit is wrong, or nobody can mend it.
    pub fn is_stale(&self, now: Time) -> bool {
        self.state.standing() && self.since.is_some_and(|since| now - since > STALE)
    }

    pub(crate) fn rules(&self) -> Rules {
        Rules { latching: self.settings.latching, ack_required: self.settings.ack_required }
    }

    /// Moves through the life cycle; nobody is called under a flag.
    pub(crate) fn pull(&mut self, trigger: Trigger, at: Time) -> Option<Transition> {
        let (to, announce) = step(self.state, trigger, self.rules());
        let announce = announce && self.flags.is_empty();
        (self.state != to || announce).then(|| self.move_to(to, announce, at, Cause::of(trigger)))
    }

    pub(crate) fn move_to(&mut self, to: State, announce: bool, at: Time, cause: Cause) -> Transition {
        let from = std::mem::replace(&mut self.state, to);
        if announce {
            self.announced = Some(at);
        }
        Transition {
            key: self.key.clone(),
            at,
            from,
            to,
            announce,
            since: self.since.unwrap_or(at),
            value: self.value,
            cause,
            flag: self.flags.shown(),
        }
    }

    /// The condition has come or gone.
    pub(crate) fn turn(&mut self, on: bool, since: Time, at: Time, moved: &mut Vec<Transition>) {
        self.detector.on = on;
        self.detector.pending = None;
        self.detector.gone_until = None;
        if on {
            self.since = Some(since);
            self.ended = None;
            self.acknowledged = None;
            self.announced = None;
            moved.extend(self.pull(Trigger::ConditionTrue, at));
        } else {
            self.ended = Some(since);
            moved.extend(self.pull(Trigger::ConditionFalse, at));
            self.end_once(at, moved);
        }
    }

    /// Lets a delay run out that is over at `now`.
    pub(crate) fn mature(&mut self, now: Time, moved: &mut Vec<Transition>) {
        if let Some(due) = self.detector.due(&self.settings).filter(|due| *due <= now) {
            let since = self.detector.since(&self.settings).unwrap_or(due);
            self.turn(!self.detector.on, since, now, moved);
        }
    }

    /// Takes a fresh reading in. A device's clock that runs ahead must not put an alarm off.
    pub(crate) fn sample(&mut self, t: Time, value: f64, now: Time, moved: &mut Vec<Transition>) {
        self.lapse(now, moved);
        if self.settings.side == Side::Silence {
            return self.heard(now, moved);
        }
        let t = t.min(now);
        if !self.detector.sample(&self.settings, t, value) {
            return;
        }
        self.value = Some(value);
        // Judged at the sample's own time: an on-delay that would end later ends at a tick.
        if let Some(since) = self.detector.over(&self.settings, t) {
            self.turn(!self.detector.on, since, now, moved);
        }
    }

    /// Takes new settings; true if they judge values otherwise than the old.
    pub(crate) fn renew(&mut self, settings: Settings) -> bool {
        let old = std::mem::replace(&mut self.settings, settings);
        let otherwise = !old.judges_as(&settings);
        if otherwise {
            self.detector.rejudge(&old, &settings, self.value);
        }
        otherwise
    }

    /// Learns the newest reading from before a restart.
    pub(crate) fn recall(&mut self, t: Time, value: f64) {
        self.value = Some(value);
        self.detector.recall(&self.settings, t, value);
    }

    /// Silence counts from arrival: a device whose clock is slow talks all the same.
    fn heard(&mut self, now: Time, moved: &mut Vec<Transition>) {
        self.detector.newest = self.detector.newest.max(Some(now));
        self.detector.gone_until = None;
        if self.detector.on {
            self.turn(false, now, now, moved);
        }
    }
}
