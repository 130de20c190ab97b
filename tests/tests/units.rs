//! Every unit conversion against a general-purpose library: Python's pint, which takes its factors from CODATA, NIST and
//! the SI Brochure. Installed by `tests/run`.

#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::json;
use std::io::Write;
use std::process::{Command, Stdio};
use units::Unit;

const ASK: &str = r"
import json, sys, pint
units = pint.UnitRegistry()
rows = json.load(sys.stdin)
json.dump([units.Quantity(x, a).to(b).magnitude for x, a, b in rows], sys.stdout)
";

/// The unit in pint's words. The last three have no counterpart there and no factor either.
fn name(unit: Unit) -> Option<&'static str> {
    Some(match unit {
        Unit::Celsius => "degC",
        Unit::Fahrenheit => "degF",
        Unit::Kelvin => "kelvin",
        Unit::LitrePerMinute => "liter/minute",
        Unit::LitrePerSecond => "liter/second",
        Unit::LitrePerHour => "liter/hour",
        Unit::MillilitrePerMinute => "milliliter/minute",
        Unit::CubicMetrePerSecond => "meter**3/second",
        Unit::CubicMetrePerHour => "meter**3/hour",
        Unit::CubicFootPerMinute => "foot**3/minute",
        Unit::CubicFootPerHour => "foot**3/hour",
        Unit::GallonPerMinute => "gallon/minute",
        Unit::GallonPerHour => "gallon/hour",
        Unit::Kilopascal => "kilopascal",
        Unit::Pascal => "pascal",
        Unit::Hectopascal => "hectopascal",
        Unit::Bar => "bar",
        Unit::Psi => "psi",
        Unit::MillimetreOfMercury => "mmHg",
        Unit::InchOfMercury => "inHg",
        Unit::MillimetreOfWater => "millimeter * cmH2O / centimeter",
        Unit::CentimetreOfWater => "cmH2O",
        Unit::InchOfWater => "inch * cmH2O / centimeter",
        Unit::MilligramPerLitre => "milligram/liter",
        Unit::MicrogramPerLitre => "microgram/liter",
        Unit::GramPerLitre => "gram/liter",
        Unit::MicrosiemensPerCm => "microsiemens/centimeter",
        Unit::MillisiemensPerCm => "millisiemens/centimeter",
        Unit::MillisiemensPerM => "millisiemens/meter",
        Unit::SiemensPerM => "siemens/meter",
        Unit::Watt => "watt",
        Unit::Kilowatt => "kilowatt",
        Unit::Milliwatt => "milliwatt",
        Unit::Percent => "percent",
        Unit::Ratio => "dimensionless",
        Unit::Hertz => "1/second",
        Unit::PerMinute => "1/minute",
        Unit::Ph | Unit::Count | Unit::State => return None,
    })
}

#[test]
fn the_whole_table_agrees_with_pint() {
    let mut ours = Vec::new();
    let mut asked = Vec::new();
    for unit in Unit::all() {
        let Some((from, to)) = name(unit).zip(name(unit.base())) else {
            assert_eq!(unit.base(), unit, "{unit} is converted and not checked");
            continue;
        };
        for x in [-40.0, 0.0, 0.43, 26.94, 1_013.25] {
            ours.push((unit, x, unit.to_base(x)));
            asked.push(json!([x, from, to]));
        }
    }
    let theirs = pint(&serde_json::to_vec(&asked).unwrap());
    assert_eq!(theirs.len(), ours.len());
    for ((unit, x, a), b) in ours.into_iter().zip(theirs) {
        assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{x} {unit}: {a}, pint says {b}");
    }
}

fn pint(rows: &[u8]) -> Vec<f64> {
    let mut child = Command::new("python3")
        .args(["-c", ASK])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(rows).unwrap();
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success(), "python with pint; run tests/run once to install it");
    serde_json::from_slice(&out.stdout).unwrap()
}
