//! The Undercroft: its days, its account and its readings are those of the keeper's story.

use super::play::{Check, Played, json, text};
use sensors_sim::{Known, Sent, Share};
use units::{Span, Stage, Time};

pub(crate) const CHECKS: &[Check] = &[("undercroft", undercroft)];

fn undercroft(p: &Played) {
    stages_come_on_their_days(p);
    events_come_at_their_times(p);
    the_account_adds_up(p);
    b1_restarts(p);
    the_air_stops(p);
    the_heater_sticks(p);
    the_wifi_is_lost(p);
    the_power_is_cut(p);
    g1_is_fed_twice(p);
}

/// Hatch and free swimming of the account; within a day of that noon.
const STAGES: [(&str, Stage, i64); 16] = [
    ("C01", Stage::Hatch, 3),
    ("C01", Stage::FreeSwimming, 12),
    ("C02", Stage::Hatch, 8),
    ("C02", Stage::FreeSwimming, 20),
    ("C03", Stage::FreeSwimming, 27),
    ("C04", Stage::Hatch, 8),
    ("C04", Stage::FreeSwimming, 12),
    ("C05", Stage::FreeSwimming, 40),
    ("C06", Stage::Hatch, 14),
    ("C06", Stage::FreeSwimming, 22),
    ("C07", Stage::Hatch, 15),
    ("C07", Stage::FreeSwimming, 23),
    ("C09", Stage::Hatch, 22),
    ("C09", Stage::FreeSwimming, 27),
    ("C11", Stage::Hatch, 34),
    ("C11", Stage::FreeSwimming, 42),
];

fn stages_come_on_their_days(p: &Played) {
    for (name, want, day) in STAGES {
        let half = p.truth.iter().find(|t| {
            matches!(&t.what, Known::Reached { clutch, stage, share: Share::Half }
                if clutch == name && *stage == want)
        });
        let noon = p.start + Span::days(day - 1) + Span::hours(12);
        let off = (half.unwrap_or_else(|| panic!("{name} {want}")).at - noon).as_days();
        assert!(off.abs() <= 1.0, "{name}: {want} {off} days from day {day}");
    }
}

const EVENTS: [(&str, &str); 23] = [
    ("lab-01 is seen spawning", "day 1 11:00"),
    ("device b1 restarts", "day 2 08:10"),
    ("C01 is taken", "day 3 19:20"),
    ("C02 is taken", "day 5 20:00"),
    ("the diaphragm of P1 is torn", "day 9 02:17"),
    ("C01 lies still in TU1", "day 9 02:17"),
    ("pump P2 is started by hand", "day 9 03:04"),
    ("C02 turns again in TU2", "day 9 03:04"),
    ("pump P2 is put on automatic", "day 10 10:00"),
    ("a drill: P1 is unplugged", "day 10 10:05"),
    ("18 of C07 die", "day 11 18:30"),
    ("the lid of TU1", "day 12 21:15"),
    ("C06 goes into TU1", "day 13 19:00"),
    ("a second person feeds G1", "day 15 13:20"),
    ("the heater of V1 sticks on", "day 17 19:40"),
    ("mended: the heater of V1", "day 18 05:55"),
    ("the Wi-Fi is lost", "day 19 11:05"),
    ("mended: the Wi-Fi", "day 19 14:20"),
    ("the grid is off", "day 23 13:10"),
    ("mended: the grid", "day 23 15:20"),
    ("six philander are seen", "day 27 17:00"),
    ("cyp-01 has spat", "day 30 23:50"),
    ("the probe of V2", "day 37 20:00"),
];

fn events_come_at_their_times(p: &Played) {
    for (says, at) in EVENTS {
        assert_eq!(p.when(says), Some(p.at(at)), "{says}");
    }
}

/// How many of a clutch are left at a moment.
const ACCOUNT: [(&str, &str, u32); 19] = [
    ("C00", "day 42 00:00", 4),
    ("C01", "day 4 00:00", 38),
    ("C01", "day 13 00:00", 35),
    ("C01", "day 42 00:00", 33),
    ("C02", "day 10 00:00", 16),
    ("C02", "day 33 20:00", 13),
    ("C03", "day 42 00:00", 9),
    ("C04", "day 28 18:00", 541),
    ("C05", "day 42 00:00", 17),
    ("C06", "day 22 00:00", 28),
    ("C06", "day 42 00:00", 22),
    ("C07", "day 12 00:00", 29),
    ("C07", "day 15 12:00", 11),
    ("C07", "day 42 00:00", 9),
    ("C08", "day 34 00:00", 6),
    ("C09", "day 23 13:00", 650),
    ("C09", "day 28 18:00", 398),
    ("C10", "day 42 00:00", 12),
    ("C11", "day 42 00:00", 41),
];

fn the_account_adds_up(p: &Played) {
    for (clutch, at, want) in ACCOUNT {
        assert_eq!(p.left(clutch, p.at(at)), want, "{clutch} on {at}");
    }
    let on = |clutch, at: &str| p.left(clutch, p.at(at));
    // M2 is C04 and C09; in G1 swim on day 27 C01, C07 and six of C06.
    assert_eq!(on("C04", "day 28 18:00") + on("C09", "day 28 18:00"), 939);
    let strays = on("C06", "day 22 00:00") - on("C06", "day 24 00:00");
    assert_eq!(on("C01", "day 27 00:00") + on("C07", "day 27 00:00") + strays, 48);
}

/// What a device says of a probe in any of the shapes that put all probes into one message.
fn said(sent: &Sent, probe: &str) -> Option<f64> {
    let whole = json(sent);
    let flat = whole[probe].as_f64();
    let named = |list: &serde_json::Value, name: &str, value: &str| {
        let one = list.as_array()?.iter().find(|m| m[name].as_str().is_some_and(|n| n.ends_with(probe)))?;
        one[value].as_f64()
    };
    flat.or_else(|| named(&whole["probes"], "id", "value")).or_else(|| named(&whole, "n", "v"))
}

fn of(p: &Played, device: &str, probe: &str, (from, to): (&str, &str)) -> Vec<f64> {
    let all: Vec<f64> =
        p.readings(from, to).filter(|s| &*s.device == device).filter_map(|s| said(s, probe)).collect();
    assert!(!all.is_empty(), "{device} says nothing of {probe} from {from} to {to}");
    all
}

fn all(values: &[f64], low: f64, high: f64) -> bool {
    values.iter().all(|v| (low..=high).contains(v))
}

fn b1_restarts(p: &Played) {
    let first = of(p, "b1", "V1.temperature", ("day 2 08:10", "day 2 08:13"));
    assert_eq!(first[..2], [85.0, 85.0]);
    assert!(all(&first[2..], 26.5, 27.5), "{first:?}");
}

fn the_air_stops(p: &Played) {
    let night = ("day 9 02:18", "day 9 03:03");
    for tumbler in 1..=4 {
        assert!(all(&of(p, "b1", &format!("TU{tumbler}.air-flow"), night), 0.0, 0.0));
    }
    p.within("power/p1", night, 3.4, 4.2);
    let pressure = of(p, "b1", "V1.line-pressure", night);
    assert!(pressure[0] > 2.5 && pressure[pressure.len() - 1] < 1.3, "{pressure:?}");
    assert!(all(&of(p, "b1", "TU1.air-flow", ("day 9 03:05", "day 9 04:00")), 0.35, 0.5));
    // The drill: P2 starts by itself.
    assert!(all(&of(p, "b1", "TU1.air-flow", ("day 10 10:06", "day 10 10:07")), 0.35, 0.5));
}

fn the_heater_sticks(p: &Played) {
    let end = of(p, "b1", "V1.temperature", ("day 18 05:40", "day 18 05:55"));
    assert!(all(&end, 30.2, 31.0), "{end:?}");
    // The probe of V2 has its offset from the first day: 28.5 °C are told as 29.3.
    let v2 = of(p, "b2", "V2.temperature", ("day 1 00:00", "day 1 12:00"));
    assert!((v2.iter().sum::<f64>() / v2.len() as f64 - 29.3).abs() < 0.15);
}

fn the_wifi_is_lost(p: &Played) {
    assert!(p.readings("day 19 11:05:01", "day 19 14:19:59").next().is_none());
    let back = p.at("day 19 14:20");
    let kept: Vec<&Sent> = p.readings("day 19 14:20", "day 19 14:20").collect();
    // Four boards keep a message a minute for 195 minutes.
    assert_eq!(kept.len(), 780);
    let oldest = kept.iter().filter_map(|s| json(s)["ts"].as_f64()).fold(f64::INFINITY, f64::min);
    assert!((back - Time::from_seconds(oldest).unwrap()).as_minutes() > 193.0);
}

fn the_power_is_cut(p: &Played) {
    let cut = ("day 23 13:12", "day 23 15:19");
    assert!(all(&of(p, "room", "V1.mains-switch", cut), 0.0, 0.0));
    for tumbler in 1..=4 {
        assert!(all(&of(p, "b1", &format!("TU{tumbler}.air-flow"), cut), 0.3, 0.9), "battery pump");
    }
    assert!(all(&of(p, "b2", "JR2.water-flow", ("day 23 14:00", "day 23 15:19")), 0.0, 0.1));
    let gone = |s: &Sent| ["n1", "n2", "g", "plug-p1", "plug-w1"].contains(&&*s.device);
    assert!(!p.readings(cut.0, cut.1).any(gone), "no battery");
    let wills =
        p.sent.iter().filter(|s| s.at == p.at("day 23 13:10") + Span::seconds(30) && text(s) == "offline");
    assert_eq!(wills.count(), 5);
    let room = of(p, "room", "V1.room-temperature", ("day 23 13:08", "day 23 15:20"));
    let fell = room[0] - room[room.len() - 1];
    assert!((0.5..1.3).contains(&fell), "{fell}");
}

fn g1_is_fed_twice(p: &Played) {
    let tan = |at: &str| {
        p.truth.iter().filter(|t| t.at == p.at(at)).find_map(|t| match &t.what {
            Known::Water { tank, tan, ph, .. } if tank == "G1" => Some((*tan, *ph)),
            _ => None,
        })
    };
    let (before, ph) = tan("day 15 18:00").unwrap();
    assert!((0.4..0.6).contains(&before) && (8.1..8.3).contains(&ph), "{before} mg/L at pH {ph}");
    assert!(tan("day 15 19:00").unwrap().0 < 0.75 * before);
}
