//! What monitors have found, for the words of an alarm.

use super::*;
use alarms::Alarm;
use alarms::monitors::{LineReport, LineState, Look};

impl Room {
    /// What was found of an alarm's place, in one sentence without its full stop.
    pub(in crate::room) fn found(&self, alarm: &Alarm) -> Option<String> {
        let m = &self.monitors;
        let clock = |t: Time| self.setup.clock_text(t);
        match (alarm.key.condition, &alarm.key.place) {
            (Condition::LineFault | Condition::AirStopped, Place::Line(name)) => self.line_words(name, alarm.key.condition),
            (condition, Place::Vessel(vessel)) => match condition {
                Condition::AirStopped => self.line_words(&self.setup.vessel(vessel)?.air_line, condition),
                Condition::AirWeak => m.weak.get(vessel)?.judge().map(|w| {
                    format!("It has {:.2} L/min; {:.2} L/min is usual, that is {:.0} % less", w.flow, w.usual, w.percent)
                }),
                Condition::AirStrong => {
                    let weak = m.weak.get(vessel)?;
                    weak.rise(&weak.judge()?).map(|r| {
                        format!(
                            "It has {:.2} L/min; {:.2} L/min is usual. Without its hose behind the probe air meets no water, and \
                             flows more while the eggs lie still",
                            r.flow, r.usual
                        )
                    })
                }
                Condition::ChangingFast => m.fast.get(vessel)?.judge().map(|c| {
                    format!(
                        "It went from {:.1} to {:.1} °C between {} and {}, {:+.1} K an hour",
                        c.from, c.to, clock(c.over.0), clock(c.over.1), c.per_hour
                    )
                }),
                Condition::Drifting => m.drift.get(vessel)?.judge().map(|d| {
                    format!(
                        "It has {:.1} °C where {:.1} °C is usual at this hour; it has been on that side since {}",
                        d.has, d.expected, clock(d.since)
                    )
                }),
                Condition::ConductivityChanged => m.usual.get(vessel)?.judge().map(|c| {
                    format!("It has {:.0} µS/cm; {:.0} µS/cm is usual, that is {:+.0} %", c.now, c.usual, c.percent)
                }),
                Condition::AmmoniaHigh => self.ammonia_words(vessel, alarm.settings.limit),
                Condition::OxygenLow => Some(format!(
                    "It has {:.1} mg/L; {:.1} mg/L are needed",
                    alarm.value?, alarm.settings.limit
                )),
                Condition::Acidity => {
                    let band = self.setup.vessel(vessel)?.ph_band?;
                    let probe = ProbeKey::new(vessel.clone(), Quantity::Ph);
                    let ph = self.last.get(&probe)?.value;
                    Some(format!("It has pH {ph:.1}; {:.1} to {:.1} is wanted", band.low, band.high))
                }
                Condition::LevelLow if alarm.settings.limit > 1.0 => {
                    Some(format!("It stands at {:.0} %, the limit is {:.0} %", alarm.value?, alarm.settings.limit))
                }
                Condition::Implausible => self.doubt_words(&ProbeKey::new(vessel.clone(), alarm.key.quantity?)),
                _ => None,
            },
            _ => None,
        }
    }

    fn doubt_words(&self, probe: &ProbeKey) -> Option<String> {
        let m = &self.monitors;
        let apart = m.apart.get(&probe.vessel).filter(|_| probe.quantity == Quantity::Temperature);
        if let Some(a) = apart.and_then(|(_, d)| d.judge()).filter(|a| a.number() >= a.allowed) {
            return Some(format!(
                "It reads {:.1} °C and its sister {:.1} °C; both together may be {:.1} K off",
                a.first, a.second, a.allowed
            ));
        }
        let refused = m.refused.get(probe).map(|r| r.share(self.moment)).filter(|r| r.number() >= REFUSED);
        if let Some(r) = refused {
            let all = r.refused.saturating_add(r.accepted);
            return Some(format!(
                "{} of its last {all} messages were refused; the page of probes says why",
                r.refused
            ));
        }
        let r = m.stuck.get(probe)?.judge()?;
        let unit = probe.quantity.unit().symbol();
        Some(format!(
            "It has said {} {unit} and nothing else since {}; {} was the longest before",
            r.value,
            self.setup.clock_text(r.since),
            r.longest
        ))
    }

    /// What pressure, power and flow of a line say together; nothing where they say nothing.
    fn line_words(&self, name: &str, condition: Condition) -> Option<String> {
        let line = self.monitors.lines.get(name)?;
        let report = line.judge(self.moment);
        if report.between.is_empty()
            || (condition == Condition::AirStopped && report.state == LineState::Unknown)
        {
            return None;
        }
        Some(report_words(&report))
    }
}

fn report_words(report: &LineReport) -> String {
    let states: Vec<&str> = report.between.iter().map(|s| state_words(*s)).collect();
    let outlet = report.outlet.as_ref().map(|v| format!(" at {v}")).unwrap_or_default();
    let look = look_words(report.look);
    format!("By pressure, power and flow: {}{outlet}. Look at {look} first", states.join(", or "))
}

fn state_words(state: LineState) -> &'static str {
    match state {
        LineState::Fine => "all as usual",
        LineState::CloggedStone => "a clogged stone",
        LineState::TubeOff => "a tube that is off",
        LineState::TornDiaphragm => "a torn diaphragm: the pump draws power and gives no air",
        LineState::PumpWithoutPower => "a pump without power",
        LineState::CheckValveHolding => "a check valve that holds the pressure",
        LineState::Unknown => "something that cannot be told",
    }
}

fn look_words(look: Look) -> &'static str {
    match look {
        Look::Nowhere => "nothing",
        Look::Mains => "the pump's plug and fuse",
        Look::Pump => "the pump: is there air at its own nozzle",
        Look::Tubes => "the tubes: which one hisses or lies loose",
        Look::Stone => "stone and valve",
    }
}
