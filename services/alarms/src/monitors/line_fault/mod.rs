//! Which part of an air line has failed, from pressure, power and flows together.

mod gauge;
mod table;

pub use table::{Flow, Level, LineRow, LineState, Look, ROWS, read_line};

use super::High;
use crate::Settings;
use gauge::{Against, Bounds, Gauge};
use serde::Serialize;
use std::collections::BTreeMap;
use units::{Quantity, Span, Time, VesselId};

/// Planning values. One stone of four that clogs raises the pressure by 13 %, half clogged by 6 % (computed for a pump
/// that gives 0.6 of its free flow at 8 of 20 kPa); flows differ more than pressures.
const PRESSURE: Bounds = Bounds { low: 0.9, high: 1.05 };
const FLOW: Bounds = Bounds { low: 0.8, high: 1.1 };
const POWER: Bounds = Bounds { low: 0.8, high: 1.2 };

/// What is known of a line and what that means.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineReport {
    /// What has happened; [`LineState::Unknown`] if it cannot be told or is one of several.
    pub state: LineState,
    /// The states that it can be; empty if no row of [`ROWS`] fits.
    pub between: &'static [LineState],
    /// Where to look first.
    pub look: Look,
    /// The outlet that is worst off, or that takes most where air is lost.
    pub outlet: Option<VesselId>,
    /// The pump's power.
    pub power: Level,
    /// The line's pressure.
    pub pressure: Level,
    /// The outlets' flows.
    pub flow: Flow,
    /// What is not known, and would have told more.
    pub lacked: Vec<Quantity>,
}

impl LineReport {
    /// What is judged: 1 for a fault, also one that is only known to be one of several, else 0.
    pub fn number(&self) -> f64 {
        if self.between.is_empty() { 0.0 } else { 1.0 }
    }
}

/// Watches one air line: a pump, its pressure, its outlets. 5 kB for each probe.
///
/// The usual of each is the median of quarter hours over three days, without the last hour, known from three hours on.
/// So a fault that stands for a day and a half is usual at last: it has its alarm long before. Flows whose usual is
/// nought, of outlets that are shut, do not count.
///
/// ```
/// use alarms::monitors::{Line, LineState, Look};
/// use units::{Span, Time, VesselId};
/// let (mut line, tu1) = (Line::new(), VesselId::new("TU1").unwrap());
/// let at = |minute| Time::from_millis(0) + Span::minutes(minute);
/// for minute in 0..300 {
///     let torn = minute >= 295;
///     line.note_power(at(minute), 3.8);
///     line.note_pressure(at(minute), if torn { 2.0 } else { 8.0 });
///     line.note_flow(&tu1, at(minute), if torn { 0.0 } else { 0.8 });
/// }
/// let report = line.judge(at(299));
/// assert_eq!((report.state, report.look), (LineState::TornDiaphragm, Look::Pump));
/// ```
#[derive(Debug, Clone)]
pub struct Line {
    power: Gauge,
    pressure: Gauge,
    flows: BTreeMap<VesselId, Gauge>,
    rearranged: Option<Time>,
}

impl Default for Line {
    fn default() -> Self {
        Self::new()
    }
}

impl Line {
    /// How far back it looks: what a restart must read again.
    pub const LOOKS_BACK: Span = gauge::LEARNS;

    /// Knows nothing yet.
    pub fn new() -> Self {
        Self { power: Gauge::new(), pressure: Gauge::new(), flows: BTreeMap::new(), rearranged: None }
    }

    /// Takes in what the pump draws, W.
    pub fn note_power(&mut self, t: Time, watts: f64) {
        self.power.note(t, watts);
    }

    /// Takes in the pressure, kPa above the room.
    pub fn note_pressure(&mut self, t: Time, kilopascals: f64) {
        self.pressure.note(t, kilopascals);
    }

    /// Takes in the flow of an outlet, L/min.
    pub fn note_flow(&mut self, outlet: &VesselId, t: Time, flow: f64) {
        self.flows.entry(outlet.clone()).or_insert_with(Gauge::new).note(t, flow);
    }

    /// Forgets an outlet that is taken off the line.
    pub fn forget(&mut self, outlet: &VesselId) {
        self.flows.remove(outlet);
    }

    /// Somebody has worked at the line, e.g. turned a valve, which to any gauge is a stone that clogs: pressure and
    /// flows are learnt anew from `since` on, and are known again after three hours. [`super::Weak::stepped`] sees such
    /// a hand. A restart must say it again.
    pub fn rearrange(&mut self, since: Time) {
        self.rearranged = self.rearranged.max(Some(since));
    }

    /// Raised when a fault has been seen for 90 s, over when none has been for 3 min. Planning values: a line is
    /// disturbed for a minute when somebody works at it, and stopped air has its own, quicker alarm.
    pub fn settings() -> Settings {
        High { limit: 1.0, deadband: 0.5, on: Span::seconds(90), off: Span::minutes(3) }.settings()
    }

    /// What is known at `now`, from readings of the last five minutes. Costs some microseconds for each probe: once in ten
    /// seconds is enough.
    pub fn judge(&self, now: Time) -> LineReport {
        let level = |a: Option<Against>, bounds| a.map_or(Level::Unknown, |a| a.level(bounds));
        let power = level(self.power.against(now, None), POWER);
        let pressure = level(self.pressure.against(now, self.rearranged), PRESSURE);
        let known = |(outlet, gauge)| Some((outlet, Gauge::against(gauge, now, self.rearranged)?));
        let flows: Vec<(&VesselId, Against)> = self.flows.iter().filter_map(known).collect();
        let (flow, outlet) = pattern(&flows);
        report(power, pressure, flow, outlet.cloned())
    }
}

fn report(power: Level, pressure: Level, flow: Flow, outlet: Option<VesselId>) -> LineReport {
    let row = read_line(power, pressure, flow);
    let lacked = lacked(power, pressure, flow);
    let (state, between) = match row.map(|row| row.means) {
        Some([one]) => (*one, row.map_or(&[][..], |row| row.means)),
        Some(several) => (LineState::Unknown, several),
        None if lacked.len() < 2 && as_ever(pressure, flow) => (LineState::Fine, &[][..]),
        None => (LineState::Unknown, &[][..]),
    };
    let look = row.map_or(Look::Nowhere, |row| row.look);
    let outlet = outlet.filter(|_| matches!(look, Look::Stone | Look::Tubes));
    LineReport { state, between, look, outlet, power, pressure, flow, lacked }
}

/// What a pump draws may differ while its air is as ever.
fn as_ever(pressure: Level, flow: Flow) -> bool {
    matches!(pressure, Level::Usual | Level::Unknown) && matches!(flow, Flow::Usual | Flow::Unknown)
}

fn lacked(power: Level, pressure: Level, flow: Flow) -> Vec<Quantity> {
    let unknown = [
        (power == Level::Unknown, Quantity::Power),
        (pressure == Level::Unknown, Quantity::LinePressure),
        (flow == Flow::Unknown, Quantity::AirFlow),
    ];
    unknown.into_iter().filter_map(|(is, quantity)| is.then_some(quantity)).collect()
}

/// How all flows stand, and which outlet stands out.
fn pattern<'a>(flows: &[(&'a VesselId, Against)]) -> (Flow, Option<&'a VesselId>) {
    let count = |level| flows.iter().filter(|(_, a)| a.level(FLOW) == level).count();
    let (all, nought, low, high) = (flows.len(), count(Level::Nought), count(Level::Low), count(Level::High));
    let total: f64 = flows.iter().map(|(_, a)| a.value).sum();
    let usual: f64 = flows.iter().map(|(_, a)| a.usual).sum();
    let by_part = |a: &&(&VesselId, Against), b: &&(&VesselId, Against)| a.1.part().total_cmp(&b.1.part());
    let (least, most) = (flows.iter().min_by(by_part), flows.iter().max_by(by_part));
    let flow = match () {
        () if all == 0 => Flow::Unknown,
        () if nought == all => Flow::AllNought,
        () if nought == 1 => Flow::SomeLost,
        () if nought + low == all => Flow::AllLow,
        () if high > 0 && total > usual => Flow::SomeHigh,
        () if nought > 0 => Flow::SomeLost,
        () if low > 0 => Flow::SomeLow,
        () if high > 0 => Flow::SomeHigh,
        () => Flow::Usual,
    };
    let stands_out = match flow {
        Flow::SomeHigh => most,
        Flow::Usual | Flow::Unknown => None,
        _ => least,
    };
    (flow, stands_out.map(|(outlet, _)| *outlet))
}
