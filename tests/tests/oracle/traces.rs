//! Degree-days of random records with gaps, summed by numpy and scipy by the rule of gaps that `development::Course` states.

use serde_json::Value;
use std::process::Command;
use testkit::program;

const SPECIES: &str = "[species.swinging]
name = 'Swinging'
base = { low = 18.0, likely = 18.0, high = 18.0, source = 'test', how = 'planning value' }
cap = { celsius = 31.0, source = 'test', how = 'planning value' }
[species.swinging.stage.hatch]
degree_days = 60.0
source = 'test'
how = 'planning value'
";

#[test]
fn two_hundred_records_with_gaps_agree_with_an_independent_integrator() {
    let folder = tempfile::tempdir().unwrap();
    let species = folder.path().join("species.toml");
    std::fs::write(&species, SPECIES).unwrap();
    let out = Command::new("python3")
        .args(["-c", include_str!("traces.py"), program("hatchwarden").to_str().unwrap()])
        .args([&species, folder.path()])
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let said: Value = serde_json::from_slice(&out.stdout).unwrap();
    println!("{said}");
    assert!(said["gaps"].as_u64().unwrap() > 200, "{said}");
    assert!(said["worst"].as_f64().unwrap() < 1e-6, "{said}");
}
