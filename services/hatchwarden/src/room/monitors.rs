//! What is worked out from many readings of a place before it is judged: weak air, faults of a line, water that changes fast or
//! drifts, probes that cannot be believed.

mod ammonia;
mod feed;
mod words;

use super::{Outcome, Room};
use alarms::monitors::{
    Disagree, Drift, DriftLimit, FastChange, Line, Refusals, Rise, Stuck, Usual, Weak, WeakAir, levels,
};
use alarms::{AlarmKey, Condition, Place, Settings};
use std::collections::BTreeMap;
use store::ReadingRow;
use units::{ProbeKey, Quantity, Span, Time, VesselId};

/// How far back a restart reads: as far as any of them looks.
pub(crate) const LOOKS_BACK: Span = Drift::LOOKS_BACK;
/// Of so long a time the first reading is enough: no monitor looks closer at what is past.
pub(crate) const THINNED: Span = Span::minutes(1);
/// From this share of refused messages on a probe is not to be believed. A planning value.
const REFUSED: f64 = 0.5;
/// By how much conductivity may change, percent. A planning value: a large water change and not a dose of salt.
const CONDUCTIVITY: f64 = 25.0;

/// Everything that watches courses, by what it watches.
#[derive(Debug, Default)]
pub(super) struct Monitors {
    weak: BTreeMap<VesselId, WeakAir>,
    lines: BTreeMap<String, Line>,
    fast: BTreeMap<VesselId, FastChange>,
    drift: BTreeMap<VesselId, Drift>,
    usual: BTreeMap<VesselId, Usual>,
    stuck: BTreeMap<ProbeKey, Stuck>,
    refused: BTreeMap<ProbeKey, Refusals>,
    apart: BTreeMap<VesselId, (String, Disagree)>,
    /// The same for all; worked out once.
    limit: Option<DriftLimit>,
}

impl Monitors {
    /// The clock was set, and times before and after do not belong together: everything is learnt anew.
    pub(super) fn forget(&mut self) {
        *self = Self { limit: self.limit, ..Self::default() };
    }
}

/// Whether a quantity is followed over days.
pub(crate) fn follows(quantity: Quantity) -> bool {
    matches!(
        quantity,
        Quantity::Temperature
            | Quantity::AirFlow
            | Quantity::WaterFlow
            | Quantity::LinePressure
            | Quantity::Power
            | Quantity::Conductivity
    )
}

impl Room {
    /// What is watched beside limits and silence once a probe is heard.
    pub(super) fn monitored(&self, probe: &ProbeKey) -> Vec<(AlarmKey, Settings)> {
        let Some(vessel) = self.setup.vessel(&probe.vessel) else { return Vec::new() };
        let at = |condition| AlarmKey::at(&vessel.id, condition);
        let young = self.clutches_sharing(&vessel.id).map(|c| self.stage_of(c, self.moment)).min();
        let mut watches = Vec::new();
        match probe.quantity {
            Quantity::Temperature => {
                watches.push((at(Condition::Drifting), Drift::settings()));
                if young.is_some() {
                    watches.extend(
                        FastChange::settings(FastChange::YOUNG).map(|s| (at(Condition::ChangingFast), s)),
                    );
                }
            }
            Quantity::AirFlow | Quantity::WaterFlow if self.holds(&vessel.id) => {
                watches.push((at(Condition::AirWeak), WeakAir::settings()));
                watches.push((at(Condition::AirStrong), WeakAir::settings_of_rise()));
            }
            Quantity::LinePressure | Quantity::Power => {
                let line = Place::Line(vessel.air_line.clone());
                watches.push((AlarmKey::of(line, Condition::LineFault), Line::settings()));
            }
            Quantity::DissolvedOxygen => watches.push((at(Condition::OxygenLow), levels::oxygen(young))),
            Quantity::Ammonia => watches.push((at(Condition::AmmoniaHigh), levels::ammonia(young))),
            Quantity::Ph => watches.extend(vessel.ph_band.map(|_| (at(Condition::Acidity), acidity()))),
            Quantity::Level => {
                watches.extend(
                    vessel.level_low.and_then(levels::level_low).map(|s| (at(Condition::LevelLow), s)),
                );
            }
            Quantity::LevelSwitch => watches.push((at(Condition::LevelLow), Settings::leak())),
            Quantity::Conductivity => {
                watches
                    .extend(Usual::settings(CONDUCTIVITY).map(|s| (at(Condition::ConductivityChanged), s)));
            }
            _ => {}
        }
        if matches!(probe.quantity, Quantity::Temperature | Quantity::AirFlow | Quantity::WaterFlow) {
            let key = AlarmKey::probe(&vessel.id, Condition::Implausible, probe.quantity);
            watches.push((key, implausible()));
        }
        watches
    }
}

/// How far outside its band pH is, for 10 min; over when it is 0.1 inside for as long. Planning values.
fn acidity() -> Settings {
    Settings { limit: 0.0, deadband: 0.1, ..worked_out(Span::minutes(10)) }
}

/// 1 where one of what speaks against a probe is reached, for 10 min. A planning value: each of them has waited already.
fn implausible() -> Settings {
    Settings { limit: 1.0, deadband: 0.2, ..worked_out(Span::minutes(10)) }
}

fn worked_out(delay: Span) -> Settings {
    Settings { on_delay: delay, off_delay: delay, ..Settings::too_warm(0.0) }.calling_once()
}
