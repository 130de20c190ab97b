//! Where the water of a tank is going: by robust slopes of its last hour and a half, before it is out of its band.

use super::{Outcome, Room};
use alarms::statistics::theil_sen;
use alarms::{AlarmKey, Condition};
use std::collections::BTreeMap;
use store::ReadingRow;
use units::{Band, Quantity, Span, Time, VesselId};

/// How far back a slope looks that is to be no part of a heater's cycle.
const LONG: Span = Span::minutes(90);
/// Over how much of that it must be known at least.
const LEAST: Span = Span::minutes(45);
/// The last while, in which it must still go the same way: after a water change it does not.
const SHORT: Span = Span::minutes(20);
/// Over how much of that.
const LEAST_SHORT: Span = Span::minutes(15);
/// What an hour of steady water may change, K. All of these are planning values.
const STEADY: f64 = 0.1;
/// Hours that stand for "it stays".
const STAYS: f64 = 99.0;

/// The first reading of each minute, as the probe sent it: an offset is no drift. A late one has its place among them, so that
/// a restart finds the same.
#[derive(Debug, Default)]
pub(super) struct Trend(BTreeMap<i64, (Time, f64)>);

/// Water that leaves its band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Leaving {
    pub(super) hours: f64,
    /// Past this end, °C.
    pub(super) limit: f64,
    /// K an hour.
    pub(super) per_hour: f64,
}

impl Trend {
    /// Takes a reading in; true if it is the newest and begins a minute.
    pub(super) fn note(&mut self, t: Time, celsius: f64) -> bool {
        let minute = t.millis().div_euclid(60_000);
        let newest = self.0.last_key_value().is_none_or(|(m, _)| *m < minute);
        let first = self.0.entry(minute).or_insert((t, celsius));
        if t < first.0 {
            *first = (t, celsius);
        }
        if newest {
            let old = (t - LONG).millis().div_euclid(60_000);
            self.0 = self.0.split_off(&(old + 1));
        }
        newest
    }

    /// The clock by which times are told has jumped.
    pub(super) fn shift(&mut self, by: Span) {
        let moved = std::mem::take(&mut self.0).into_values().map(|(t, celsius)| (t + by, celsius));
        self.0 = moved.map(|(t, celsius)| (t.millis().div_euclid(60_000), (t, celsius))).collect();
    }

    /// K an hour over the last `span`, if `least` of it is known.
    fn per_hour(&self, span: Span, least: Span) -> Option<f64> {
        let end = self.0.last_key_value()?.1.0;
        let points: Vec<(Time, f64)> = self.0.values().filter(|(t, _)| *t >= end - span).copied().collect();
        let known = end - points.first()?.0;
        (known >= least).then(|| theil_sen(&points))?.map(|line| line.per_hour)
    }

    /// Whether water that has `celsius` now leaves its band if it goes on so.
    pub(super) fn leaves(&self, celsius: f64, band: Band) -> Option<Leaving> {
        // The short one first: it costs a twentieth, and mostly says enough.
        let short = self.per_hour(SHORT, LEAST_SHORT)?;
        if short.abs() < STEADY || !band.contains(celsius) {
            return None;
        }
        let long = self.per_hour(LONG, LEAST)?;
        let per_hour = if long.abs() <= short.abs() { long } else { short };
        if long * short <= 0.0 || per_hour.abs() < STEADY {
            return None;
        }
        let limit = if per_hour < 0.0 { band.low } else { band.high };
        Some(Leaving { hours: (limit - celsius) / per_hour, limit, per_hour })
    }
}

impl Room {
    /// Judges where the water goes, once a minute.
    pub(super) fn note_trend(&mut self, row: &ReadingRow, now: Time, out: &mut Outcome) {
        let vessel = &row.probe.vessel;
        if row.probe.quantity != Quantity::Temperature || row.probe.mark.is_some() {
            return;
        }
        let newest = self.trends.entry(vessel.clone()).or_default().note(row.time, row.value);
        if newest && row.fresh {
            let hours = self.leaving(vessel, self.corrected(row)).map_or(STAYS, |l| l.hours);
            let key = AlarmKey::at(vessel, Condition::LeavingBand);
            let moved = self.panel.derived(key, row.time, hours, now);
            self.note_transitions(&moved, now, out);
        }
    }

    fn leaving(&self, vessel: &VesselId, celsius: f64) -> Option<Leaving> {
        self.trends.get(vessel)?.leaves(celsius, self.setup.vessel(vessel)?.band?)
    }

    /// When, past which end and how fast, for the words of an alarm.
    pub(super) fn leaving_words(&self, vessel: &VesselId) -> Option<(Time, f64, f64)> {
        let probe = units::ProbeKey::new(vessel.clone(), Quantity::Temperature);
        let last = self.last.get(&probe)?;
        let l = self.leaving(vessel, self.corrected(last))?;
        Some((last.time + Span::from_days(l.hours / 24.0), l.limit, l.per_hour))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BAND: Band = Band { low: 25.5, high: 28.5 };

    fn at(minute: i64) -> Time {
        Time::from_millis(minute * 60_000)
    }

    fn trend(celsius: impl Fn(i64) -> f64, minutes: i64) -> Trend {
        let mut trend = Trend::default();
        (0..minutes).for_each(|m| {
            trend.note(at(m), celsius(m));
        });
        trend
    }

    #[test]
    fn a_steady_fall_says_when() {
        let falling = trend(|m| 27.5 - 0.01 * m as f64, 121); // 0.6 K an hour, 26.3 °C at the end
        let l = falling.leaves(26.3, BAND).unwrap();
        assert!((l.hours - 0.8 / 0.6).abs() < 1e-6 && (l.per_hour + 0.6).abs() < 1e-9, "{l:?}");
        assert_eq!(l.limit, BAND.low);
        assert_eq!(falling.leaves(25.4, BAND), None, "that is too cold, and has an alarm of its own");
        let rising = trend(|m| 26.0 + 0.01 * m as f64, 121);
        assert!((rising.leaves(27.2, BAND).unwrap().hours - 1.3 / 0.6).abs() < 1e-6);
        assert_eq!(
            trend(|m| 27.5 - 0.01 * m as f64, 44).leaves(27.0, BAND),
            None,
            "not known for long enough"
        );
    }

    /// A thermostat of half a degree, 40 minutes a cycle, at the lower end of its band; a water change; a spike.
    #[test]
    fn what_goes_and_comes_back_leaves_nothing() {
        let cycle = |m: i64| {
            let phase = (m % 40) as f64 / 40.0;
            25.6 + if phase < 0.5 { phase } else { 1.0 - phase }
        };
        for minutes in 60..240 {
            let now = cycle(minutes - 1);
            let hours = trend(cycle, minutes).leaves(now, BAND).map_or(STAYS, |l| l.hours);
            assert!(hours > 0.2, "{minutes}: {hours}"); // ten minutes of this are never had in a row
        }
        let change = |m: i64| if m < 60 { 27.0 } else { 26.0 + 0.004 * (m - 60) as f64 };
        for minutes in 66..200 {
            let now = change(minutes - 1);
            let fell = trend(change, minutes).leaves(now, BAND).filter(|l| l.per_hour < 0.0);
            assert!(fell.is_none_or(|l| l.hours > 1.5) || minutes < 80, "{minutes}: {fell:?}");
        }
    }

    #[test]
    fn late_readings_find_their_place() {
        let (mut late, whole) =
            (trend(|m| 27.0 + 0.01 * m as f64, 0), trend(|m| 27.0 + 0.01 * m as f64, 100));
        for m in (0..100).filter(|m| m % 3 != 0).chain((0..100).filter(|m| m % 3 == 0)) {
            late.note(at(m), 27.0 + 0.01 * m as f64);
        }
        assert_eq!(late.0, whole.0);
    }
}
