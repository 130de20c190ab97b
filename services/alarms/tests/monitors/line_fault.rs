use crate::sim::AirLine;
use crate::{DAY, NIGHTS, Watch, at};
use alarms::monitors::{Flow, Level, Line, LineReport, LineState, Look, ROWS, read_line};
use units::{Quantity, Span, Time, VesselId};

const LEVELS: [Level; 5] = [Level::Unknown, Level::Nought, Level::Low, Level::Usual, Level::High];
const FLOWS: [Flow; 7] = [
    Flow::Unknown,
    Flow::AllNought,
    Flow::AllLow,
    Flow::SomeLost,
    Flow::SomeLow,
    Flow::Usual,
    Flow::SomeHigh,
];

/// Written again by hand: power, pressure and flow as a keeper would say them, and what that is.
#[test]
fn the_table_row_by_row() {
    use Flow as F;
    use Level::{High, Low, Nought, Unknown, Usual};
    use LineState as S;
    let said = [
        (Nought, Usual, F::AllNought, Some(&[S::PumpWithoutPower][..])),
        (Nought, Nought, F::AllNought, Some(&[S::PumpWithoutPower])),
        (Nought, Usual, F::Usual, Some(&[S::PumpWithoutPower])), // the standby gives the air
        (Usual, High, F::SomeLow, Some(&[S::CloggedStone])),
        (Usual, High, F::AllLow, Some(&[S::CloggedStone])),
        (Unknown, High, F::SomeLost, Some(&[S::CloggedStone])),
        (Usual, High, F::Unknown, Some(&[S::CloggedStone])),
        (Usual, Usual, F::SomeLow, Some(&[S::CloggedStone])),
        (Usual, Usual, F::AllNought, Some(&[S::CheckValveHolding])),
        (Unknown, Usual, F::AllNought, Some(&[S::CheckValveHolding])),
        (Usual, Usual, F::AllLow, Some(&[S::TornDiaphragm, S::CloggedStone])),
        (Usual, Low, F::AllLow, Some(&[S::TornDiaphragm])),
        (Usual, Nought, F::AllNought, Some(&[S::TornDiaphragm])),
        (Unknown, Nought, F::AllNought, Some(&[S::TornDiaphragm, S::PumpWithoutPower])),
        (Usual, Low, F::SomeHigh, Some(&[S::TubeOff])),
        (Unknown, Low, F::SomeLost, Some(&[S::TubeOff])),
        (Usual, Nought, F::Unknown, Some(&[S::TornDiaphragm, S::TubeOff])),
        (Usual, Unknown, F::AllNought, Some(&[S::TornDiaphragm, S::TubeOff, S::CloggedStone])),
        (Usual, Unknown, F::SomeLost, Some(&[S::CloggedStone, S::TubeOff])),
        (Usual, Unknown, F::SomeLow, Some(&[S::CloggedStone])),
        (Usual, Unknown, F::SomeHigh, Some(&[S::TubeOff])),
        (Usual, Usual, F::Usual, None),
        (Usual, Usual, F::SomeHigh, None), // a valve turned up
        (Usual, Low, F::Usual, None),
        (Unknown, Unknown, F::AllNought, None), // one quantity is too little
        (Unknown, Low, F::Unknown, None),
    ];
    for (power, pressure, flow, means) in said {
        let found = read_line(power, pressure, flow).map(|row| row.means);
        assert_eq!(found, means, "power {power:?}, pressure {pressure:?}, flow {flow:?}");
    }
}

#[test]
fn every_row_is_the_first_for_something_and_needs_two_quantities() {
    let mut met = [false; ROWS.len()];
    for power in LEVELS {
        for pressure in LEVELS {
            for flow in FLOWS {
                let Some(row) = read_line(power, pressure, flow) else { continue };
                met[ROWS.iter().position(|r| r == row).unwrap()] = true;
                let unknown = [power == Level::Unknown, pressure == Level::Unknown, flow == Flow::Unknown];
                let known = unknown.iter().filter(|is| !**is).count();
                assert!(known >= 2 || power == Level::Nought, "{power:?} {pressure:?} {flow:?}");
                assert!(row.look != Look::Nowhere && !row.means.is_empty());
                assert!(!row.means.contains(&LineState::Fine) && !row.means.contains(&LineState::Unknown));
            }
        }
    }
    assert_eq!(met, [true; ROWS.len()]);
}

/// Which quantities are measured.
#[derive(Clone, Copy)]
struct Has {
    power: bool,
    pressure: bool,
    flow: bool,
}

const ALL: Has = Has { power: true, pressure: true, flow: true };

fn tell(line: &mut Line, sim: &mut AirLine, t: Time, has: Has) {
    let (watts, kilopascals, flows) = sim.read();
    if has.power {
        line.note_power(t, watts);
    }
    if has.pressure {
        line.note_pressure(t, kilopascals);
    }
    for (n, flow) in flows.into_iter().enumerate().filter(|_| has.flow) {
        line.note_flow(&outlet(n), t, flow);
    }
}

fn outlet(n: usize) -> VesselId {
    VesselId::new(format!("TU{}", n + 1)).unwrap()
}

/// A line that was well for a day and a half, minute by minute.
fn well(outlets: usize, has: Has) -> (Line, AirLine) {
    let (mut line, mut sim) = (Line::new(), AirLine::new(outlets, outlets as u64));
    (0..3 * DAY / 2).for_each(|m| tell(&mut line, &mut sim, at(m), has));
    (line, sim)
}

/// What is found after ten minutes of a fault, in readings of ten seconds, and when somebody is called.
fn after(outlets: usize, has: Has, fault: impl Fn(&mut AirLine)) -> (LineReport, Option<Span>) {
    let (mut line, mut sim) = well(outlets, has);
    fault(&mut sim);
    let (begins, mut watch, mut called) = (at(3 * DAY / 2), Watch::new(Line::settings()), None);
    for n in 0..60 {
        let t = begins + Span::seconds(10 * n);
        tell(&mut line, &mut sim, t, has);
        if watch.calls(t, line.judge(t).number()) {
            called = called.or(Some(t - begins));
        }
    }
    (line.judge(begins + Span::minutes(10)), called)
}

/// A fault by its name, what it does to a line, and what it must be called.
type Fault = (&'static str, fn(&mut AirLine), LineState);

const FAULTS: [Fault; 7] = [
    ("stone of TU1 clogged to a third", |l| l.open[0] *= 0.3, LineState::CloggedStone),
    ("stone of TU1 clogged", |l| l.open[0] = 0.0, LineState::CloggedStone),
    ("hose of TU1 off", |l| (l.off, l.open[0]) = (Some(0), 0.5), LineState::TubeOff),
    ("diaphragm torn", |l| l.pump = 0.0, LineState::TornDiaphragm),
    ("diaphragm torn a little", |l| l.pump = 0.55, LineState::TornDiaphragm),
    ("diaphragm torn, check valve", |l| (l.pump, l.valve) = (0.0, true), LineState::CheckValveHolding),
    ("no power, check valve", |l| (l.pump, l.watts, l.valve) = (0.0, 0.0, true), LineState::PumpWithoutPower),
];

#[test]
fn each_fault_through_the_noise_of_its_probes() {
    for (name, fault, state) in FAULTS {
        for outlets in [2, 4] {
            let (report, called) = after(outlets, ALL, fault);
            println!("line of {outlets}, {name}: {:?}, called after {called:?}", report.state);
            assert_eq!(report.state, state, "{name} of {outlets}: {report:?}");
            assert!(called.is_some_and(|after| after <= Span::minutes(4)), "{name} of {outlets}");
            let named = matches!(state, LineState::CloggedStone | LineState::TubeOff);
            assert_eq!(report.outlet, named.then(|| outlet(0)), "{name}");
            assert!(report.lacked.is_empty());
        }
    }
}

/// What each pair of quantities can tell of the same faults.
#[test]
fn any_two_of_three() {
    let lacking = [
        (Quantity::Power, Has { power: false, ..ALL }),
        (Quantity::LinePressure, Has { pressure: false, ..ALL }),
        (Quantity::AirFlow, Has { flow: false, ..ALL }),
    ];
    for (lacks, has) in lacking {
        for (name, fault, state) in FAULTS {
            let (report, called) = after(4, has, fault);
            let found = report.state == state || report.between.contains(&state);
            println!("without {lacks}, {name}: {:?} {:?}", report.state, report.between);
            assert_eq!(report.lacked, [lacks]);
            assert_eq!(called.is_some(), !report.between.is_empty(), "{name}");
            // A valve that holds looks like a line that is well if no flow is measured; without a gauge nobody knows that it holds; and
            // without the plug a dead pump behind it is as good as one without power.
            let valve = name.contains("check valve");
            assert!(found || valve, "without {lacks}, {name}: {report:?}");
            let told_apart = report.state != LineState::Fine || (valve && lacks == Quantity::AirFlow);
            assert!(told_apart, "without {lacks}, {name}: {report:?}");
        }
    }
}

#[test]
fn one_quantity_alone_says_that_the_others_lack() {
    let (report, called) = after(4, Has { power: false, pressure: false, flow: true }, |l| l.pump = 0.0);
    assert_eq!((report.state, called), (LineState::Unknown, None));
    assert_eq!(report.lacked, [Quantity::Power, Quantity::LinePressure]);
    let (plug, _) = after(4, Has { power: true, pressure: false, flow: false }, |l| l.watts = 0.0);
    assert_eq!(plug.state, LineState::PumpWithoutPower, "a plug that says nought is enough");
}

#[test]
fn old_readings_are_no_readings() {
    let (line, _) = well(4, ALL);
    let last = at(3 * DAY / 2 - 1);
    assert_eq!(line.judge(last).state, LineState::Fine);
    let late = line.judge(last + Span::minutes(6));
    assert_eq!((late.state, late.lacked.len()), (LineState::Unknown, 3));
}

/// To gauges a valve that is turned down is a stone that clogs; who has turned it says so.
#[test]
fn a_line_that_was_rearranged_is_learnt_anew() {
    let (mut line, mut sim) = well(4, ALL);
    sim.open[0] *= 0.6;
    let begins = 3 * DAY / 2;
    (begins..begins + 4 * 60).for_each(|m| tell(&mut line, &mut sim, at(m), ALL));
    let now = at(begins + 4 * 60 - 1);
    assert_eq!(line.judge(now).state, LineState::CloggedStone);
    line.rearrange(at(begins));
    assert_eq!(line.judge(now).state, LineState::Fine);
    line.rearrange(at(begins + 150));
    assert_eq!(line.judge(now).lacked, [Quantity::LinePressure, Quantity::AirFlow]);
}

#[test]
fn an_outlet_that_was_always_shut_does_not_count() {
    let (mut line, mut sim) = (Line::new(), AirLine::new(4, 5));
    sim.open[3] = 0.0;
    (0..DAY).for_each(|m| tell(&mut line, &mut sim, at(m), ALL));
    let report = line.judge(at(DAY - 1));
    assert_eq!((report.state, report.flow), (LineState::Fine, Flow::Usual));
}

#[test]
fn quiet_nights() {
    for outlets in [1, 4] {
        let (mut line, mut sim) = (Line::new(), AirLine::new(outlets, 77 + outlets as u64));
        let mut watch = Watch::new(Line::settings());
        let mut calls = 0;
        for minute in 0..NIGHTS * DAY {
            // The room warms and cools: pump and probes follow by 1 %.
            sim.pump = 1.0 + 0.01 * (minute as f64 / DAY as f64 * std::f64::consts::TAU).sin();
            tell(&mut line, &mut sim, at(minute), ALL);
            if minute % 5 == 0 && watch.calls(at(minute), line.judge(at(minute)).number()) {
                calls += 1;
            }
        }
        println!("line of {outlets}: {calls} false pages in {NIGHTS} nights");
        assert_eq!(calls, 0);
    }
}
