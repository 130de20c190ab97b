//! The sequences, each event after the other.

use super::driver::Driver;
use super::{cases, words};
use alarms::Rules;

#[test]
fn every_sequence_through_a_panel() {
    let cases = cases("alarm.sequences");
    assert_eq!(cases.len(), 10);
    for case in cases {
        let config = &case["input"]["config"];
        let rules = Rules {
            latching: config["latching"].as_bool().unwrap(),
            ack_required: config["ack_required"].as_bool().unwrap(),
        };
        assert_eq!(case["input"]["initial"], "normal");
        let (events, expected) = (words(&case["input"]["events"]), case["expected"].as_array().unwrap());
        assert_eq!(events.len(), expected.len());
        let mut driver = Driver::new(rules);
        for (event, expected) in events.iter().zip(expected) {
            let announced = driver.hear(event);
            assert_eq!(expected["state"], driver.shown(), "{}: {event}", case["name"]);
            assert_eq!(expected["annunciate"], announced, "{}: {event}", case["name"]);
        }
    }
}
