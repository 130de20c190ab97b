//! The messages, read as somebody would who has just woken.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use alarms::{AlarmKey, Condition, Context, Panel, Settings, first_step, priority, sentence, subject};
use units::{Quantity, Span, Stage, Time, VesselId};

fn clock(t: Time) -> String {
    t.to_chrono().format("%H:%M").to_string()
}

fn at(text: &str) -> Time {
    Time::parse_rfc3339(&format!("2026-11-26T{text}:00Z")).unwrap()
}

fn wrigglers() -> Context {
    Context {
        clutch: Some("C02".parse().unwrap()),
        at: None,
        fish: "Labidochromis caeruleus".to_owned(),
        stage: Some(Stage::Hatch),
        count: 18,
        celsius: Some(27.0),
        within: None,
        leaving: None,
        measured: None,
        trouble: String::new(),
        gone: None,
        parts: Vec::new(),
        others: Vec::new(),
    }
}

#[test]
fn stopped_air_in_the_night() {
    let hurried = Context { within: Some(Span::minutes(20)), ..wrigglers() };
    let tu1: VesselId = "TU1".parse().unwrap();
    let key = AlarmKey::at(&tu1, Condition::AirStopped);
    let mut panel = Panel::new();
    panel.watch(key.clone(), Settings::air_stopped(0.15), at("02:00"));
    panel.reading(&tu1, Quantity::AirFlow, at("02:17"), 0.0, at("02:17"));
    panel.tick(at("02:18"));
    let alarm = panel.get(&key).unwrap();
    assert_eq!(subject(alarm, &hurried), "TU1 lies still");
    assert_eq!(
        sentence(alarm, &hurried, at("02:19"), &clock),
        "TU1 lies still since 02:17. Air flow 0.00 L/min. In it: C02, 18 wrigglers of Labidochromis caeruleus. \
         Act by 02:37 (20 min): a planning value; fish have been lost sooner and saved later."
    );
    assert!(first_step(alarm).contains("battery air pump") && first_step(alarm).contains("Dry hands"));

    panel.reading(&tu1, Quantity::AirFlow, at("03:04"), 0.8, at("03:04"));
    panel.reading(&tu1, Quantity::AirFlow, at("03:05"), 0.8, at("03:05"));
    assert_eq!(
        sentence(panel.get(&key).unwrap(), &hurried, at("03:05"), &clock),
        "Air flows again in TU1 since 03:04; it lasted 47 min from 02:17. Nobody has acknowledged it."
    );
}

#[test]
fn silence_never_says_that_air_has_stopped() {
    let v1: VesselId = "V1".parse().unwrap();
    let key = AlarmKey::silent(&v1, Quantity::Temperature);
    let mut panel = Panel::new();
    panel.watch(key.clone(), Settings::silent(Span::minutes(3)), at("02:00"));
    panel.tick(at("02:03"));
    let said = sentence(panel.get(&key).unwrap(), &wrigglers(), at("02:04"), &clock);
    assert!(said.starts_with("The thermometer of V1 is silent since 02:00."), "{said}");
    assert!(!said.contains("still") && !said.contains("stopped") && said.contains("does not talk"), "{said}");
}

#[test]
fn water_out_of_its_band_says_both_figures() {
    let v2: VesselId = "V2".parse().unwrap();
    let key = AlarmKey::at(&v2, Condition::TooCold);
    let mut panel = Panel::new();
    panel.watch(key.clone(), Settings::too_cold(27.5), at("02:00"));
    panel.reading(&v2, Quantity::Temperature, at("02:10"), 27.31, at("02:10"));
    panel.reading(&v2, Quantity::Temperature, at("02:12"), 27.25, at("02:12"));
    let said = sentence(panel.get(&key).unwrap(), &Context::default(), at("02:13"), &clock);
    assert!(
        said.starts_with("V2 is too cold since 02:10. It has 27.2 °C, the band begins at 27.5 °C."),
        "{said}"
    );
}

#[test]
fn troubles_of_the_service_name_the_thing_and_the_cure() {
    let mut panel = Panel::new();
    let key = AlarmKey::room(Condition::CannotStore);
    panel.set(&key, true, at("02:00"));
    let context = Context {
        trouble: "the disk that holds room.db is full; make room".to_owned(),
        ..Context::default()
    };
    let said = sentence(panel.get(&key).unwrap(), &context, at("02:01"), &clock);
    assert!(said.contains("room.db is full; make room") && said.contains("wait unacknowledged"), "{said}");
}

#[test]
fn hatched_young_without_air_come_first() {
    let air = |stage| priority(Condition::AirStopped, stage);
    assert!(air(Some(Stage::Hatch)) < air(Some(Stage::Egg)));
    assert!(air(None) < priority(Condition::TooCold, Some(Stage::Hatch)));
    assert!(priority(Condition::TooWarm, None) < priority(Condition::Silent, None));
}

#[test]
fn water_that_goes_is_told_with_the_time_at_which_it_is_out() {
    let v2: VesselId = "V2".parse().unwrap();
    let key = AlarmKey::at(&v2, Condition::LeavingBand);
    let mut panel = Panel::new();
    panel.watch(key.clone(), Settings::leaving_band(), at("02:00"));
    assert!(panel.derived(key.clone(), at("02:10"), 1.4, at("02:10")).is_empty());
    assert!(panel.derived(key.clone(), at("02:19"), 1.3, at("02:19")).is_empty());
    assert!(panel.derived(key.clone(), at("02:20"), 1.3, at("02:20"))[0].announce, "after ten minutes");
    let falling = Context { celsius: Some(28.3), leaving: Some((at("03:38"), 27.5, -0.62)), ..wrigglers() };
    let alarm = panel.get(&key).unwrap();
    assert_eq!(
        sentence(alarm, &falling, at("02:20"), &clock),
        "V2 is leaving its band since 02:10. It has 28.3 °C and goes by -0.6 K an hour: below 27.5 °C at 03:38. \
         There: C02, 18 wrigglers of Labidochromis caeruleus."
    );
    assert!(first_step(alarm).contains("heater") && priority(Condition::LeavingBand, None) == 4);
    // Over when it would stay for more than two and a half hours, twenty minutes long.
    assert!(panel.derived(key.clone(), at("02:30"), 2.4, at("02:30")).is_empty());
    assert!(panel.derived(key.clone(), at("02:40"), 99.0, at("02:40")).is_empty());
    assert_eq!(panel.derived(key.clone(), at("03:00"), 99.0, at("03:00")).len(), 1);
    let said = sentence(panel.get(&key).unwrap(), &falling, at("03:00"), &clock);
    assert!(said.starts_with("V2 is no longer leaving its band since 02:40"), "{said}");
}
