use crate::at;
use crate::sim::Chance;
use crate::{DAY, NIGHTS, calls};
use alarms::Side;
use alarms::monitors::Usual;
use alarms::monitors::levels::{
    LEAST_LEVEL, PH, ammonia, least_oxygen, level_low, most_ammonia, oxygen, ph_high, ph_low, un_ionised,
    un_ionised_part,
};
use units::{Span, Stage};

/// °C, pH, un-ionised part, what it may differ by. Francis-Floyd & Watson, UF/IFAS FA16 (after Emerson; read in a
/// reposted copy), the last its worked example.
const FA16: [(f64, f64, f64, f64); 9] = [
    (6.0, 7.0, 0.0013, 0.00012),
    (8.0, 7.0, 0.0016, 0.00012),
    (12.0, 7.0, 0.0022, 0.00012),
    (14.0, 7.0, 0.0025, 0.00012),
    (16.0, 7.0, 0.0029, 0.00012),
    (18.0, 7.0, 0.0034, 0.00012),
    (24.0, 7.0, 0.0052, 0.00012),
    (28.0, 7.0, 0.0069, 0.00012),
    (24.0, 8.0, 0.0502, 0.0002),
];

/// Trussell 1972, reprinted in a photometer's manual (read); its column of 25 °C lies 1.7 % low throughout.
const TRUSSELL: [(f64, f64, f64, f64); 9] = [
    (10.0, 7.6, 0.0074, 0.000118),
    (10.0, 8.2, 0.0286, 0.000458),
    (15.0, 7.3, 0.0054, 8.6e-5),
    (15.0, 8.0, 0.0265, 0.000424),
    (20.0, 7.0, 0.004, 6.4e-5),
    (20.0, 7.4, 0.0099, 0.000158),
    (20.0, 7.8, 0.0245, 0.000392),
    (20.0, 8.0, 0.0383, 0.000613),
    (25.0, 8.0, 0.0528, 0.00132),
];

/// Speciation by phreeqpython 1.6.2, vitens.dat, in next to pure water (computed).
const SPECIATED: [(f64, f64, f64, f64); 4] = [
    (24.0, 7.5, 0.01628, 0.000244),
    (26.0, 8.0, 0.05686, 0.000853),
    (28.0, 8.6, 0.21628, 0.003244),
    (20.0, 8.0, 0.03775, 0.000566),
];

#[test]
fn un_ionised_part_against_published_cells() {
    for (celsius, ph, part, tolerance) in FA16.into_iter().chain(TRUSSELL).chain(SPECIATED) {
        let found = un_ionised_part(ph, celsius).unwrap();
        assert!((found - part).abs() <= tolerance, "{celsius} °C, pH {ph}: {found}, not {part}");
    }
}

/// Total, °C, pH, un-ionised mg/L as N: Trussell's worked example (read), and PyCO2SYS 1.8.3.4 by Clegg & Whitfield
/// 1995 (computed).
#[test]
fn un_ionised_ammonia_against_worked_examples() {
    let examples = [
        (1.0, 20.0, 8.5, 0.1118, 0.0015),
        (0.5, 27.0, 7.6, 0.01271, 0.000127),
        (2.0, 26.0, 8.2, 0.17656, 0.001766),
    ];
    for (total, celsius, ph, mg, tolerance) in examples {
        assert!((un_ionised(total, ph, celsius).unwrap() - mg).abs() <= tolerance);
    }
}

#[test]
fn nonsense_gives_no_ammonia() {
    for (total, ph, celsius) in [
        (-0.1, 8.0, 26.0),
        (f64::NAN, 8.0, 26.0),
        (f64::INFINITY, 8.0, 26.0),
        (1.0, 15.0, 26.0),
        (1.0, f64::NAN, 26.0),
        (1.0, 8.0, -127.0),
        (1.0, 8.0, f64::NAN),
    ] {
        assert_eq!(un_ionised(total, ph, celsius), None, "{total} {ph} {celsius}");
    }
}

#[test]
fn young_have_stricter_limits() {
    for stage in [Stage::Egg, Stage::Eyed, Stage::Hatch, Stage::FreeSwimming, Stage::FirstFeeding] {
        assert_eq!((least_oxygen(Some(stage)), most_ammonia(Some(stage))), (5.0, 0.02), "{stage}");
    }
    for stage in [Some(Stage::Release), None] {
        assert_eq!((least_oxygen(stage), most_ammonia(stage)), (4.0, 0.05));
    }
}

/// Demo day 15: 0.5 mg/L at pH 8.2 and 26 °C, judged for what lives in a grow-out; at pH 7 the same is nothing.
#[test]
fn ammonia_is_judged_with_ph_and_temperature() {
    let judged = |phs: [f64; 4]| {
        let said = (0..).map(at).zip(phs.map(|ph| un_ionised(0.5, ph, 26.0).unwrap()));
        calls(ammonia(Some(Stage::FirstFeeding)), said)
    };
    assert_eq!(judged([8.2; 4]), [at(2)]);
    assert_eq!(judged([7.0; 4]), []);
    assert_eq!(judged([9.0, 7.0, 7.0, 7.0]), [], "the pH was not known at first");
}

#[test]
fn oxygen_calls_and_calls_again() {
    let settings = oxygen(Some(Stage::Hatch));
    let falling = (0..60).map(|m| (at(m), 7.0 - 0.1 * m as f64));
    let called = calls(settings, falling);
    println!("oxygen that falls by 0.1 mg/L a minute from 7: called at {called:?}");
    assert_eq!(called.first(), Some(&at(22)), "5.0 at 20 min, then the delay");
    assert!(called.len() == 3, "again after 15 and 30 min: {called:?}");
    let mut chance = Chance(41);
    let quiet = (0..NIGHTS * DAY).map(|m| (at(m), 7.2 + 0.2 * chance.normal()));
    assert!(calls(settings, quiet).is_empty());
}

#[test]
fn ph_and_level() {
    let (low, high) = (ph_low(PH.0).unwrap(), ph_high(PH.1).unwrap());
    assert_eq!((low.side, high.side), (Side::Low, Side::High));
    let mut chance = Chance(42);
    let quiet: Vec<_> = (0..NIGHTS * DAY).map(|m| (at(m), 8.2 + 0.05 * chance.normal())).collect();
    assert!(calls(low, quiet.clone()).is_empty() && calls(high, quiet).is_empty());
    assert_eq!(calls(low, (0..60).map(|m| (at(m), 8.0 - 0.05 * m as f64))), [at(40)]);
    assert_eq!(calls(high, (0..60).map(|m| (at(m), 8.0 + 0.05 * m as f64))), [at(30)]);
    let level = level_low(LEAST_LEVEL).unwrap();
    assert_eq!(calls(level, (0..60).map(|m| (at(m), 100.0 - m as f64))), [at(21)]);
    assert!(ph_low(14.5).is_none() && ph_high(f64::NAN).is_none() && level_low(101.0).is_none());
}

/// Conductivity with its day and noise, at last a leak that the keeper's float fills with soft water; half an hour is
/// in time.
#[test]
fn conductivity_that_changes() {
    let mut chance = Chance(43);
    let mut usual = Usual::new();
    let mut watch = crate::Watch::new(Usual::settings(Usual::CONDUCTIVITY).unwrap());
    let mut called = Vec::new();
    for minute in 0..NIGHTS * DAY + 600 {
        let diluted = 1.0 - 0.002 * (minute - NIGHTS * DAY).clamp(0, 200) as f64;
        let day = 1.0 + 0.01 * (minute as f64 / DAY as f64 * std::f64::consts::TAU).sin();
        let says = 520.0 * diluted * day * (1.0 + 0.01 * chance.normal());
        if usual.note(at(minute), says)
            && let Some(moved) = usual.judge()
            && watch.calls(at(minute), moved.number())
        {
            called.push((minute - NIGHTS * DAY, moved));
        }
    }
    println!("conductivity that falls by 0.2 % a minute after {NIGHTS} quiet nights: {called:?}");
    assert!(called.len() == 1 && (75..120).contains(&called[0].0) && called[0].1.percent < -15.0);
    assert!(Usual::settings(-1.0).is_none());
    let mut dry = Usual::new();
    (0..DAY).for_each(|m| _ = dry.note(at(m), 0.0));
    assert_eq!(dry.judge(), None);
    assert_eq!(Usual::LOOKS_BACK, Span::hours(24));
}
