//! What a device's clock says, in each shape that carries a time.

use crate::{calm, device, json, readings};
use sensors_sim::{Fault, Sent};
use units::{Span, Time};

const SHAPES: [&str; 4] = ["json", "flat-json", "list-json", "senml"];

/// The time in a message, as it is written.
fn written(shape: &str, sent: &Sent) -> serde_json::Value {
    let message = json(sent);
    match shape {
        "json" => message["t"].clone(),
        "senml" => message[0]["bt"].clone(),
        _ => message["ts"].clone(),
    }
}

/// The last reading of a span in that shape, with more lines for the device.
fn last(shape: &str, more: &str, span: Span) -> Sent {
    let text = device("'V1/temperature'", &format!("shape = '{shape}'\n{more}"));
    readings(&mut calm(&text), span).pop().unwrap()
}

/// How far the written time is ahead of the true one, s.
fn ahead(shape: &str, sent: &Sent) -> f64 {
    let time = Time::from_seconds(written(shape, sent).as_f64().unwrap()).unwrap();
    (time - sent.at).as_seconds()
}

#[test]
fn a_right_clock_is_right_and_a_wrong_one_is_off_by_as_much_as_set() {
    for shape in SHAPES {
        for (more, off) in [
            ("", 0.0),
            ("clock_ahead_s = 95.5", 95.5),
            ("clock_ahead_s = -3600", -3600.0),
            ("clock_gains_s = 10", 20.0),
            ("clock_gains_s = -2\nclock_ahead_s = 1", -3.0),
        ] {
            let got = ahead(shape, &last(shape, more, Span::days(2)));
            // The last reading is up to ten seconds short of two days.
            assert!((got - off).abs() <= 0.003, "{shape}, {more}: {got}");
        }
    }
}

#[test]
fn a_clock_that_was_never_set_counts_from_its_start() {
    for shape in &SHAPES[..3] {
        let sent = last(shape, "clock = 'unset'", Span::hours(3));
        let counted = written(shape, &sent).as_f64().unwrap();
        assert!((counted - (sent.at - crate::start()).as_seconds()).abs() < 0.0006, "{shape}: {counted}");
    }
}

#[test]
fn a_time_without_a_zone_is_that_of_one_hour_east() {
    for shape in &SHAPES[..3] {
        let sent = last(shape, "clock = 'no-zone'", Span::hours(3));
        let text = written(shape, &sent).as_str().unwrap().to_owned();
        let read = Time::parse_rfc3339(&format!("{text}+01:00")).unwrap();
        assert!((sent.at - read).as_seconds() < 1.0 && sent.at >= read, "{shape}: {text}");
        assert_eq!(text.len(), "2031-03-14T00:00:00".len());
    }
}

#[test]
fn a_device_without_a_clock_sends_no_time() {
    for shape in SHAPES {
        assert!(written(shape, &last(shape, "clock = 'absent'", Span::minutes(2))).is_null(), "{shape}");
    }
    // SenML takes a small number for a time relative to now (RFC 8428, 4.5.3): such a clock is left out there.
    for clock in ["unset", "no-zone"] {
        let sent = last("senml", &format!("clock = '{clock}'"), Span::minutes(2));
        assert!(written("senml", &sent).is_null());
    }
}

#[test]
fn a_clock_jumps_and_comes_back() {
    for shape in SHAPES {
        let mut room = calm(&device("'V1/temperature'", &format!("shape = '{shape}'")));
        let fault = Fault::ClockJump { device: "b1".into(), by_s: -86_400.0 };
        room.inject(room.now() + Span::minutes(1), fault.clone()).unwrap();
        room.mend(room.now() + Span::minutes(2), fault).unwrap();
        for sent in readings(&mut room, Span::minutes(3)) {
            let during = (60.0..120.0).contains(&(sent.at - crate::start()).as_seconds());
            let want = if during { -86_400.0 } else { 0.0 };
            assert!((ahead(shape, &sent) - want).abs() < 0.0006, "{shape} at {}", sent.at);
        }
    }
}

/// A clock that gains is set right by a start; one that is only ahead is not.
#[test]
fn a_start_sets_what_the_clock_has_gained_back() {
    let mut room = calm(&device("'V1/temperature'", "clock_gains_s = 100"));
    room.let_do(room.now() + Span::days(1), sensors_sim::Act::Restart("b1".into())).unwrap();
    readings(&mut room, Span::days(1));
    let sent = readings(&mut room, Span::minutes(1)).pop().unwrap();
    assert!(ahead("json", &sent).abs() < 0.1);
}
