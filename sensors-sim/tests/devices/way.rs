//! The way to the broker: losses, what was kept meanwhile, the will, running numbers, and how messages are marked.

use crate::{calm, device, exponential, json, played, readings};
use sensors_sim::{Act, Fault, Happening, Kind, Room, Sent};
use units::{Span, Time};

fn sent(happened: Vec<Happening>) -> Vec<Sent> {
    happened.into_iter().filter_map(|h| if let Happening::Sent(s) = h { Some(s) } else { None }).collect()
}

/// Plays ten minutes in which a fault holds from one minute after the start, for so many seconds.
fn with(room: &mut Room, fault: Fault, seconds: i64) -> Vec<Sent> {
    let at = room.now() + Span::minutes(1);
    room.inject(at, fault.clone()).unwrap();
    room.mend(at + Span::seconds(seconds), fault).unwrap();
    sent(played(room, Span::minutes(10)))
}

/// Words on the state with their seconds after the start.
fn words(all: &[Sent]) -> Vec<(f64, String)> {
    let word =
        |s: &Sent| ((s.at - crate::start()).as_seconds(), String::from_utf8(s.payload.clone()).unwrap());
    all.iter().filter(|s| s.kind != Kind::Reading).map(word).collect()
}

fn own_time(s: &Sent) -> Time {
    Time::from_seconds(json(s)["t"].as_f64().unwrap()).unwrap()
}

#[test]
fn losses_of_the_wifi_and_the_time_between_are_exponential_with_the_means_set() {
    let mut room =
        calm(&device("'V1/temperature'", "every = '1 d'\nwifi = { lost_every = '1 h', lasts = '5 min' }"));
    let mut changes = vec![(crate::start(), true)];
    for h in played(&mut room, Span::days(120)) {
        if let Happening::Link { at, up, .. } = h {
            assert_ne!(changes.last().unwrap().1, up, "they take turns");
            changes.push((at, up));
        }
    }
    let spans = |was_up: bool| -> Vec<f64> {
        let pairs = changes.windows(2).filter(|w| w[0].1 == was_up);
        pairs.map(|w| (w[1].0 - w[0].0).as_seconds()).collect()
    };
    assert!(spans(false).len() > 2500);
    exponential("loss", &spans(false), 300.0);
    exponential("between", &spans(true), 3600.0);
}

#[test]
fn the_broker_says_offline_30_s_after_a_loss() {
    let all = with(&mut calm(&device("'V1/temperature'", "")), Fault::WifiLost("b1".into()), 90);
    let want = [(0.0, "online"), (90.0, "offline"), (150.0, "online")];
    assert_eq!(words(&all), want.map(|(at, word)| (at, word.to_owned())));
}

#[test]
fn who_is_back_sooner_is_told_gone_first() {
    let all = with(&mut calm(&device("'V1/temperature'", "")), Fault::WifiLost("b1".into()), 12);
    let want = [(0.0, "online"), (72.0, "offline"), (72.0, "online")];
    assert_eq!(words(&all), want.map(|(at, word)| (at, word.to_owned())));
    let kinds: Vec<Kind> = all.iter().map(|s| s.kind).filter(|k| *k != Kind::Reading).collect();
    assert_eq!(kinds, [Kind::Status, Kind::Will, Kind::Status]);
}

#[test]
fn a_device_without_a_will_says_nothing_of_itself() {
    let all = with(&mut calm(&device("'V1/temperature'", "will = false")), Fault::WifiLost("b1".into()), 90);
    assert!(words(&all).is_empty() && !all.is_empty());
}

#[test]
fn what_was_kept_comes_as_a_burst_in_order_with_its_own_times_the_oldest_dropped() {
    let mut room = calm(&device("'V1/temperature'", "keeps = 5"));
    let all = with(&mut room, Fault::WifiLost("b1".into()), 120);
    let back = crate::start() + Span::seconds(180);
    let away = |s: &&Sent| s.at > crate::start() + Span::minutes(1) && s.at < back;
    assert!(all.iter().filter(away).all(|s| s.kind == Kind::Will));
    let burst: Vec<&Sent> = all.iter().filter(|s| s.at == back).collect();
    assert_eq!(burst.len(), 1 + 5);
    assert_eq!(burst[0].payload, b"online");
    let n = |s: &&Sent| json(s)["n"].as_u64().unwrap();
    let numbers: Vec<u64> = burst[1..].iter().map(n).collect();
    // Twelve were measured while it was away, numbers 7 to 18.
    assert_eq!(numbers, [14, 15, 16, 17, 18]);
    assert!(burst[1..].windows(2).all(|w| own_time(w[1]) - own_time(w[0]) == Span::seconds(10)));
    assert!(burst[1..].iter().all(|s| own_time(s) < back && back - own_time(s) < Span::seconds(50)));
    let later: Vec<&Sent> = all.iter().filter(|s| s.at > back && s.kind == Kind::Reading).collect();
    assert_eq!(n(&later[0]), 19);
    assert_eq!(own_time(later[0]), later[0].at);
}

#[test]
fn who_keeps_nothing_has_a_gap() {
    let all = with(&mut calm(&device("'V1/temperature'", "")), Fault::RoomWifiLost, 120);
    let numbers: Vec<u64> =
        all.iter().filter(|s| s.kind == Kind::Reading).map(|s| json(s)["n"].as_u64().unwrap()).collect();
    assert_eq!(numbers[5..8], [6, 19, 20]);
}

#[test]
fn without_power_nothing_is_measured_and_what_was_kept_is_lost() {
    let mut room = calm(&device("'V1/temperature'", "keeps = 100"));
    // It loses the Wi-Fi, and then its power, and gets both back.
    let at = |s: i64| crate::start() + Span::seconds(s);
    room.inject(at(60), Fault::WifiLost("b1".into())).unwrap();
    room.inject(at(120), Fault::GridOff).unwrap();
    room.mend(at(180), Fault::GridOff).unwrap();
    room.mend(at(240), Fault::WifiLost("b1".into())).unwrap();
    let all: Vec<Sent> =
        sent(played(&mut room, Span::minutes(6))).into_iter().filter(|s| s.kind == Kind::Reading).collect();
    let measured: Vec<f64> = all.iter().map(|s| (own_time(s) - crate::start()).as_seconds()).collect();
    assert!(measured.iter().all(|t| *t <= 60.0 || *t >= 188.0), "{measured:?}"); // it boots for 8 s
    assert!(measured.contains(&188.0) && all.iter().any(|s| s.at == at(240)));
}

#[test]
fn numbers_rise_by_one_and_begin_anew_after_a_start() {
    let glitches = "[device.glitches]\nmissing = 0.3\nnull = 0.1";
    for shape in ["json", "flat-json", "list-json"] {
        let text = device("'V1/temperature', 'TU1/air-flow'", &format!("shape = '{shape}'\n{glitches}"));
        let mut room = calm(&text);
        room.let_do(room.now() + Span::hours(1), Act::Restart("b1".into())).unwrap();
        let all = readings(&mut room, Span::hours(2));
        let numbers: Vec<u64> = all.iter().map(|s| json(s)["n"].as_u64().unwrap()).collect();
        let anew = numbers.iter().rposition(|n| *n == 1).unwrap();
        assert!(anew > 0 && all[anew].at - crate::start() == Span::hours(1) + Span::seconds(8), "{shape}");
        for part in [&numbers[..anew], &numbers[anew..]] {
            assert!(part.iter().copied().eq(1..=part.len() as u64), "{shape}: {part:?}");
        }
    }
}

#[test]
fn messages_are_marked_as_set() {
    for (more, retain, qos) in
        [("", false, 1), ("retain = true", true, 1), ("retain = true\nqos = 0", true, 0)]
    {
        let all = sent(played(&mut calm(&device("'V1/temperature'", more)), Span::minutes(1)));
        let (readings, words): (Vec<Sent>, Vec<Sent>) =
            all.into_iter().partition(|s| s.kind == Kind::Reading);
        assert!(readings.len() == 6 && readings.iter().all(|s| (s.retain, s.qos) == (retain, qos)));
        // The broker keeps the state of a device in any case.
        assert!(words.len() == 1 && words[0].retain && words[0].qos == 1);
        assert_eq!(&*words[0].topic, "hatchwarden/lab/b1/availability");
    }
}
