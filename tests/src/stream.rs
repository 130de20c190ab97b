//! A numbered stream of readings: which device measured the n-th one, when, and what.

use units::{Span, Time};

/// Readings numbered from 0. Each has a device, a time and therefore a row of its own.
#[derive(Debug, Clone, Copy)]
pub struct Stream {
    /// `vessel/quantity` of each device; they take turns.
    pub devices: &'static [&'static str],
    /// How many readings there are.
    pub len: u64,
    /// When the first is measured.
    pub begin: Time,
    /// From one reading of a device to its next.
    pub step: Span,
}

impl Stream {
    /// Four devices in the demo's tanks that measure every 10 s. Long ago, so that no alarm is raised and a repeat is only
    /// told by its time, as after a crash.
    pub fn of_four(len: u64) -> Self {
        Self {
            devices: &["V1/temperature", "V2/temperature", "V1/ph", "V2/ph"],
            len,
            begin: Time::parse_rfc3339("2024-01-01T00:00:00Z").unwrap(),
            step: Span::seconds(10),
        }
    }

    /// Which device sends a number.
    pub fn device(&self, n: u64) -> usize {
        (n % self.devices.len() as u64) as usize
    }

    /// When it was measured.
    pub fn time(&self, n: u64) -> Time {
        let turn = n / self.devices.len() as u64;
        self.begin + Span::from_millis(self.step.millis() * turn as i64)
    }

    /// Half a day's swing in sixteenths, which a float holds exactly; neighbours in number differ in value.
    pub fn value(&self, n: u64) -> f64 {
        let swing = (self.time(n).millis() as f64 / 86_400_000.0 * std::f64::consts::TAU).sin();
        let middle = if self.devices[self.device(n)].ends_with("ph") { 7.0 } else { 27.0 };
        middle + (swing * 8.0).round() / 16.0 + (n % 3) as f64 / 16.0
    }

    /// Our own topic for it.
    pub fn topic(&self, n: u64) -> String {
        format!("hatchwarden/undercroft/{}", self.devices[self.device(n)])
    }

    /// Our own payload: value, the device's time and the number.
    pub fn payload(&self, n: u64) -> String {
        format!(r#"{{"v":{},"t":{},"n":{n}}}"#, self.value(n), self.time(n).millis() / 1000)
    }
}
