//! OPC 10000-9: shelving (5.8.17.1, 5.8.2) and the flags of a condition that keeps only its latest state (Table B.1).

use super::driver::Driver;
use super::{cases, words};
use alarms::{Flag, Rules, Settings, State};
use serde_json::{Value, json};
use units::Span;

fn case(name: &str) -> Value {
    let all = cases("alarm.opcua_shelving");
    assert_eq!(all.len(), 3, "every case has a test below");
    all.into_iter().find(|c| c["name"] == name).unwrap()
}

fn span(n: &Value) -> Span {
    Span::seconds(n.as_i64().unwrap())
}

fn shelved(driver: &Driver, as_what: &'static str) -> &'static str {
    if driver.is_flagged(Flag::Shelved) { as_what } else { "unshelved" }
}

fn active() -> Driver {
    let mut driver = Driver::with(Settings::told());
    driver.hear("condition_true");
    driver
}

fn shelve_once(driver: &mut Driver) {
    driver.flag(Flag::Shelved, driver.flagging().once());
}

#[test]
fn one_shot_shelving_clears_itself() {
    let case = case("one-shot shelving clears itself");
    let mut driver = active();
    let mut seen = Vec::new();
    for event in words(&case["input"]["events"]) {
        match event {
            "one_shot_shelve" => shelve_once(&mut driver),
            _ => assert!(!driver.hear("condition_false")),
        }
        seen.push(shelved(&driver, "one_shot_shelved"));
    }
    assert_eq!(json!(seen), case["expected"]);
}

/// The note of that case.
#[test]
fn one_shot_shelving_while_inactive_covers_the_next_active_period() {
    let mut driver = Driver::with(Settings::told());
    shelve_once(&mut driver);
    assert!(!driver.hear("condition_true"));
    assert_eq!(driver.shown(), "shelved");
    driver.hear("condition_false");
    assert_eq!(driver.shown(), "normal");
    assert!(driver.hear("condition_true"), "the one after it calls");
}

#[test]
fn timed_shelving_ignores_activity() {
    let case = case("timed shelving ignores activity");
    let mut driver = active();
    let start = driver.now;
    let mut seen = Vec::new();
    for pair in case["input"]["events"].as_array().unwrap() {
        let at = start + span(&pair[1]);
        match pair[0].as_str().unwrap() {
            "timed_shelve" => {
                let until = at + span(&case["input"]["shelve_s"]);
                driver.flag(Flag::Shelved, driver.flagging().until(until));
            }
            "timer" => {
                driver.wait(at - driver.now);
            }
            word => {
                driver.now = at - Span::seconds(1); // hearing takes a second
                driver.hear(if word == "active" { "condition_true" } else { "condition_false" });
            }
        }
        seen.push(shelved(&driver, "timed_shelved"));
    }
    assert_eq!(json!(seen), case["expected"]);
}

#[test]
fn a_maximum_shelve_time_also_ends_one_shot_shelving() {
    let case = case("a maximum shelve time also ends one-shot shelving");
    let longest = span(&case["input"]["max_time_shelved_s"]);
    let mut driver = Driver::with(Settings { longest_shelving: longest, ..Settings::told() });
    driver.hear("condition_true");
    shelve_once(&mut driver);
    let mut seen = vec![shelved(&driver, "one_shot_shelved")];
    assert!(driver.wait(longest - Span::seconds(1)).is_empty());
    assert!(driver.wait(Span::seconds(1))[0].announce, "still active: it calls again");
    seen.push(shelved(&driver, "one_shot_shelved"));
    assert_eq!(json!(seen), case["expected"]);
}

#[test]
fn an_alarm_that_stands_for_longer_than_a_day_is_stale() {
    let cases = cases("alarm.metrics");
    assert_eq!((cases.len(), &cases[0]["input"]["limit_s"]), (1, &json!(86_400)));
    let mut driver = active();
    let since = driver.now;
    let now = since + span(&cases[0]["input"]["now_s"]);
    assert_eq!(json!(driver.is_stale(now)), cases[0]["expected"]);
    assert!(!driver.is_stale(now - Span::seconds(1)), "a day is not longer than a day");
    driver.hear("condition_false");
    assert!(!driver.is_stale(now), "it is over");
}

/// The three flags and "retain" for each main state of a latching alarm. What is acknowledged and not yet reset is what
/// OPC UA calls unconfirmed.
fn flags_of(state: State) -> Value {
    let unseen =
        matches!(state, State::Unacknowledged | State::ReturnedUnacknowledged | State::LatchedUnacknowledged);
    let unconfirmed = matches!(state, State::Acknowledged | State::LatchedAcknowledged);
    json!({
        "active": u8::from(state.standing()),
        "acked": u8::from(!unseen),
        "confirmed": u8::from(!unconfirmed),
        "retain": u8::from(state != State::Normal),
    })
}

#[test]
fn the_flags_of_a_condition_that_keeps_only_its_latest_state() {
    let cases = cases("alarm.opcua_flags");
    assert_eq!(cases.len(), 1);
    let mut driver = Driver::new(Rules { latching: true, ack_required: true });
    let mut seen = Vec::new();
    for event in words(&cases[0]["input"]["events"]) {
        match event {
            "(initial)" => false,
            "active" => driver.hear("condition_true"),
            "inactive" => driver.hear("condition_false"),
            "acknowledge" => driver.hear("ack"),
            "confirm" => driver.hear("reset"),
            other => panic!("no such event: {other}"),
        };
        seen.push(flags_of(driver.state()));
    }
    assert_eq!(json!(seen), cases[0]["expected"]);
}
