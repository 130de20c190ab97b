//! Flags: what may be set, what is shown, what comes back.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use alarms::{AlarmKey, Cause, Condition, Flag, Flagging, Panel, Settings, Shown, State, Transition};
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
    panel
}

fn flow(panel: &mut Panel, s: i64, value: f64) -> Vec<Transition> {
    panel.reading(&tu3(), Quantity::AirFlow, at(s), value, at(s))
}

/// Air stopped at 10 s, announced at 30 s.
fn stopped() -> Panel {
    let mut panel = watching();
    flow(&mut panel, 10, 0.0);
    assert!(panel.tick(at(30))[0].announce);
    panel
}

fn service(s: i64) -> Flagging {
    Flagging::new("keeper", "pump service", at(s))
}

fn shelve(panel: &mut Panel, s: i64, until: i64) -> Vec<Transition> {
    panel.flag(&air(), Flag::Shelved, service(s).until(at(until))).unwrap()
}

fn shown(panel: &Panel) -> Shown {
    panel.get(&air()).unwrap().shown()
}

fn refused(flag: Flag, flagging: Flagging) -> String {
    let mut panel = watching();
    let said = panel.flag(&air(), flag, flagging).unwrap_err().to_string();
    assert!(panel.get(&air()).unwrap().flags.is_empty() && panel.take_changed().is_empty(), "{said}");
    said
}

#[test]
fn nothing_is_shelved_without_an_end_and_air_for_half_an_hour_at_most() {
    assert!(refused(Flag::Shelved, service(0)).contains("1970-01-01T00:30:00Z"));
    assert!(refused(Flag::Shelved, service(0).until(at(1_801))).contains("30 min"));
    assert!(shelve(&mut watching(), 0, 1_800).iter().all(|t| !t.announce));
}

#[test]
fn other_alarms_may_be_shelved_for_eight_hours_or_what_their_settings_say() {
    let key = AlarmKey::at(&tu3(), Condition::TooWarm);
    for (settings, hours) in [
        (Settings::too_warm(28.5), 8),
        (Settings { longest_shelving: Span::hours(1), ..Settings::too_warm(28.5) }, 1),
    ] {
        let mut panel = Panel::new();
        panel.watch(key.clone(), settings, at(0));
        let end = at(hours * 3_600);
        assert!(panel.flag(&key, Flag::Shelved, service(0).until(end + Span::seconds(1))).is_err());
        assert!(panel.flag(&key, Flag::Shelved, service(0).until(end)).is_ok());
    }
}

#[test]
fn a_flag_names_who_and_why_and_ends_later() {
    assert!(refused(Flag::Suppressed, Flagging::new(" ", "service", at(0))).contains("`by`"));
    assert!(refused(Flag::OutOfService, Flagging::new("keeper", "", at(0))).contains("`why`"));
    assert!(refused(Flag::OutOfService, service(9).until(at(9))).contains("later"));
    assert!(refused(Flag::Suppressed, service(0).once()).contains("`once`"));
    let key = AlarmKey::at(&tu3(), Condition::TooCold);
    assert!(watching().flag(&key, Flag::Suppressed, service(0)).is_err(), "not watched");
    assert!(watching().unflag(&air(), Flag::Suppressed, at(0)).is_err(), "not set");
}

#[test]
fn under_a_flag_the_condition_is_judged_and_logged_and_calls_nobody() {
    let mut panel = watching();
    shelve(&mut panel, 0, 600);
    flow(&mut panel, 10, 0.0);
    let moved = panel.tick(at(30));
    assert_eq!(
        (moved[0].to, moved[0].announce, moved[0].flag),
        (State::Unacknowledged, false, Some(Flag::Shelved))
    );
    assert_eq!((shown(&panel), panel.standing().count()), (Shown::Under(Flag::Shelved), 0));
    assert_eq!(panel.flagged().map(|a| a.state).collect::<Vec<_>>(), [State::Unacknowledged]);
    assert!(panel.tick(at(599)).is_empty(), "it does not call again either");
    let said = panel.acknowledge(&air(), "keeper", at(599)).unwrap_err().to_string();
    assert!(said.contains("shelved by keeper (pump service)"), "{said}");
}

#[test]
fn an_expiry_is_due_and_brings_a_standing_alarm_back_as_a_fresh_one() {
    let mut panel = stopped();
    panel.acknowledge(&air(), "keeper", at(31)).unwrap();
    assert_eq!(shelve(&mut panel, 40, 600)[0].cause, Cause::Flagged(Flag::Shelved));
    assert!(panel.tick(at(330)).is_empty(), "when it would have called again");
    assert_eq!(panel.next_due(), Some(at(600)));
    let moved = panel.tick(at(600));
    let [back] = moved.as_slice() else { panic!("{moved:?}") };
    assert_eq!((back.cause, back.announce, back.since), (Cause::Unflagged(Flag::Shelved), true, at(10)));
    assert_eq!(back.shown(), Shown::As(State::Unacknowledged));
    assert!(panel.get(&air()).unwrap().acknowledged.is_none());
    assert_eq!(panel.next_due(), Some(at(900)), "and calls again five minutes later");
}

#[test]
fn an_expiry_brings_nothing_back_when_the_condition_has_gone() {
    let mut panel = stopped();
    shelve(&mut panel, 40, 600);
    flow(&mut panel, 50, 0.8);
    flow(&mut panel, 80, 0.8);
    let moved = panel.tick(at(600));
    assert!(moved.len() == 1 && !moved[0].announce);
    assert_eq!((shown(&panel), panel.next_due()), (Shown::As(State::Normal), None));
}

#[test]
fn the_first_flag_in_order_is_shown_and_only_the_last_to_end_calls() {
    let mut panel = stopped();
    shelve(&mut panel, 40, 600);
    panel.flag(&air(), Flag::Suppressed, service(40).until(at(700))).unwrap();
    panel.flag(&air(), Flag::OutOfService, service(41)).unwrap();
    assert_eq!(shown(&panel), Shown::Under(Flag::OutOfService));
    let moved = panel.unflag(&air(), Flag::OutOfService, at(50)).unwrap();
    assert_eq!((moved[0].announce, moved[0].shown()), (false, Shown::Under(Flag::Suppressed)));
    assert!(panel.tick(at(600)).iter().all(|t| !t.announce));
    assert!(panel.tick(at(700))[0].announce);
}

/// A tick that comes late finds two flags over: each is logged, one call.
#[test]
fn flags_that_end_together_call_once() {
    let mut panel = stopped();
    shelve(&mut panel, 40, 600);
    panel.flag(&air(), Flag::Suppressed, service(40).until(at(601))).unwrap();
    let moved = panel.tick(at(650));
    assert_eq!(moved.iter().map(|t| t.announce).collect::<Vec<_>>(), [false, true]);
}

/// The service was busy: no tick came at 600 s, but readings did.
#[test]
fn a_flag_that_is_over_holds_nothing_back_even_before_the_tick() {
    let mut panel = watching();
    shelve(&mut panel, 0, 600);
    flow(&mut panel, 580, 0.0);
    let moved = flow(&mut panel, 601, 0.0);
    assert!(moved.last().unwrap().announce, "{moved:?}");

    let mut panel = stopped();
    shelve(&mut panel, 40, 600);
    let moved = panel.acknowledge(&air(), "keeper", at(601)).unwrap();
    assert_eq!(moved.last().unwrap().to, State::Acknowledged);
}

#[test]
fn a_flag_can_be_renewed_and_says_who_set_it() {
    let mut panel = watching();
    shelve(&mut panel, 0, 600);
    panel
        .flag(&air(), Flag::Shelved, Flagging::new("night watch", "longer", at(590)).until(at(900)))
        .unwrap();
    assert!(panel.tick(at(600)).is_empty());
    let flags = &panel.get(&air()).unwrap().flags;
    assert_eq!(flags.get(Flag::Shelved).map(|f| (f.by.as_str(), f.at)), Some(("night watch", at(590))));
}

#[test]
fn a_latched_alarm_is_reset_once_it_is_over_and_acknowledged() {
    let key = AlarmKey::room(Condition::BrokerLost);
    let mut panel = Panel::new();
    panel.watch(key.clone(), Settings { latching: true, ..Settings::told() }, at(0));
    assert!(panel.reset(&key, at(0)).is_err(), "nothing there");
    panel.set(&key, true, at(1));
    assert!(panel.reset(&key, at(2)).unwrap_err().to_string().contains("still stands"));
    panel.set(&key, false, at(3));
    assert!(panel.reset(&key, at(4)).unwrap_err().to_string().contains("acknowledge it first"));
    panel.acknowledge(&key, "keeper", at(5)).unwrap();
    assert_eq!(panel.reset(&key, at(6)).unwrap()[0].to, State::Normal);
}

#[test]
fn a_watch_that_ends_takes_its_flags_along() {
    let mut panel = stopped();
    panel.flag(&air(), Flag::OutOfService, service(40)).unwrap();
    let moved = panel.unwatch(&air(), at(50));
    assert_eq!((moved[0].cause, moved[0].shown()), (Cause::Unwatched, Shown::As(State::Normal)));
    panel.watch(air(), Settings::air_stopped(0.15), at(60));
    flow(&mut panel, 60, 0.0);
    assert!(panel.tick(at(80))[0].announce);
}
