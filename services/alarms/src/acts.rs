//! What people do with alarms: take them on, reset them, put them away, take them back.

use crate::panel::sooner;
use crate::{Alarm, AlarmError, AlarmKey, Flag, Flagging, Panel, State, Transition, Trigger};
use units::Time;

impl Panel {
    /// A person takes an alarm on. One that is under a flag cannot be: it comes back unacknowledged in any case.
    ///
    /// # Errors
    /// [`AlarmError`] when there is no such alarm, or a flag holds.
    pub fn acknowledge(
        &mut self,
        key: &AlarmKey,
        by: &str,
        now: Time,
    ) -> Result<Vec<Transition>, AlarmError> {
        let alarm = self.in_sight(key, now)?;
        let mut moved = Vec::new();
        alarm.lapse(now, &mut moved);
        if let Some(taken) = alarm.pull(Trigger::Acknowledge, now) {
            alarm.acknowledged = Some((by.to_owned(), now));
            moved.push(taken);
        }
        Ok(self.note(moved, now))
    }

    /// A person ends an alarm that is latched and acknowledged. On a latching alarm this is what OPC 10000-9 calls
    /// confirming, except that it is refused while the condition stands.
    ///
    /// # Errors
    /// [`AlarmError`] when there is no such alarm, a flag holds, it still stands, or nobody has acknowledged it.
    pub fn reset(&mut self, key: &AlarmKey, now: Time) -> Result<Vec<Transition>, AlarmError> {
        let alarm = self.in_sight(key, now)?;
        match alarm.state {
            State::LatchedAcknowledged => {
                let mut moved = Vec::new();
                alarm.lapse(now, &mut moved);
                moved.extend(alarm.pull(Trigger::Reset, now));
                Ok(self.note(moved, now))
            }
            state if state.standing() => {
                Err(AlarmError(format!("{key} still stands; it can be reset when its condition has gone")))
            }
            _ => Err(AlarmError(format!("{key} has not been acknowledged; acknowledge it first"))),
        }
    }

    /// Shelves, suppresses or takes out of service an alarm that is watched; a flag that holds already is renewed. While
    /// any flag holds the condition is judged as ever, but nothing is announced. Gives one [`Transition`], for the log.
    ///
    /// # Errors
    /// [`AlarmError`] when there is no such alarm, nobody or no reason is named, the end is not later than
    /// `flagging.at`, or shelving is without an end or longer than the alarm's settings allow.
    ///
    /// ```
    /// use alarms::{AlarmKey, Condition, Flag, Flagging, Panel, Settings, Shown};
    /// use units::{Span, Time, VesselId};
    ///
    /// let key = AlarmKey::at(&VesselId::new("V1").unwrap(), Condition::TooWarm);
    /// let now = Time::from_millis(0);
    /// let mut panel = Panel::new();
    /// panel.watch(key.clone(), Settings::too_warm(28.5), now);
    /// panel.flag(&key, Flag::OutOfService, Flagging::new("keeper", "tank is empty", now)).unwrap();
    /// assert_eq!(panel.get(&key).unwrap().shown(), Shown::Under(Flag::OutOfService));
    ///
    /// let endless = Flagging::new("keeper", "new heater", now);
    /// assert!(panel.flag(&key, Flag::Shelved, endless).is_err());
    /// ```
    pub fn flag(
        &mut self,
        key: &AlarmKey,
        flag: Flag,
        flagging: Flagging,
    ) -> Result<Vec<Transition>, AlarmError> {
        let alarm = self.alarms.get_mut(key).ok_or_else(|| unknown(key))?;
        let flagging = flagging.checked(flag, &alarm.settings)?;
        let at = flagging.at;
        let moved = alarm.flag(flag, flagging);
        self.idle_until = sooner(self.idle_until, alarm);
        Ok(self.note(vec![moved], at))
    }

    /// A person, or the logic that set it, ends a flag. With the last flag an alarm whose condition stands is announced
    /// as a fresh one; otherwise it is back to normal, even if it was latched or unseen before.
    ///
    /// # Errors
    /// [`AlarmError`] when there is no such alarm, or the flag does not hold.
    pub fn unflag(&mut self, key: &AlarmKey, flag: Flag, now: Time) -> Result<Vec<Transition>, AlarmError> {
        let alarm = self.alarms.get_mut(key).ok_or_else(|| unknown(key))?;
        let ended = alarm.unflag(flag, now).ok_or_else(|| {
            AlarmError(format!("{key} is not {}; look at the list again, it may be over", flag.word()))
        })?;
        self.idle_until = sooner(self.idle_until, alarm);
        Ok(self.note(vec![ended], now))
    }

    /// The alarm, if it is shown as something that a person can act on.
    fn in_sight(&mut self, key: &AlarmKey, now: Time) -> Result<&mut Alarm, AlarmError> {
        let alarm = self.alarms.get_mut(key).filter(|a| a.state != State::Normal);
        let alarm = alarm.ok_or_else(|| {
            AlarmError(format!("no alarm {key} stands; look at the list again, it may be over"))
        })?;
        match alarm.flags.holding(now) {
            Some((flag, f)) => {
                Err(AlarmError(format!("{key} is {} by {} ({}); end that first", flag.word(), f.by, f.why)))
            }
            None => Ok(alarm),
        }
    }
}

fn unknown(key: &AlarmKey) -> AlarmError {
    AlarmError(format!("no alarm {key} is watched; look at the list again"))
}
