//! Two weeks in which nothing is wrong: whoever raises an alarm here raises a false one.

use super::play::{Check, Played, text};
use sensors_sim::{Kind, Known};

pub(crate) const CHECKS: &[Check] = &[("calm-weeks", calm)];

fn calm(p: &Played) {
    assert!(!p.tells("lies still") && !p.tells("no oxygen") && !p.tells("too warm") && !p.tells("too cold"));
    every_tank_stays_near_its_set_point(p);
    people_forget_some_but_not_much(p);
    devices_are_as_they_are(p);
    p.within("TU1/air-flow", ("day 1 00:00", "day 14 23:59"), 0.33, 0.52);
}

fn every_tank_stays_near_its_set_point(p: &Played) {
    let mut hours = 0;
    for line in &p.truth {
        if let Known::Water { tank, celsius, oxygen, tan, .. } = &line.what {
            let set_point = if tank == "V1" { 27.0 } else { 26.0 };
            assert!((celsius - set_point).abs() < 0.9, "{tank} {celsius} at {}", line.at);
            assert!(*oxygen > 6.5 && *tan < 0.15, "{tank} {oxygen} {tan}");
            hours += 1;
        }
    }
    assert_eq!(hours, 4 * 14 * 24);
}

fn people_forget_some_but_not_much(p: &Played) {
    let acts = p.truth.iter().filter(|t| matches!(t.what, Known::Act { .. })).count();
    let forgotten = p.truth.iter().filter(|t| matches!(t.what, Known::Forgotten { .. })).count();
    assert!((5..40).contains(&forgotten) && acts > 130, "{forgotten} forgotten, {acts} done");
}

fn devices_are_as_they_are(p: &Played) {
    let count = |is: &dyn Fn(&str) -> bool| p.sent.iter().filter(|s| is(text(s))).count();
    // A handful of values that no water has, in half a million messages.
    assert!((3..80).contains(&count(&|t| t == "85.00" || t.contains("\"v\":85.00"))));
    assert!((3..80).contains(&count(&|t| t == "-127.00" || t.contains("\"v\":-127.00"))));
    assert!((1..40).contains(&count(&|t| t.contains(":nan"))));
    for device in ["nursery", "brood", "growout"] {
        let gone = p.sent.iter().filter(|s| &*s.device == device && s.kind == Kind::Will).count();
        assert!((2..40).contains(&gone), "{device} was away {gone} times");
    }
    assert!(p.sent.iter().any(|s| s.kind == Kind::Reading && s.retain && &*s.device == "growout"));
}
