//! One cause, one alarm. What goes at once is announced once, by an alarm that stands for all of it; what it stands for is
//! suppressed beneath it and goes on being judged.
//!
//! | goes | stands for it |
//! |---|---|
//! | all tumblers of an air line | the line, air stopped |
//! | all probes of a device | the device, silent |
//! | several devices | the room, silent |
//! | whatever falls silent while the mains or the broker are gone | that power cut, that broker |
//! | air that stops within [`TOGETHER`] of a power cut | the power cut |
//!
//! It is decided at the first of them to be raised, by what the others show at that moment, so that nobody waits for it.
//! When the first of them is well again the others have [`GRACE`]; then they call for themselves.

use crate::{
    Alarm, AlarmKey, Cause, Condition, Flag, Flagging, Panel, Place, Settings, Side, State, Transition,
};
use std::collections::BTreeSet;
use units::{Span, Time};

/// What begins within this time of a cause belongs to it. A planning value: two readings of a slow probe.
pub const TOGETHER: Span = Span::minutes(2);
/// How long the rest has when the first is well again. A planning value: what devices need to come back.
pub const GRACE: Span = Span::minutes(3);

impl Panel {
    /// Says with what an alarm shares causes.
    pub fn shares(&mut self, key: &AlarmKey, with: Option<Place>) {
        let Some(alarm) = self.alarms.get_mut(key).filter(|a| a.shares != with) else { return };
        alarm.shares = with;
        self.touched(key);
    }

    /// What is suppressed beneath an alarm that stands for it.
    pub fn under<'a>(&'a self, head: &AlarmKey) -> impl Iterator<Item = &'a Alarm> + use<'a> {
        let head = head.to_string();
        self.alarms.values().filter(move |a| under(a, &head))
    }

    /// The alarm that stands for this one, if it is beneath one.
    pub fn head(&self, key: &AlarmKey) -> Option<&Alarm> {
        self.alarms.get(&head_of(self.alarms.get(key)?)?)
    }

    /// Puts fresh alarms under what stands for them, and takes them out again.
    pub(crate) fn fold(&mut self, moved: Vec<Transition>, now: Time) -> Vec<Transition> {
        let mut all = Vec::with_capacity(moved.len());
        for step in moved {
            if step.announce && matches!(step.cause, Cause::Condition | Cause::Unflagged(_)) {
                self.fold_one(step, now, &mut all);
            } else {
                let over = !step.to.standing() && step.from.standing();
                let key = step.key.clone();
                all.push(step);
                if over {
                    self.well_again(&key, now, &mut all);
                }
            }
        }
        self.end_causes(now, &mut all);
        all
    }

    fn fold_one(&mut self, step: Transition, now: Time, all: &mut Vec<Transition>) {
        let again = matches!(step.cause, Cause::Unflagged(_));
        let Some(head) = self.standing_cause(&step, again).or_else(|| self.new_cause(&step, now, again))
        else {
            return all.push(step);
        };
        all.extend(self.raise_cause(&head, step.since, now));
        let mut beneath = self.explained(&head, now);
        beneath.push(step.key.clone());
        for key in beneath {
            let from = if key == step.key { step.from } else { State::Unacknowledged };
            if let Some(alarm) = self.alarms.get_mut(&key) {
                let why = format!("it is part of {head}");
                let put = alarm.flag(Flag::Suppressed, Flagging::new(head.to_string(), why, now));
                alarm.announced = None;
                all.push(Transition { from, ..put });
            }
        }
    }

    /// An alarm that stands already and explains this one. What was let out from under one is not put back.
    fn standing_cause(&self, step: &Transition, again: bool) -> Option<AlarmKey> {
        let member = self.alarms.get(&step.key).filter(|a| !again && !a.is_cause())?;
        // The order of the keys puts what is wider first: the room before lines and devices.
        let mut heads = self.alarms.values().filter(|a| a.detector.on && a.key != step.key);
        heads.find(|head| explains(head, member, step.since)).map(|head| head.key.clone())
    }

    /// What has called before, is taken on by nobody, and is explained by an alarm that has just come.
    fn explained(&self, head: &AlarmKey, now: Time) -> Vec<AlarmKey> {
        let Some(head) = self.alarms.get(head) else { return Vec::new() };
        let open = |a: &&Alarm| {
            let called = a.announced.is_some_and(|t| t < now);
            a.state == State::Unacknowledged
                && called
                && a.flags.is_empty()
                && !a.is_cause()
                && a.key != head.key
        };
        let explained = |a: &&Alarm| a.since.is_some_and(|since| explains(head, a, since));
        self.alarms.values().filter(open).filter(explained).map(|a| a.key.clone()).collect()
    }

    /// A cause that shows itself now: others that share it are gone too.
    fn new_cause(&self, step: &Transition, now: Time, again: bool) -> Option<AlarmKey> {
        let member = self.alarms.get(&step.key).filter(|a| !a.is_cause())?;
        match member.key.condition {
            Condition::AirStopped => self.still_line(member),
            Condition::Silent => self.silent_cause(member, now, again),
            _ => None,
        }
    }

    /// The line of a tumbler, if a second one on it lies still with it and none has been seen to turn since.
    fn still_line(&self, member: &Alarm) -> Option<AlarmKey> {
        let (line, since) = (member.shares.as_ref()?, member.since?);
        let head = AlarmKey::of(line.clone(), Condition::AirStopped);
        let began = |a: &Alarm| if a.detector.on { a.since } else { a.detector.pending };
        let before = |a: &Alarm| began(a).is_some_and(|t| t + TOGETHER < since);
        let watched = |a: &&Alarm| {
            a.key.condition == Condition::AirStopped && a.shares.as_ref() == Some(line) && a.flags.is_empty()
        };
        let (mut still, mut turning) = (0, false);
        for other in self.alarms.values().filter(watched).filter(|a| !before(a)) {
            let known = other.detector.newest.is_some_and(|t| t > since);
            still += usize::from(began(other).is_some());
            turning |= began(other).is_none() && known;
        }
        (still > 1 && !turning && !self.is_on(&head)).then_some(head)
    }

    /// The room, if several devices are down; the device, if it has more probes than this one and all are.
    fn silent_cause(&self, member: &Alarm, now: Time, again: bool) -> Option<AlarmKey> {
        let down = self.down(member, now);
        let (own, room) = (device(member), AlarmKey::room(Condition::Silent));
        if !down.contains(&own) {
            return None;
        }
        if down.len() > 1 && !(again && self.is_on(&room)) {
            return Some(room);
        }
        let probes = self.silences().filter(|a| device(a) == own).count();
        (probes > 1).then(|| AlarmKey::of(own, Condition::Silent))
    }

    /// Devices of which nothing was heard for two thirds of the patience that has run out now, while one of their probes
    /// should have spoken.
    fn down(&self, member: &Alarm, now: Time) -> BTreeSet<Place> {
        let since = member.since.or(member.detector.newest).unwrap_or(now);
        let late = |a: &Alarm| {
            let heard = a.detector.newest.unwrap_or(now);
            let together = heard + TOGETHER >= since; // what has been silent for long has another cause
            let misses = now - heard >= two_thirds(a.settings.on_delay);
            together && (misses || a.detector.gone_until.is_some() || a.detector.on)
        };
        let long = two_thirds(member.settings.on_delay.min(crate::GONE));
        let talks = |a: &Alarm| a.detector.newest.is_some_and(|heard| now - heard < long);
        let mut down: BTreeSet<Place> = self.silences().filter(|a| late(a)).map(device).collect();
        for alive in self.silences().filter(|a| talks(a)) {
            down.remove(&device(alive));
        }
        down
    }

    fn silences(&self) -> impl Iterator<Item = &Alarm> {
        self.alarms.values().filter(|a| a.settings.side == Side::Silence)
    }

    fn is_on(&self, key: &AlarmKey) -> bool {
        self.alarms.get(key).is_some_and(|a| a.detector.on)
    }

    fn raise_cause(&mut self, head: &AlarmKey, since: Time, now: Time) -> Vec<Transition> {
        let settings = match head.condition {
            Condition::AirStopped => Settings::line_stopped(),
            _ => Settings::told(),
        };
        let alarm = self.alarms.entry(head.clone()).or_insert_with(|| Alarm::new(head.clone(), settings));
        let mut moved = Vec::new();
        alarm.lapse(now, &mut moved);
        if !alarm.detector.on {
            alarm.turn(true, since, now, &mut moved);
        }
        self.touched(head);
        moved
    }

    /// An alarm is over: what it was part of lets it out, and what was beneath it has a while to follow.
    fn well_again(&mut self, key: &AlarmKey, now: Time, all: &mut Vec<Transition>) {
        let Some(alarm) = self.alarms.get_mut(key) else { return };
        let (own, silent) = (device(alarm), alarm.settings.side == Side::Silence);
        if let Some(head) = head_of(alarm) {
            all.extend(alarm.unflag(Flag::Suppressed, now));
            self.loosen(&head, now);
            if silent {
                self.rearm(|a| device(a) == own, now, all);
            }
        }
        if matches!(key.condition, Condition::PowerCut | Condition::BrokerLost) {
            let head = key.to_string();
            self.rearm(|a| under(a, &head), now, all);
            self.loosen(key, now);
        }
    }

    /// Gives what is left beneath an alarm a while to be well again too.
    fn loosen(&mut self, head: &AlarmKey, now: Time) {
        let name = head.to_string();
        let left: Vec<AlarmKey> =
            self.alarms.values().filter(|a| under(a, &name)).map(|a| a.key.clone()).collect();
        for key in left {
            let Some(alarm) = self.alarms.get_mut(&key) else { continue };
            let until = now + GRACE.max(alarm.settings.on_delay);
            alarm.flags.end_by(Flag::Suppressed, until);
            self.touched(&key);
        }
    }

    /// Probes of what is heard again get their usual patience from now on.
    fn rearm(&mut self, of: impl Fn(&Alarm) -> bool, now: Time, all: &mut Vec<Transition>) {
        let chosen = |a: &&mut Alarm| a.settings.side == Side::Silence && a.detector.on;
        let mut keys = Vec::new();
        for alarm in self.alarms.values_mut().filter(chosen).filter(|a| head_of(a).is_some() && of(a)) {
            (alarm.detector.newest, alarm.detector.counts_from) = (Some(now), Some(now));
            alarm.turn(false, now, now, all);
            all.extend(alarm.unflag(Flag::Suppressed, now));
            keys.push(alarm.key.clone());
        }
        keys.iter().for_each(|key| self.touched(key));
    }

    /// Ends what stands for nothing any more.
    pub(crate) fn end_causes(&mut self, now: Time, all: &mut Vec<Transition>) {
        let over: Vec<AlarmKey> = self
            .alarms
            .values()
            .filter(|a| a.is_cause() && a.detector.on && !self.under(&a.key).any(|m| m.detector.on))
            .map(|a| a.key.clone())
            .collect();
        for key in over {
            if let Some(alarm) = self.alarms.get_mut(&key) {
                alarm.turn(false, now, now, all);
            }
            self.touched(&key);
        }
    }
}

impl Alarm {
    /// Whether it stands only for others: a line, a device, the room that is silent.
    pub fn is_cause(&self) -> bool {
        self.settings.side == Side::Told
            && matches!(self.key.condition, Condition::AirStopped | Condition::Silent)
    }
}

/// Whether what has begun at `since` has its cause in what stands already.
fn explains(head: &Alarm, member: &Alarm, since: Time) -> bool {
    let together = head.since.is_some_and(|began| since <= began + TOGETHER);
    match (member.key.condition, head.key.condition, &head.key.place) {
        (Condition::Silent, Condition::PowerCut | Condition::BrokerLost, _) => true,
        (Condition::AirStopped, Condition::PowerCut, _) => together,
        (Condition::Silent, Condition::Silent, Place::Room) => together,
        (Condition::Silent, Condition::Silent, place) => head.is_cause() && device(member) == *place,
        (Condition::AirStopped, Condition::AirStopped, line) => {
            head.is_cause() && together && member.shares.as_ref() == Some(line)
        }
        _ => false,
    }
}

fn two_thirds(span: Span) -> Span {
    Span::from_millis(span.millis() / 3 * 2)
}

/// The device of a probe, or its vessel where no device is known.
fn device(alarm: &Alarm) -> Place {
    alarm.shares.clone().unwrap_or_else(|| alarm.key.place.clone())
}

/// What stands for an alarm that is beneath something.
fn head_of(alarm: &Alarm) -> Option<AlarmKey> {
    alarm.flags.get(Flag::Suppressed)?.by.parse().ok()
}

fn under(alarm: &Alarm, head: &str) -> bool {
    alarm.flags.get(Flag::Suppressed).is_some_and(|f| f.by == head)
}
