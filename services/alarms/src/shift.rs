//! A clock that was set: what an alarm waits for is moved with it, so that no delay is cut short or stretched.

use crate::detector::Detector;
use crate::{Alarm, Flags, Panel};
use units::{Span, Time};

impl Panel {
    /// The clock by which this panel is told the time has jumped by `by`: every time that it keeps moves too. Delays have
    /// as long to run as before, "since ten minutes" stays true, and a shelving of 20 min lasts 20 min.
    ///
    /// ```
    /// use alarms::{AlarmKey, Condition, Panel, Settings};
    /// use units::{Quantity, Span, Time, VesselId};
    ///
    /// let tu3 = VesselId::new("TU3").unwrap();
    /// let start = Time::from_millis(0);
    /// let mut panel = Panel::new();
    /// panel.watch(AlarmKey::at(&tu3, Condition::AirStopped), Settings::air_stopped(0.15), start);
    /// panel.reading(&tu3, Quantity::AirFlow, start, 0.0, start); // 20 s to go
    ///
    /// let hour = Span::hours(1);
    /// panel.shift(hour);
    /// assert_eq!(panel.tick(start + hour + Span::seconds(19)), []);
    /// assert_eq!(panel.tick(start + hour + Span::seconds(20)).len(), 1);
    /// ```
    pub fn shift(&mut self, by: Span) {
        for alarm in self.alarms.values_mut() {
            if alarm.shift(by) {
                self.changed.insert(alarm.key.clone());
            }
        }
        moved(&mut self.idle_until, by);
    }
}

impl Alarm {
    /// True if a restart needs to know of it.
    fn shift(&mut self, by: Span) -> bool {
        moved(&mut self.detector.newest, by); // not kept
        let times = [&mut self.since, &mut self.ended, &mut self.announced];
        let mut any = times.into_iter().fold(false, |any, t| moved(t, by) | any);
        if let Some((_, at)) = &mut self.acknowledged {
            *at += by;
            any = true;
        }
        any | self.detector.shift(by) | self.flags.shift(by)
    }
}

impl Detector {
    fn shift(&mut self, by: Span) -> bool {
        moved(&mut self.pending, by) | moved(&mut self.gone_until, by) | moved(&mut self.counts_from, by)
    }
}

impl Flags {
    fn shift(&mut self, by: Span) -> bool {
        self.each(|flagging| {
            flagging.at += by;
            moved(&mut flagging.until, by);
        });
        !self.is_empty()
    }
}

/// Moves a time, if there is one.
fn moved(t: &mut Option<Time>, by: Span) -> bool {
    if let Some(t) = t {
        *t += by;
    }
    t.is_some()
}
