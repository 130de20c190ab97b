//! The 60 rows of the transition table.

use super::cases;
use super::driver::{Driver, word};
use alarms::{Rules, State, Trigger, step};
use serde_json::Value;

fn trigger(event: &str) -> Option<Trigger> {
    Some(match event {
        "condition_true" => Trigger::ConditionTrue,
        "condition_false" => Trigger::ConditionFalse,
        "ack" => Trigger::Acknowledge,
        "reset" => Trigger::Reset,
        "realarm_timer" => Trigger::ReAlarm,
        _ => return None,
    })
}

/// The rules that a row is about.
fn rules(config: &str) -> Vec<Rules> {
    let all = [(false, false), (false, true), (true, false), (true, true)];
    let all = all.map(|(latching, ack_required)| Rules { latching, ack_required });
    let belongs = |r: &Rules| match config {
        "any" => true,
        "ack_required" => r.ack_required,
        "no_ack_required" => !r.ack_required,
        "latching" => r.latching,
        "non_latching" => !r.latching,
        other => panic!("no such config: {other}"),
    };
    all.into_iter().filter(belongs).collect()
}

fn six() -> [State; 6] {
    [
        State::Normal,
        State::Unacknowledged,
        State::Acknowledged,
        State::ReturnedUnacknowledged,
        State::LatchedUnacknowledged,
        State::LatchedAcknowledged,
    ]
}

/// The rows that [`step`] answers alone.
#[test]
fn every_arrow_between_the_six_main_states() {
    let mut tried = 0;
    for case in cases("alarm.transition_rows") {
        let (input, expected) = (&case["input"], &case["expected"]);
        let from = six().into_iter().find(|s| word(*s) == input["state"]);
        let (Some(from), Some(pull)) = (from, trigger(input["event"].as_str().unwrap())) else { continue };
        for rules in rules(input["config"].as_str().unwrap()) {
            let (to, announce) = step(from, pull, rules);
            assert_eq!(expected["state"], word(to), "{} {rules:?}", case["name"]);
            assert_eq!(expected["annunciate"], announce, "{} {rules:?}", case["name"]);
        }
        tried += 1;
    }
    assert_eq!(tried, 29);
}

/// Every way to a state that is short enough to write down; those that lead elsewhere under the rules are left out.
fn ways_to(state: &str, rules: Rules) -> Vec<Driver> {
    let before: [&[&str]; 6] = [
        &[],
        &["condition_true"],
        &["condition_true", "ack"],
        &["condition_true", "condition_false"],
        &["condition_true", "ack", "condition_false"],
        &["condition_true", "condition_false", "ack"],
    ];
    let after = ["", "shelve", "suppress", "remove_from_service"];
    let ways = before.iter().flat_map(|way| after.map(|last| [*way, &[last]].concat()));
    let driven = ways.map(|way| {
        let mut driver = Driver::new(rules);
        for event in way.into_iter().filter(|e| !e.is_empty()) {
            driver.hear(event);
        }
        driver
    });
    driven.filter(|driver| driver.shown() == state).collect()
}

/// Some rows say "if condition is true".
fn expected(case: &Value, condition: bool) -> (String, bool) {
    let said = &case["expected"];
    match said["annunciate"].as_bool() {
        Some(announce) => (said["state"].as_str().unwrap().to_owned(), announce),
        None => {
            assert_eq!(said["state"], "unack if condition is true else normal");
            assert_eq!(said["annunciate"], "if condition is true");
            (if condition { "unack" } else { "normal" }.to_owned(), condition)
        }
    }
}

/// Project choice: an acknowledged alarm does not come back by itself, so the panel never pulls this arrow of [`step`].
const NOT_PULLED: &str = "acked + realarm_timer [any]";

#[test]
fn every_row_through_a_panel() {
    let rows = cases("alarm.transition_rows");
    assert_eq!(rows.len(), 60);
    for case in &rows {
        let name = case["name"].as_str().unwrap();
        let (from, event) =
            (case["input"]["state"].as_str().unwrap(), case["input"]["event"].as_str().unwrap());
        let all = rules(case["input"]["config"].as_str().unwrap());
        let ways: Vec<Driver> = all.into_iter().flat_map(|rules| ways_to(from, rules)).collect();
        assert!(!ways.is_empty(), "{name}: no way there");
        let mut conditions = Vec::new();
        for mut driver in ways {
            let condition = driver.state().standing();
            let announced = driver.hear(event);
            let wanted = match name {
                NOT_PULLED => ("acked".to_owned(), false),
                _ => expected(case, condition),
            };
            assert_eq!((driver.shown().to_owned(), announced), wanted, "{name}, condition {condition}");
            conditions.push(condition);
        }
        let flagged = ["shelved", "suppressed", "out_of_service"].contains(&from);
        assert!(!flagged || conditions.contains(&true) && conditions.contains(&false), "{name}");
    }
}
