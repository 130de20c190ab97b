//! What keeps an alarm quiet: shelved, suppressed by design, out of service.

use crate::{AlarmError, Settings, State};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::Time;

/// A state of ANSI/ISA-18.2-2016 (IEC 62682) that lies over the six main ones, letters G to I there. That they are flags
/// and can hold together is the model of OPC 10000-9 (4.8, read). The first that holds, in this order, is shown: a
/// project choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flag {
    /// I: taken out for maintenance.
    OutOfService,
    /// H: quiet by the logic of the room, e.g. while a service is planned.
    Suppressed,
    /// G: put away by a person for a while.
    Shelved,
}

impl Flag {
    /// Every flag, the one that is shown first at the front.
    pub const ALL: [Flag; 3] = [Flag::OutOfService, Flag::Suppressed, Flag::Shelved];

    /// The flag in words.
    pub fn word(self) -> &'static str {
        match self {
            Flag::OutOfService => "out of service",
            Flag::Suppressed => "suppressed",
            Flag::Shelved => "shelved",
        }
    }
}

/// Who set a flag, when, why, and when it ends by itself.
///
/// ```
/// use alarms::Flagging;
/// use units::{Span, Time};
/// let now = Time::from_millis(0);
/// let flagging = Flagging::new("keeper", "cleaning the stone", now).until(now + Span::minutes(20));
/// assert_eq!(flagging.until, Some(Time::from_millis(1_200_000)));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Flagging {
    /// Who.
    pub by: String,
    /// When it was set.
    pub at: Time,
    /// Why, in words.
    pub why: String,
    /// When it ends by itself; `None`: only a person ends it. Shelving always has an end.
    pub until: Option<Time>,
    /// Shelving only: it also ends when the condition goes, or, set while nothing is wrong, when it has come and gone.
    /// One-shot shelving of OPC 10000-9, 5.8.17.1 (read).
    #[serde(default)]
    pub once: bool,
}

impl Flagging {
    /// Without an end.
    pub fn new(by: impl Into<String>, why: impl Into<String>, at: Time) -> Self {
        Self { by: by.into(), at, why: why.into(), until: None, once: false }
    }

    /// Ends by itself at `t`.
    #[must_use]
    pub fn until(self, t: Time) -> Self {
        Self { until: Some(t), ..self }
    }

    /// Ends when the condition goes, and after the longest shelving of the alarm if no other end is given.
    #[must_use]
    pub fn once(self) -> Self {
        Self { once: true, ..self }
    }

    /// What can be set, with the end that it then has.
    pub(crate) fn checked(mut self, flag: Flag, settings: &Settings) -> Result<Self, AlarmError> {
        for (field, said) in [("by", &self.by), ("why", &self.why)] {
            if said.trim().is_empty() {
                return Err(AlarmError(format!(
                    "`{field}` is empty; say who it is, and why the alarm is to be quiet"
                )));
            }
        }
        if let Some(until) = self.until.filter(|until| *until <= self.at) {
            return Err(AlarmError(format!("`until` {until} is not after {}; give a later time", self.at)));
        }
        match flag {
            Flag::Shelved => self.until = Some(self.end_of_shelving(settings)?),
            _ if self.once => {
                let word = flag.word();
                return Err(AlarmError(format!(
                    "`once` is for shelving; give `until`, or end {word} yourself"
                )));
            }
            _ => {}
        }
        Ok(self)
    }

    fn end_of_shelving(&self, settings: &Settings) -> Result<Time, AlarmError> {
        let longest = settings.may_be_shelved_for();
        let last = self.at + longest;
        match self.until {
            Some(until) if until <= last => Ok(until),
            None if self.once => Ok(last),
            Some(until) => Err(AlarmError(format!(
                "`until` {until} is too far: this alarm may be shelved for {longest}, to {last}"
            ))),
            None => Err(AlarmError(format!(
                "shelving has no end; give `until`, at the latest {last}, or take the alarm out of service"
            ))),
        }
    }
}

/// The flags that hold over an alarm.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Flags(BTreeMap<Flag, Flagging>);

impl Flags {
    /// Whether none holds.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The flag that is shown.
    pub fn shown(&self) -> Option<Flag> {
        self.0.keys().next().copied()
    }

    /// Who set this flag, when, why and until when, if it holds.
    pub fn get(&self, flag: Flag) -> Option<&Flagging> {
        self.0.get(&flag)
    }

    /// Those that hold, the one that is shown first at the front.
    pub fn iter(&self) -> impl Iterator<Item = (Flag, &Flagging)> {
        self.0.iter().map(|(flag, flagging)| (*flag, flagging))
    }

    /// When the next of them ends by itself.
    pub fn next_end(&self) -> Option<Time> {
        self.0.values().filter_map(|f| f.until).min()
    }

    /// One that is over at `now`.
    pub(crate) fn over(&self, now: Time) -> Option<Flag> {
        self.iter().find(|(_, f)| f.until.is_some_and(|until| until <= now)).map(|(flag, _)| flag)
    }

    /// Whether any holds beyond `now`.
    pub(crate) fn holding(&self, now: Time) -> Option<(Flag, &Flagging)> {
        self.iter().find(|(_, f)| f.until.is_none_or(|until| until > now))
    }

    pub(crate) fn set(&mut self, flag: Flag, flagging: Flagging) {
        self.0.insert(flag, flagging);
    }

    pub(crate) fn each(&mut self, change: impl FnMut(&mut Flagging)) {
        self.0.values_mut().for_each(change);
    }

    /// Lets a flag end by then at the latest.
    pub(crate) fn end_by(&mut self, flag: Flag, until: Time) {
        if let Some(flagging) = self.0.get_mut(&flag) {
            flagging.until = Some(flagging.until.map_or(until, |old| old.min(until)));
        }
    }

    pub(crate) fn take(&mut self, flag: Flag) -> Option<Flagging> {
        self.0.remove(&flag)
    }
}

/// What an alarm is shown as: one of the nine states of ISA-18.2.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shown {
    /// No flag holds: its main state.
    As(State),
    /// A flag holds; the main state goes on beneath it unseen.
    Under(Flag),
}

impl Shown {
    pub(crate) fn of(state: State, flag: Option<Flag>) -> Self {
        flag.map_or(Shown::As(state), Shown::Under)
    }

    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Shown::As(state) => state.word(),
            Shown::Under(flag) => flag.word(),
        }
    }
}
