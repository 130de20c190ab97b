//! Faults of devices and probes: what they promise, and their sign on the wire.

use super::faults::STRIKES;
use super::play::{Check, Played, json, text, value};
use sensors_sim::{Kind, Sent};
use units::Time;

pub(crate) const CHECKS: &[Check] = &[
    ("fault-wifi", wifi),
    ("fault-power-on-values", power_on_values),
    ("fault-probe-off", probe_off),
    ("fault-probe-stuck", probe_stuck),
    ("fault-probe-drift", probe_drift),
    ("fault-nan", nan),
    ("fault-clock-jump", clock_jump),
    ("fault-device-hangs", hangs),
];

/// The time that a message of our own shape carries.
fn own_time(sent: &Sent) -> Time {
    Time::from_seconds(json(sent)["t"].as_f64().unwrap()).unwrap()
}

fn of_b1<'a>(p: &'a Played, from: &str, to: &str) -> Vec<&'a Sent> {
    p.readings(from, to).filter(|s| &*s.device == "b1").collect()
}

fn wifi(p: &Played) {
    assert!(of_b1(p, "01:00:01", "02:59:59").is_empty());
    let burst: Vec<_> = of_b1(p, "03:00", "03:00");
    // Six probes every ten seconds for two hours, and all at once.
    assert_eq!(burst.len(), 2 * 3600 / 10 * 6);
    assert!(burst.is_sorted_by_key(|s| own_time(s)));
    assert!(own_time(burst[0]) < p.at("01:00:11") && own_time(burst[burst.len() - 1]) > p.at("02:59:49"));
    let words: Vec<_> =
        p.sent.iter().filter(|s| &*s.device == "b1" && s.kind != Kind::Reading).map(text).collect();
    assert_eq!(words, ["online", "offline", "online"]);
}

fn power_on_values(p: &Played) {
    for during in [("00:30:01", "00:39"), ("02:00:01", "02:09"), ("03:30:01", "03:39"), ("05:00:01", "05:09")]
    {
        p.within("V1/temperature", during, 85.0, 85.0);
    }
    p.within("V1/temperature", ("00:41", "01:59"), 26.5, 27.5);
    let wrong = p.values("V1/temperature", "00:00", "07:59").into_iter().filter(|v| *v == 85.0).count();
    assert_eq!(wrong, 4 * 60);
}

fn probe_off(p: &Played) {
    for (tumbler, _, (from, to)) in STRIKES {
        let all = p.of(&format!("{tumbler}/air-flow"), from, to);
        assert!(all.len() > 50 && all.iter().all(|s| text(s).starts_with("{\"v\":null,")), "{tumbler}");
    }
    p.within("V1/temperature", ("06:31", "07:29"), -127.0, -127.0);
    assert!(!p.tells("lies still"));
}

fn probe_stuck(p: &Played) {
    for (tumbler, clutch, (from, to)) in STRIKES {
        let all = p.values(&format!("{tumbler}/air-flow"), from, to);
        assert!(all[0] > 0.35 && all.iter().all(|v| *v == all[0]), "{tumbler}");
        assert!(p.tells(&format!("{clutch} lies still in {tumbler}")), "{clutch}");
    }
}

fn probe_drift(p: &Played) {
    let off = p.mean("V1/temperature", "07:00", "07:59") - p.mean("V1/temperature", "00:00", "00:29");
    // Four a day for seven hours and a half make 1.17.
    assert!((0.9..1.5).contains(&off), "{off}");
    p.within("V1/power", ("00:30", "07:59"), 0.0, 190.0);
}

fn nan(p: &Played) {
    let whole: Vec<_> = p.readings("00:00", "07:59").filter(|s| s.topic.ends_with("/b3/probes")).collect();
    let (bad, good): (Vec<_>, Vec<_>) = whole.iter().copied().partition(|s| text(s).contains(":nan"));
    // Of five probes each with 0.02, 9.6 % of the messages.
    let share = bad.len() as f64 / whole.len() as f64;
    assert!((0.08..0.115).contains(&share), "{share}");
    assert!(bad.iter().all(|s| json(s).is_null()), "a bare nan is no JSON");
    assert!(good.iter().all(|s| json(s)["TU4.air-flow.spare"].is_number()));
}

fn clock_jump(p: &Played) {
    let ahead = |from, to| {
        let all: Vec<f64> =
            of_b1(p, from, to).into_iter().map(|s| (own_time(s) - s.at).as_seconds()).collect();
        assert!(all.iter().all(|a| (a - all[0]).abs() < 0.01));
        all[0]
    };
    for (from, to, want) in [
        ("00:00", "00:59", 0.0),
        ("01:00:01", "01:59", 3600.0),
        ("02:00:01", "02:59", 0.0),
        ("03:00:01", "03:59", -86_400.0),
        ("04:00:01", "07:59", 0.0),
    ] {
        assert!((ahead(from, to) - want).abs() < 0.01, "{from}: {}", ahead(from, to));
    }
}

fn hangs(p: &Played) {
    assert!(of_b1(p, "01:00:01", "03:59:59").is_empty());
    assert!(p.sent.iter().all(|s| text(s) != "offline"), "the connection stands");
    assert!(p.tells("WRIGGLERS lies still in TU3") && p.tells("WRIGGLERS turns again in TU3"));
    // What is seen before and after is good air.
    for (from, to) in [("00:00", "01:00"), ("04:00:01", "07:59")] {
        assert!(p.of("TU3/air-flow", from, to).into_iter().filter_map(value).all(|v| v > 0.35));
    }
}
