//! The panel over time: air, water, silence, troubles told, restarts.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use alarms::{Alarm, AlarmKey, Condition, GONE, Panel, Settings, State, Transition};
use proptest::prelude::*;
use units::{Quantity, Span, Time, VesselId};

fn at(s: i64) -> Time {
    Time::from_millis(s * 1000)
}

fn tu3() -> VesselId {
    "TU3".parse().unwrap()
}

fn air() -> AlarmKey {
    AlarmKey::at(&tu3(), Condition::AirStopped)
}

fn watching() -> Panel {
    let mut panel = Panel::new();
    panel.watch(air(), Settings::air_stopped(0.15), at(0));
    panel.watch(AlarmKey::silent(&tu3(), Quantity::AirFlow), Settings::silent(Span::minutes(3)), at(0));
    panel
}

fn flow(panel: &mut Panel, s: i64, value: f64) -> Vec<Transition> {
    panel.reading(&tu3(), Quantity::AirFlow, at(s), value, at(s))
}

#[test]
fn air_that_stops_is_announced_after_its_delay_even_if_no_further_reading_comes() {
    let mut panel = watching();
    flow(&mut panel, 0, 0.8);
    flow(&mut panel, 10, 0.0);
    assert_eq!(panel.next_due(), Some(at(30)));
    assert!(panel.tick(at(29)).is_empty());
    let moved = panel.tick(at(30));
    assert_eq!((moved.len(), moved[0].to, moved[0].announce), (1, State::Unacknowledged, true));
    assert_eq!(moved[0].since, at(10));
}

#[test]
fn air_that_is_back_clears_after_its_delay_and_an_unseen_alarm_stays_on_the_list() {
    let mut panel = watching();
    flow(&mut panel, 10, 0.0);
    panel.tick(at(30));
    flow(&mut panel, 40, 0.8);
    assert!(flow(&mut panel, 69, 0.8).is_empty());
    let moved = flow(&mut panel, 70, 0.8);
    assert_eq!(moved[0].to, State::ReturnedUnacknowledged);
    assert_eq!(panel.get(&air()).unwrap().ended, Some(at(40)));
    panel.acknowledge(&air(), "keeper", at(80)).unwrap();
    assert_eq!(panel.standing().count(), 0);
}

#[test]
fn a_second_stop_after_an_acknowledged_one_calls_again() {
    let mut panel = watching();
    flow(&mut panel, 10, 0.0);
    panel.tick(at(30));
    panel.acknowledge(&air(), "keeper", at(31)).unwrap();
    flow(&mut panel, 40, 0.8);
    assert_eq!(flow(&mut panel, 70, 0.8)[0].to, State::Normal);
    flow(&mut panel, 100, 0.0);
    let moved = panel.tick(at(120));
    assert!(moved[0].announce && panel.get(&air()).unwrap().acknowledged.is_none());
}

#[test]
fn silence_counts_from_the_last_reading_and_ends_with_the_next() {
    let mut panel = watching();
    flow(&mut panel, 5, 0.8);
    let moved = panel.tick(at(185));
    assert_eq!(moved[0].key, AlarmKey::silent(&tu3(), Quantity::AirFlow));
    assert_eq!(moved[0].since, at(5));
    assert!(panel.is_silent(&tu3(), Quantity::AirFlow));
    assert!(panel.tick(at(10_000)).is_empty(), "silence is announced once");
    let moved = flow(&mut panel, 10_001, 0.8);
    assert_eq!(moved[0].to, State::ReturnedUnacknowledged);
    assert!(!panel.is_silent(&tu3(), Quantity::AirFlow));
}

/// One good reading and then nothing is no proof that air flows.
#[test]
fn silence_does_not_end_an_air_alarm() {
    let mut panel = watching();
    flow(&mut panel, 10, 0.0);
    panel.tick(at(30));
    flow(&mut panel, 40, 0.8);
    panel.tick(at(3_600));
    assert!(panel.get(&air()).unwrap().state.standing());
}

/// A device whose clock is four minutes slow talks every ten seconds, with a patience of three minutes.
#[test]
fn a_slow_clock_is_no_silence() {
    let mut panel = watching();
    for s in (0..3_600).step_by(10) {
        assert!(panel.reading(&tu3(), Quantity::AirFlow, at(s - 240), 0.8, at(s)).is_empty());
        assert!(panel.tick(at(s)).is_empty(), "silent at {s} s");
    }
}

/// A device whose clock is four minutes ahead does not put the alarm off.
#[test]
fn a_fast_clock_delays_nothing() {
    let mut panel = watching();
    panel.reading(&tu3(), Quantity::AirFlow, at(250), 0.0, at(10));
    assert_eq!(panel.next_due(), Some(at(30)));
    assert!(panel.tick(at(30))[0].announce);
}

#[test]
fn an_older_reading_neither_raises_nor_clears() {
    let mut panel = watching();
    flow(&mut panel, 100, 0.8);
    assert!(flow(&mut panel, 60, 0.0).is_empty());
    assert!(panel.tick(at(140)).is_empty());
}

#[test]
fn a_tumbler_that_is_emptied_ends_its_alarm() {
    let mut panel = watching();
    flow(&mut panel, 10, 0.0);
    panel.tick(at(30));
    let moved = panel.unwatch(&air(), at(50));
    assert_eq!((moved[0].from, moved[0].to), (State::Unacknowledged, State::Normal));
    assert!(panel.get(&air()).is_none() && panel.take_changed().contains(&air()));
}

#[test]
fn the_services_own_troubles_are_told_once() {
    let key = AlarmKey::room(Condition::CannotStore);
    let mut panel = Panel::new();
    assert!(panel.set(&key, false, at(0)).is_empty());
    assert!(panel.set(&key, true, at(1))[0].announce);
    assert!(panel.set(&key, true, at(2)).is_empty());
    assert_eq!(panel.set(&key, false, at(3))[0].to, State::ReturnedUnacknowledged);
}

#[test]
fn what_does_not_stand_cannot_be_acknowledged() {
    let said = watching().acknowledge(&air(), "keeper", at(1)).unwrap_err().to_string();
    assert!(said.contains("TU3.air-stopped") && said.contains("look at the list"), "{said}");
}

/// Puts into a new panel what a restart would: snapshots of changed alarms, watches, the newest reading for silence.
fn restarted(kept: &std::collections::BTreeMap<AlarmKey, String>, heard: Time, value: Option<f64>) -> Panel {
    let mut panel = Panel::new();
    for json in kept.values() {
        panel.restore(serde_json::from_str::<Alarm>(json).unwrap());
    }
    panel.watch(air(), Settings::air_stopped(0.15), heard);
    panel.watch(AlarmKey::silent(&tu3(), Quantity::AirFlow), Settings::silent(Span::minutes(3)), heard);
    if let Some(value) = value {
        panel.recall(&tu3(), Quantity::AirFlow, heard, value);
    }
    panel
}

proptest! {
    #[test]
    fn a_restart_changes_nothing(
        steps in proptest::collection::vec((1_i64..240, prop_oneof![Just(0.0), Just(0.16), Just(0.8)]), 1..60),
        cut in 0_usize..60
    ) {
        let mut calm = watching();
        let mut cut_panel = watching();
        let mut kept = std::collections::BTreeMap::new();
        let (mut t, mut heard, mut last) = (0, at(0), None);
        for (i, (pause, value)) in steps.iter().enumerate() {
            if i == cut {
                cut_panel = restarted(&kept, heard, last);
            }
            t += pause;
            prop_assert_eq!(calm.tick(at(t)), cut_panel.tick(at(t)));
            prop_assert_eq!(flow(&mut calm, t, *value), flow(&mut cut_panel, t, *value));
            heard = at(t);
            last = Some(*value);
            for key in cut_panel.take_changed() {
                if let Some(alarm) = cut_panel.get(&key) {
                    kept.insert(key, serde_json::to_string(alarm).unwrap());
                }
            }
        }
        let states = |p: &Panel| p.standing().map(|a| (a.key.clone(), a.state, a.since)).collect::<Vec<_>>();
        prop_assert_eq!(states(&calm), states(&cut_panel));
    }

    /// Values that wander inside the deadband move nothing.
    #[test]
    fn no_chatter_inside_the_deadband(values in proptest::collection::vec(0.1501_f64..0.17, 1..200)) {
        let mut panel = watching();
        flow(&mut panel, 1, 0.0);
        panel.tick(at(21));
        for (i, v) in values.iter().enumerate() {
            prop_assert!(flow(&mut panel, 22 + i as i64, *v).is_empty());
            prop_assert!(panel.tick(at(22 + i as i64)).is_empty());
        }
    }
}

/// A probe that speaks every hour would be missed for three.
#[test]
fn a_device_that_goes_is_waited_for_and_then_its_probe_is_silent() {
    let vessel = tu3();
    let mut panel = Panel::new();
    panel.gone(&vessel, Quantity::AirFlow, at(0)); // nothing is watched
    panel.watch(AlarmKey::silent(&vessel, Quantity::AirFlow), Settings::silent(Span::hours(3)), at(0));
    panel.reading(&vessel, Quantity::AirFlow, at(10), 0.8, at(10));
    panel.gone(&vessel, Quantity::AirFlow, at(20));
    panel.gone(&vessel, Quantity::AirFlow, at(60)); // said again, it puts nothing off
    assert_eq!(panel.next_due(), Some(at(20) + GONE));
    assert!(panel.tick(at(199)).is_empty() && !panel.is_silent(&vessel, Quantity::AirFlow));
    let moved = panel.tick(at(200));
    assert_eq!((moved.len(), moved[0].since), (1, at(10)), "silent since it was last heard");
    panel.reading(&vessel, Quantity::AirFlow, at(300), 0.8, at(300));
    assert!(!panel.is_silent(&vessel, Quantity::AirFlow));

    panel.gone(&vessel, Quantity::AirFlow, at(400));
    panel.reading(&vessel, Quantity::AirFlow, at(410), 0.8, at(410));
    assert!(panel.tick(at(5_000)).is_empty(), "it was back in time");
}
