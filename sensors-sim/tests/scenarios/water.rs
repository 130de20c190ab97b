//! Heat, oxygen, ammonia and jars: what each fault promises, and its sign in the readings.

use super::play::{Check, Played};
use sensors_sim::Known;

pub(crate) const CHECKS: &[Check] = &[
    ("fault-heater-stuck", heater_stuck),
    ("fault-heater-dead", heater_dead),
    ("fault-heater-misset", heater_misset),
    ("fault-window-winter", window),
    ("fault-overstocked", overstocked),
    ("fault-ammonia", ammonia),
    ("fault-strainer", strainer),
    ("fault-jar-pump", jar_pump),
];

fn heater_stuck(p: &Played) {
    p.within("V1/power", ("00:31", "07:29"), 170.0, 190.0);
    let slope = p.mean("V1/temperature", "01:28", "01:32") - p.mean("V1/temperature", "00:58", "01:02");
    assert!(slope > 0.5, "{slope} K in half an hour");
    p.within("V1/temperature", ("07:20", "07:29"), 31.0, 36.0);
}

fn heater_dead(p: &Played) {
    p.within("V1/power", ("00:31", "07:29"), 0.0, 0.0);
    p.within("V1/temperature", ("07:20", "07:29"), 23.0, 25.0);
    let slope = p.mean("V1/temperature", "01:00", "01:10") - p.mean("V1/temperature", "02:00", "02:10");
    assert!((0.3..0.7).contains(&slope), "a slow fall, not {slope} K in an hour");
}

fn heater_misset(p: &Played) {
    p.within("V1/power", ("00:31", "06:00"), 0.0, 0.0);
    p.within("V1/temperature", ("07:20", "07:29"), 23.6, 25.0);
}

fn window(p: &Played) {
    assert!(
        p.mean("V1/room-temperature", "00:20", "00:29") - p.mean("V1/room-temperature", "05:00", "05:10")
            > 10.0
    );
    p.within("V1/power", ("05:00", "07:29"), 170.0, 190.0);
    p.within("V1/temperature", ("07:20", "07:29"), 23.0, 26.5);
}

fn overstocked(p: &Played) {
    p.within("G1/dissolved-oxygen", ("01:30", "02:16"), 5.0, 8.3);
    p.within("G1/dissolved-oxygen", ("03:40", "04:15"), -0.3, 2.0);
    assert!(
        p.truth
            .iter()
            .any(|t| t.what.to_string().starts_with("CROWD") && t.what.to_string().contains("no oxygen"))
    );
}

/// No probe for ammonia is known to the room: what shows is in the truth.
fn ammonia(p: &Played) {
    let tan = |at: &str| {
        let hour = p.truth.iter().filter(|t| t.at == p.at(at)).find_map(|t| match &t.what {
            Known::Water { tank, tan, .. } if tank == "G1" => Some(*tan),
            _ => None,
        });
        hour.unwrap()
    };
    assert!(tan("01:00") < 0.3 && tan("05:00") > 0.5, "{} {}", tan("01:00"), tan("05:00"));
    assert!(tan("07:00") < 0.75 * tan("06:00"), "{} {}", tan("06:00"), tan("07:00"));
}

fn strainer(p: &Played) {
    p.within("V1/level/header", ("00:10", "00:59"), 97.0, 103.0);
    p.within("V1/level/header", ("03:10", "03:59"), 5.0, 20.0);
    p.within("JR1/water-flow", ("03:10", "03:59"), 0.0, 0.3);
    p.within("power/w1", ("03:10", "03:59"), 15.0, 35.0);
    assert!(p.tells("JAR-WRIGGLERS lies still in JR1"));
}

fn jar_pump(p: &Played) {
    p.within("power/w1", ("03:11", "06:09"), 0.0, 0.0);
    let least = p.values("V1/level/header", "03:10", "03:13").into_iter().fold(100.0, f64::min);
    assert!((80.0..97.0).contains(&least), "{least}");
    p.within("JR1/water-flow", ("00:00", "07:59"), 2.0, 3.2);
    assert!(!p.tells("lies still"));
}
