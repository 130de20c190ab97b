//! What holds for every input.

#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use proptest::prelude::*;
use readings::{
    Decoded, Flags, Format, Judge, MapEntry, Message, OwnTime, Raw, Reading, Reason, TopicMap, Verdict,
};
use std::collections::HashSet;
use units::{Quantity, Span, Time, Unit};

const START: Time = Time::from_millis(1_931_221_060_000);

fn entry(topic: &str, format: Format) -> MapEntry {
    MapEntry {
        topic: topic.into(),
        vessel: Some("V1".into()),
        quantity: Some(Quantity::Temperature),
        format,
        unit: Some(Unit::Celsius),
        scale: Some(1.0),
        decimal_comma: true,
        ..MapEntry::default()
    }
}

fn map() -> TopicMap {
    let at = |p: &str| Some(p.to_owned());
    let json = |topic: &str, pointer: &str| MapEntry {
        pointer: at(pointer),
        time: at("/t"),
        age: at("/a"),
        sequence: at("/n"),
        unit_at: at("/u"),
        ..entry(topic, Format::Json)
    };
    let entries = vec![
        entry("a/#", Format::Plain),
        json("b/+", "/v"),
        MapEntry { window: at("/v"), mark: at("w"), ..json("b/+", "/v") },
        json("c", "/s[id=x]/0/v"),
        json("d", ""),
        MapEntry { name: at("v"), ..entry("e", Format::Senml) },
        MapEntry { words: [("v".to_owned(), 26.9)].into(), ..entry("f", Format::Words) },
        MapEntry { column: Some(1), ..entry("g", Format::List) },
        MapEntry { key: at("v"), ..entry("h", Format::KeyValue) },
        MapEntry { vessel: at("+1"), mark: at("+2"), ..entry("i/+/+", Format::Float32Le) },
    ];
    TopicMap::new("undercroft".parse().unwrap(), entries).unwrap()
}

fn topics() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("hatchwarden/undercroft/V1/temperature".to_owned()),
        "hatchwarden/undercroft/[A-Za-z0-9/+#$-]{0,30}",
        "[a-i](/[a-z+#]{0,3}){0,3}",
        ".*",
    ]
}

/// Bytes, texts, and JSON with the fields that are looked for.
fn payloads() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        prop::collection::vec(any::<u8>(), 0..200),
        "[-+0-9eE.,nafC°F% \"]{0,12}".prop_map(String::into_bytes),
        (r#"[vtuns]"#, r#"(-?[0-9]{1,4}(\.[0-9]{1,3})?|"[^"\\]{0,8}"|\[\{"id":"x"\}\]|null|true|nan)"#)
            .prop_map(|(k, v)| format!(r#"{{"v":26.9,"{k}":{v}}}"#).into_bytes()),
        any::<String>().prop_map(String::into_bytes),
        r#"\[\{"n":"v","(v|t|bt|u|bu|bv|ut)":(-?[0-9]{1,12}|"Cel"|"K"),"v":2[0-9]\}\]"#
            .prop_map(String::into_bytes),
        prop::collection::vec(any::<u8>(), 0..40).prop_map(|mut b| {
            b.insert(0, 0x81);
            b
        }),
        (5.0f32..45.0).prop_map(|x| x.to_le_bytes().to_vec()),
        "[vtx]{1,2} ?= ?[0-9.,]{1,5}[ ;,CF]{0,3}v=2[0-9]".prop_map(String::into_bytes),
    ]
}

proptest! {
    #[test]
    fn any_message_becomes_something_that_keeps_its_bounds(
        topic in topics(), payload in payloads(), retained: bool, ms in -4_000_000_000_000i64..8_000_000_000_000,
    ) {
        let received = Time::from_millis(ms);
        let all = map().decode(&Message { topic: &topic, payload: &payload, retained, received });
        prop_assert!(!all.is_empty());
        for decoded in all {
            match decoded {
                Decoded::Value(raw) => {
                    prop_assert!(raw.probe.quantity.hard_band().contains(raw.value));
                    Judge::new().judge(raw, retained, received);
                }
                Decoded::Availability { device, .. } | Decoded::Alive { device } => {
                    prop_assert!(device.len() <= topic.len());
                }
                Decoded::Refused(r) => {
                    prop_assert!(r.place.chars().count() <= 80 && r.excerpt.chars().count() <= 80);
                    prop_assert!(!r.excerpt.chars().chain(r.place.chars()).any(char::is_control));
                }
                Decoded::Nothing => {}
            }
        }
    }

    #[test]
    fn a_value_survives_the_default_shape_to_the_bit(
        value in 5.0f64..45.0, n: u64, seconds in 1_577_836_800i64..4_000_000_000, object: bool,
    ) {
        let payload =
            if object { format!(r#"{{"v":{value},"t":{seconds},"n":{n}}}"#) } else { value.to_string() };
        let topic = "hatchwarden/undercroft/V1/temperature";
        let m = Message { topic, payload: payload.as_bytes(), retained: false, received: START };
        let all = map().decode(&m);
        let [Decoded::Value(raw)] = all.as_slice() else { panic!("{all:?}") };
        prop_assert_eq!(raw.value.to_bits(), value.to_bits());
        if object {
            prop_assert_eq!(raw.sequence, Some(n));
            prop_assert_eq!(raw.own_time, Some(OwnTime::At(Time::from_millis(seconds * 1_000))));
        }
    }

    #[test]
    fn a_filter_without_wildcards_matches_itself_alone(a in "[a-c/]{1,8}", b in "[a-c/]{1,8}") {
        prop_assert_eq!(readings::matches(&a, &b), a == b);
    }
}

/// One message of a small room: few values, times and numbers, so that everything collides.
#[derive(Debug, Clone)]
struct Sent {
    raw: Raw,
    retained: bool,
    later: Span,
}

fn sent() -> impl Strategy<Value = Sent> {
    let value = prop_oneof![Just(26.9), Just(27.0), Just(35.0), Just(20.0)];
    let own = prop_oneof![
        3 => Just(None),
        1 => Just(Some(OwnTime::NoZone)),
        3 => (-40i64..20).prop_map(|s| Some(OwnTime::At(START + Span::seconds(s * 30)))),
        1 => (0i64..900).prop_map(|s| Some(OwnTime::Ago(Span::seconds(s)))),
    ];
    let later = prop_oneof![3 => Just(0), 3 => 0i64..3, 3 => 0i64..30_000, 1 => -2_000i64..4_000_000];
    let number = prop::option::of(prop_oneof![0u64..6, 190u64..200]);
    (value, own, number, prop::bool::weighted(0.1), later).prop_map(
        |(value, own_time, sequence, retained, ms)| {
            let probe = "V1/temperature".parse().unwrap();
            Sent {
                raw: Raw { own_time, sequence, ..Raw::bare(probe, value) },
                retained,
                later: Span::from_millis(ms),
            }
        },
    )
}

fn step(judge: &mut Judge, s: &Sent, now: &mut Time) -> Vec<Reading> {
    *now += s.later;
    match judge.judge(s.raw.clone(), s.retained, *now) {
        Verdict::Accept(readings) => readings,
        Verdict::Refuse(_) | Verdict::Hold => Vec::new(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn no_two_readings_share_a_time(all in prop::collection::vec(sent(), 0..200)) {
        let (mut judge, mut now, mut times) = (Judge::new(), START, HashSet::new());
        for s in &all {
            for r in step(&mut judge, s, &mut now) {
                prop_assert!(times.insert(r.time), "{r:?}");
                prop_assert!(!(r.fresh && s.retained));
                prop_assert_eq!(r.time_source, r.flags.time_source());
            }
        }
    }

    /// What comes in is accepted, refused or held, and nothing is lost on the way.
    #[test]
    fn the_count_balances(all in prop::collection::vec(sent(), 0..200)) {
        let (mut judge, mut now, mut ended, mut held) = (Judge::new(), START, 0, 0);
        let probe = "V1/temperature".parse().unwrap();
        for s in &all {
            now += s.later;
            ended += match judge.judge(s.raw.clone(), s.retained, now) {
                Verdict::Accept(readings) => readings.len(),
                Verdict::Refuse(_) => 1,
                Verdict::Hold => 0,
            };
            ended += usize::from(judge.take_dropped(&probe).is_some());
            if let Some(change) = judge.take_held_change(&probe) {
                held = usize::from(change.is_some());
            }
        }
        prop_assert_eq!(ended + held, all.len());
    }

    /// A judge filled from what was stored judges as the one that was lost. The cut lies behind an accepted reading. By how
    /// much a device's clock is behind is learnt anew, so it ends where one is found to be; `judge.rs` tries that.
    #[test]
    fn a_restart_changes_no_verdict(all in prop::collection::vec(sent(), 2..200), cut in 0usize..200) {
        let (mut judge, mut now, mut stored, mut held) = (Judge::new(), START, Vec::new(), None);
        let mut restarted: Option<Judge> = None;
        let probe = "V1/temperature".parse().unwrap();
        for (i, s) in all.iter().enumerate() {
            now += s.later.max(Span::ZERO);
            let verdict = judge.judge(s.raw.clone(), s.retained, now);
            let again = restarted.as_mut().map(|r| r.judge(s.raw.clone(), s.retained, now));
            if is_behind(s, now, &verdict) || again.as_ref().is_some_and(|v| is_behind(s, now, v)) {
                return Ok(());
            }
            if let (Some(r), Some(again)) = (&mut restarted, again) {
                prop_assert_eq!(&verdict, &again);
                prop_assert_eq!(judge.take_dropped(&probe), r.take_dropped(&probe));
            }
            judge.take_dropped(&probe);
            held = judge.take_held_change(&probe).unwrap_or(held);
            if let Verdict::Accept(readings) = verdict {
                stored.extend(readings);
                if i >= cut && restarted.is_none() {
                    restarted = Some(fill(&mut stored, held.clone()));
                }
            }
        }
    }
}

/// Whether a reading was taken by its arrival since its device's clock is behind: of what is old only that is judged for jumps.
fn is_behind(s: &Sent, now: Time, verdict: &Verdict) -> bool {
    let old = matches!(s.raw.own_time, Some(OwnTime::At(t)) if now - t > Span::minutes(10));
    match verdict {
        Verdict::Accept(all) => all.iter().any(|r| r.flags.contains(Flags::DEVICE_CLOCK_BEHIND)),
        Verdict::Hold => old,
        // Then its number may tell that it came before, and not its time.
        Verdict::Refuse(r) if s.raw.sequence.is_some() && r.reason == Reason::Duplicate => old,
        Verdict::Refuse(r) => old && r.reason == Reason::TooFastChange,
    }
}

fn fill(stored: &mut [Reading], held: Option<Reading>) -> Judge {
    let mut judge = Judge::new();
    stored.sort_by_key(|r| r.time);
    stored.iter().for_each(|r| judge.remember(r));
    held.into_iter().for_each(|r| judge.hold(r));
    judge
}
