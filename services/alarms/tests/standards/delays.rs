//! Deadbands and delays.

use super::cases;
use alarms::{AlarmKey, Condition, Panel, Settings, Side};
use serde_json::Value;
use units::{Quantity, Span, Time, VesselId};

fn second(n: &Value) -> Time {
    Time::from_millis(n.as_i64().unwrap() * 1000)
}

fn span(n: &Value) -> Span {
    Span::seconds(n.as_i64().unwrap())
}

/// The cases judge at the instants of the samples, so no tick comes between them.
#[test]
fn deadbands_and_delays() {
    let vessel: VesselId = "V1".parse().unwrap();
    let cases = cases("alarm.deadband_delay");
    assert_eq!(cases.len(), 7);
    for case in cases {
        let input = &case["input"];
        let high = input["kind"] == "high";
        let settings = Settings {
            side: if high { Side::High } else { Side::Low },
            limit: input["limit"].as_f64().unwrap(),
            deadband: input["deadband"].as_f64().unwrap(),
            on_delay: span(&input["on_delay_s"]),
            off_delay: span(&input["off_delay_s"]),
            ..Settings::told()
        };
        let key = AlarmKey::at(&vessel, if high { Condition::TooWarm } else { Condition::TooCold });
        let mut panel = Panel::new();
        panel.watch(key, settings, second(&0.into()));
        let mut said = Vec::new();
        for sample in input["samples"].as_array().unwrap() {
            let t = second(&sample[0]);
            for moved in panel.reading(&vessel, Quantity::Temperature, t, sample[1].as_f64().unwrap(), t) {
                let word = if moved.to.standing() { "condition_true" } else { "condition_false" };
                said.push(serde_json::json!([moved.at.millis() / 1000, word]));
            }
        }
        assert_eq!(Value::from(said), case["expected"], "{}", case["name"]);
    }
}
