//! Calling again while nobody has taken an alarm on; new limits while a delay runs; alarms kept by earlier versions.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use alarms::{Alarm, AlarmKey, Cause, Condition, Panel, Settings, State, Transition};
use units::{Quantity, Span, Time, VesselId};

fn at(s: i64) -> Time {
    Time::from_millis(s * 1000)
}

fn v1() -> VesselId {
    "V1".parse().unwrap()
}

fn air() -> AlarmKey {
    AlarmKey::at(&v1(), Condition::AirStopped)
}

fn warm() -> AlarmKey {
    AlarmKey::at(&v1(), Condition::TooWarm)
}

/// Air stopped at 10 s, announced at 30 s.
fn stopped() -> Panel {
    let mut panel = Panel::new();
    panel.watch(air(), Settings::air_stopped(0.15), at(0));
    panel.reading(&v1(), Quantity::AirFlow, at(10), 0.0, at(10));
    panel.tick(at(30));
    panel
}

#[test]
fn air_that_nobody_takes_on_calls_again_every_five_minutes() {
    let mut panel = stopped();
    for due in [330, 630, 930] {
        assert_eq!(panel.next_due(), Some(at(due)));
        assert!(panel.tick(at(due - 1)).is_empty());
        let moved = panel.tick(at(due));
        let [again] = moved.as_slice() else { panic!("{moved:?}") };
        assert_eq!((again.from, again.to), (State::Unacknowledged, State::Unacknowledged));
        assert_eq!((again.announce, again.cause, again.since), (true, Cause::Again, at(10)));
    }
    assert!(panel.take_changed().contains(&air()), "a restart must know when it called");
}

#[test]
fn a_late_tick_calls_once_and_the_pause_runs_from_that_call() {
    let mut panel = stopped();
    assert_eq!(panel.tick(at(5_000)).len(), 1);
    assert_eq!(panel.next_due(), Some(at(5_300)));
}

#[test]
fn what_is_acknowledged_or_over_does_not_call_again() {
    let mut panel = stopped();
    panel.acknowledge(&air(), "keeper", at(100)).unwrap();
    assert!(panel.tick(at(100_000)).is_empty());
    assert_eq!(panel.next_due(), None);

    let mut panel = stopped();
    panel.reading(&v1(), Quantity::AirFlow, at(40), 0.8, at(40));
    panel.reading(&v1(), Quantity::AirFlow, at(70), 0.8, at(70));
    assert!(panel.tick(at(100_000)).is_empty(), "gone and unseen: it waits on the list");
}

#[test]
fn water_calls_again_every_quarter_of_an_hour_and_the_rest_once() {
    let minutes = |s: Settings| s.again_after.map(|a| a.millis() / 60_000);
    assert_eq!(minutes(Settings::air_stopped(0.15)), Some(5));
    assert_eq!(minutes(Settings::too_warm(28.5)), Some(15));
    assert_eq!(minutes(Settings::too_cold(24.0)), Some(15));
    assert_eq!((minutes(Settings::silent(Span::minutes(3))), minutes(Settings::told())), (None, None));
}

/// A pause of nothing would call for ever.
#[test]
fn a_pause_that_is_not_positive_is_none() {
    let key = AlarmKey::room(Condition::CannotStore);
    let mut panel = Panel::new();
    panel.watch(key.clone(), Settings { again_after: Some(Span::ZERO), ..Settings::told() }, at(0));
    panel.set(&key, true, at(1));
    assert!(panel.tick(at(2)).is_empty());
    assert_eq!(panel.next_due(), None);
}

/// As it was written before there were flags and calls.
const KEPT_EARLIER: &str = r#"{"key":"V1.air-stopped","settings":{"side":"low","limit":0.15,"deadband":0.02,
    "on_delay":20000,"off_delay":30000,"latching":false,"ack_required":true},"state":"unacknowledged",
    "since":"1970-01-01T00:00:10Z","ended":null,"acknowledged":null,"detector":{"on":true,"pending":null}}"#;

#[test]
fn an_alarm_that_was_kept_earlier_is_read_and_calls_again_once_it_is_watched() {
    let alarm: Alarm = serde_json::from_str(KEPT_EARLIER).unwrap();
    assert!(alarm.flags.is_empty() && alarm.announced.is_none() && alarm.settings.again_after.is_none());
    assert_eq!(alarm.settings.may_be_shelved_for(), Span::hours(8));
    let mut panel = Panel::new();
    panel.restore(alarm);
    assert_eq!(panel.next_due(), None);
    panel.watch(air(), Settings::air_stopped(0.15), at(100));
    assert_eq!(panel.next_due(), Some(at(310)), "five minutes from when the air stopped");
    assert_eq!(panel.tick(at(310))[0].cause, Cause::Again);
}

fn water(panel: &mut Panel, s: i64, celsius: f64) -> Vec<Transition> {
    panel.reading(&v1(), Quantity::Temperature, at(s), celsius, at(s))
}

/// Watched at 28.5 °C; 28.6 °C at 0 s, 28.9 °C at 40 s; the limit then becomes `limit`. When the delay is over.
fn due_after_a_new_limit(limit: f64) -> Option<Time> {
    let mut panel = Panel::new();
    panel.watch(warm(), Settings::too_warm(28.5), at(0));
    water(&mut panel, 0, 28.6);
    water(&mut panel, 40, 28.9);
    panel.take_changed();
    panel.watch(warm(), Settings::too_warm(limit), at(41));
    assert_eq!(panel.take_changed().len(), usize::from(limit != 28.5), "kept when it is judged anew");
    panel.tick(at(59));
    panel.tick(at(60));
    let state = panel.get(&warm()).unwrap().state;
    assert_eq!(state.standing(), limit <= 28.5, "at 60 s, limit {limit}");
    panel.tick(at(100));
    panel.get(&warm()).unwrap().state.standing().then(|| panel.get(&warm()).unwrap().since.unwrap())
}

#[test]
fn a_new_limit_judges_the_row_that_is_running() {
    assert_eq!(due_after_a_new_limit(28.5), Some(at(0)), "nothing new");
    assert_eq!(due_after_a_new_limit(28.0), Some(at(0)), "what was beyond is beyond");
    assert_eq!(due_after_a_new_limit(28.8), Some(at(40)), "only the newest is known to be beyond");
    assert_eq!(due_after_a_new_limit(29.0), None, "it is not beyond");
}

#[test]
fn a_limit_that_comes_nearer_than_the_newest_reading_starts_the_delay_there() {
    let mut panel = Panel::new();
    panel.watch(warm(), Settings::too_warm(28.5), at(0));
    water(&mut panel, 10, 28.2);
    panel.watch(warm(), Settings::too_warm(28.0), at(30));
    assert_eq!(panel.next_due(), Some(at(70)));
    assert_eq!(panel.tick(at(70))[0].since, at(10));
}

#[test]
fn a_new_limit_judges_the_row_that_ends_an_alarm_too() {
    let mut panel = Panel::new();
    panel.watch(warm(), Settings::too_warm(28.5), at(0));
    water(&mut panel, 0, 29.0);
    panel.tick(at(60));
    water(&mut panel, 70, 28.2); // ends it at 130 s
    panel.watch(warm(), Settings::too_warm(28.0), at(80));
    assert!(water(&mut panel, 130, 28.2).is_empty(), "still too warm by the new limit");
    panel.watch(warm(), Settings::too_warm(28.5), at(131));
    assert!(water(&mut panel, 189, 28.2).is_empty());
    assert_eq!(water(&mut panel, 190, 28.2)[0].to, State::ReturnedUnacknowledged);
    let ended = panel.get(&warm()).unwrap().ended;
    assert_eq!(ended, Some(at(130)), "clear since the newest that is known");
}

/// The keeper changes the configuration and starts the service anew while the delay runs.
#[test]
fn a_limit_that_changes_over_a_restart_is_judged_by_the_newest_reading() {
    let mut before = Panel::new();
    before.watch(warm(), Settings::too_warm(28.5), at(0));
    water(&mut before, 0, 28.6);
    water(&mut before, 40, 28.9);
    let kept = serde_json::to_string(before.get(&warm()).unwrap()).unwrap();
    for (limit, due) in [(28.5, Some(60)), (28.0, Some(60)), (28.8, Some(100)), (29.0, None)] {
        let mut panel = Panel::new();
        panel.restore(serde_json::from_str(&kept).unwrap());
        panel.watch(warm(), Settings::too_warm(limit), at(50));
        panel.recall(&v1(), Quantity::Temperature, at(40), 28.9);
        let raised = (50..200).find(|s| !panel.tick(at(*s)).is_empty());
        assert_eq!(raised, due, "limit {limit}");
    }
}
