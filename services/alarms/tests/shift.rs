//! A clock that jumps changes nothing but the times that are shown.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use alarms::{
    AlarmKey, Condition, Context, Flag, Flagging, Panel, Settings, State, Transition, first_step, priority,
    sentence, subject,
};
use proptest::prelude::*;
use units::{Quantity, Span, Time, VesselId};

fn tu3() -> VesselId {
    "TU3".parse().unwrap()
}

fn keys() -> [AlarmKey; 4] {
    [
        AlarmKey::at(&tu3(), Condition::AirStopped),
        AlarmKey::at(&tu3(), Condition::TooWarm),
        AlarmKey::silent(&tu3(), Quantity::AirFlow),
        AlarmKey::room(Condition::BrokerLost),
    ]
}

#[derive(Debug, Clone)]
enum Event {
    Air(bool),
    Warm(bool),
    Broker(bool),
    Gone,
    Acknowledge(usize),
    Shelve(usize, i64),
    Unshelve(usize),
    Pass,
}

fn event() -> impl Strategy<Value = Event> {
    prop_oneof![
        4 => any::<bool>().prop_map(Event::Air),
        3 => any::<bool>().prop_map(Event::Warm),
        1 => any::<bool>().prop_map(Event::Broker),
        1 => Just(Event::Gone),
        1 => (0..4_usize).prop_map(Event::Acknowledge),
        1 => (0..4_usize, 1..25_i64).prop_map(|(k, m)| Event::Shelve(k, m)),
        1 => (0..4_usize).prop_map(Event::Unshelve),
        4 => Just(Event::Pass),
    ]
}

fn panel(now: Time) -> Panel {
    let [air, warm, silent, _] = keys();
    let mut panel = Panel::new();
    panel.watch(air, Settings::air_stopped(0.15), now);
    panel.watch(warm, Settings::too_warm(28.5), now);
    panel.watch(silent, Settings::silent(Span::minutes(3)), now);
    panel
}

fn step(panel: &mut Panel, event: &Event, now: Time) -> Vec<Transition> {
    let mut moved = panel.tick(now);
    moved.extend(match event {
        Event::Air(on) => panel.reading(&tu3(), Quantity::AirFlow, now, if *on { 0.8 } else { 0.0 }, now),
        Event::Warm(on) => {
            panel.reading(&tu3(), Quantity::Temperature, now, if *on { 29.0 } else { 27.0 }, now)
        }
        Event::Broker(on) => panel.set(&keys()[3], *on, now),
        Event::Gone => {
            panel.gone(&tu3(), Quantity::AirFlow, now);
            Vec::new()
        }
        Event::Acknowledge(key) => panel.acknowledge(&keys()[*key], "keeper", now).unwrap_or_default(),
        Event::Shelve(key, minutes) => {
            let flagging = Flagging::new("keeper", "cleaning", now).until(now + Span::minutes(*minutes));
            panel.flag(&keys()[*key], Flag::Shelved, flagging).unwrap_or_default()
        }
        Event::Unshelve(key) => panel.unflag(&keys()[*key], Flag::Shelved, now).unwrap_or_default(),
        Event::Pass => Vec::new(),
    });
    moved
}

/// As it would be by a clock that has not jumped.
fn back(mut t: Transition, off: Span) -> Transition {
    t.at = t.at - off;
    t.since = t.since - off;
    t
}

proptest! {
    #[test]
    fn jumps_change_nothing_but_the_times_that_are_shown(
        events in prop::collection::vec((event(), 1..400_i64, prop::option::weighted(0.2, -300_000..300_000_i64)), 1..80)
    ) {
        let mut now = Time::from_millis(0);
        let mut off = Span::ZERO;
        let (mut even, mut jumped) = (panel(now), panel(now));
        for (event, seconds, jump) in events {
            now += Span::seconds(seconds);
            if let Some(by) = jump.map(Span::seconds) {
                off = off + by;
                jumped.shift(by);
            }
            let expected = step(&mut even, &event, now);
            let told: Vec<_> =
                step(&mut jumped, &event, now + off).into_iter().map(|t| back(t, off)).collect();
            prop_assert_eq!(told, expected);
            prop_assert_eq!(jumped.next_due().map(|t| t - off), even.next_due());
        }
    }

    /// What is on disk, and what a probe was last heard with, are all that a restart needs.
    #[test]
    fn what_was_moved_is_kept(
        events in prop::collection::vec((event(), 1..40_i64), 1..40), by in -300_000..300_000_i64
    ) {
        let mut now = Time::from_millis(0);
        let mut panel = panel(now);
        for (event, seconds) in events {
            now += Span::seconds(seconds);
            step(&mut panel, &event, now);
        }
        let kept = |panel: &Panel, key: &AlarmKey| serde_json::to_string(&panel.get(key)).unwrap();
        panel.take_changed();
        let before = keys().map(|key| kept(&panel, &key));
        panel.shift(Span::seconds(by));
        let changed = panel.take_changed();
        for (key, before) in keys().iter().zip(before) {
            prop_assert!(kept(&panel, key) == before || changed.contains(key), "{}", key);
        }
    }
}

#[test]
fn the_words_of_a_clock_that_jumped() {
    let key = AlarmKey::room(Condition::ClockMoved);
    let clock = |t: Time| t.to_chrono().format("%H:%M").to_string();
    let at = |text: &str| Time::parse_rfc3339(text).unwrap();
    let (raised, over) = (at("2026-11-26T03:17:00Z"), at("2026-11-26T03:27:00Z"));
    let mut panel = Panel::new();
    panel.set(&key, true, raised);
    let context = Context { trouble: "+1 h 00 min".to_owned(), ..Context::default() };
    let alarm = panel.get(&key).unwrap();
    assert_eq!(
        sentence(alarm, &context, raised, &clock),
        "The clock of this machine jumped by +1 h 00 min at 03:17; readings around it may carry wrong times."
    );
    assert_eq!(subject(alarm, &Context::default()), "The clock of this machine jumped");
    assert!(first_step(alarm).contains("right time"));
    assert_eq!((key.to_string().as_str(), priority(key.condition, None)), ("room.clock-moved", 4));
    assert_eq!("room.clock-moved".parse(), Ok(key.clone()));

    panel.set(&key, false, over);
    let alarm = panel.get(&key).unwrap();
    assert_eq!(alarm.state, State::ReturnedUnacknowledged);
    assert_eq!(
        sentence(alarm, &context, over, &clock),
        "The clock of this machine jumped at 03:17 and has run evenly since. Nobody has acknowledged it."
    );
}
