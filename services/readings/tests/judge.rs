//! Judging: repeats, counters that begin again, jumps, time, restarts.

#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use readings::{Flags, Judge, OwnTime, Raw, Reading, Reason, TimeSource, Verdict};
use units::{ProbeKey, Span, Time};

const START: Time = Time::from_millis(1_931_221_060_000);

fn at(seconds: i64) -> Time {
    START + Span::seconds(seconds)
}

fn probe() -> ProbeKey {
    "V1/temperature".parse().unwrap()
}

fn raw(value: f64) -> Raw {
    Raw::bare(probe(), value)
}

fn dated(value: f64, seconds: i64) -> Raw {
    Raw { own_time: Some(OwnTime::At(at(seconds))), ..raw(value) }
}

fn numbered(value: f64, n: u64) -> Raw {
    Raw { sequence: Some(n), ..raw(value) }
}

/// The values accepted, or why not.
fn said(verdict: Verdict) -> Result<Vec<f64>, Reason> {
    match verdict {
        Verdict::Accept(all) => Ok(all.iter().map(|r| r.value).collect()),
        Verdict::Refuse(r) => Err(r.reason),
        Verdict::Hold => Ok(vec![]),
    }
}

fn live(judge: &mut Judge, raw: Raw, seconds: i64) -> Result<Vec<f64>, Reason> {
    said(judge.judge(raw, false, at(seconds)))
}

fn one(judge: &mut Judge, raw: Raw, received: Time) -> Reading {
    match judge.judge(raw, false, received) {
        Verdict::Accept(mut all) if all.len() == 1 => all.remove(0),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_retained_message_is_history_at_best() {
    let mut judge = Judge::new();
    assert_eq!(said(judge.judge(raw(26.4), true, at(0))), Err(Reason::RetainedNotFresh));
    assert_eq!(
        said(judge.judge(dated(26.4, 3_600), true, at(0))),
        Err(Reason::RetainedNotFresh),
        "clock ahead"
    );
    let Verdict::Accept(all) = judge.judge(dated(26.4, -5), true, at(0)) else { panic!() };
    assert_eq!(
        (all[0].time, all[0].fresh, all[0].flags),
        (at(-5), false, Flags::PAYLOAD_TIME | Flags::RETAINED_NOT_FRESH)
    );
    let aged = Raw { own_time: Some(OwnTime::Ago(Span::seconds(30))), ..raw(26.4) };
    assert_eq!(
        said(judge.judge(aged, true, at(0))),
        Err(Reason::RetainedNotFresh),
        "an age from nobody knows when"
    );
    assert_eq!(said(judge.judge(dated(26.4, -5), true, at(60))), Err(Reason::Duplicate));
}

#[test]
fn the_same_value_alone_is_never_a_repeat() {
    let mut judge = Judge::new();
    for s in 0..100 {
        assert_eq!(live(&mut judge, raw(26.94), s), Ok(vec![26.94]));
    }
}

#[test]
fn the_same_own_time_is_a_repeat_and_the_first_stands() {
    let mut judge = Judge::new();
    for s in 0..500 {
        assert!(live(&mut judge, dated(26.9, s), s).is_ok());
    }
    for s in [0, 250, 499] {
        assert_eq!(live(&mut judge, dated(27.0, s), 500), Err(Reason::Duplicate));
    }
}

#[test]
fn a_redelivered_number_is_a_repeat() {
    let mut judge = Judge::new();
    for n in 0..40 {
        assert!(live(&mut judge, numbered(26.9, n), n as i64 * 10).is_ok());
    }
    for n in 30..40 {
        assert_eq!(live(&mut judge, numbered(26.9, n), 400), Err(Reason::Duplicate), "{n}");
    }
    assert_eq!(live(&mut judge, numbered(26.9, 40), 410), Ok(vec![26.9]));
    // After more than an hour a number means nothing.
    assert_eq!(live(&mut judge, numbered(26.9, 40), 410 + 3_601), Ok(vec![26.9]));
}

#[test]
fn a_long_running_counter_that_begins_again_loses_nothing() {
    let mut judge = Judge::new();
    for n in 1..=400 {
        assert!(live(&mut judge, numbered(26.9, n), n as i64).is_ok());
    }
    for n in 1..=400 {
        assert_eq!(live(&mut judge, numbered(26.9, n), 400 + n as i64), Ok(vec![26.9]), "{n}");
        // The new count tells its own repeats.
        assert_eq!(live(&mut judge, numbered(26.9, n), 400 + n as i64), Err(Reason::Duplicate), "{n}");
    }
}

#[test]
fn a_young_counter_that_begins_again_loses_one_reading_at_most() {
    let mut judge = Judge::new();
    for n in 1..=50 {
        assert!(live(&mut judge, numbered(26.9, n), n as i64 * 5).is_ok());
    }
    let lost =
        (1..=50).filter(|n| live(&mut judge, numbered(26.9, *n), 300 + *n as i64 * 5).is_err()).count();
    assert_eq!(lost, 1);
    // With another value the first number already proves it.
    let mut judge = Judge::new();
    assert!(live(&mut judge, numbered(26.9, 1), 0).is_ok());
    assert!(live(&mut judge, numbered(26.9, 2), 5).is_ok());
    assert!(live(&mut judge, numbered(27.0, 1), 60).is_ok());
    assert!(live(&mut judge, numbered(26.9, 2), 65).is_ok());
}

#[test]
fn a_burst_of_a_device_without_a_clock_is_kept_whole() {
    let mut judge = Judge::new();
    let times: Vec<Time> = (0..780).map(|_| one(&mut judge, raw(26.9), at(0)).time).collect();
    assert!(times.windows(2).all(|w| w[1] - w[0] == Span::from_millis(1)));
    assert_eq!(one(&mut judge, raw(26.9), at(0) + Span::from_millis(3)).time, at(0) + Span::from_millis(780));
    assert_eq!(one(&mut judge, raw(26.9), at(1)).time, at(1));
}

#[test]
fn backfill_is_accepted_but_not_fresh_and_not_judged_for_jumps() {
    let mut judge = Judge::new();
    assert!(one(&mut judge, dated(26.9, 0), at(0)).fresh);
    let late = one(&mut judge, dated(35.0, -700), at(1));
    assert!(!late.fresh && late.flags.contains(Flags::BACKFILL));
    assert_eq!(late.time_source, TimeSource::Payload);
    assert!(!one(&mut judge, dated(27.0, -705), at(2)).fresh);
}

#[test]
fn a_jump_waits_and_two_that_agree_stand() {
    let mut judge = Judge::new();
    assert_eq!(live(&mut judge, raw(27.0), 0), Ok(vec![27.0]));
    assert_eq!(live(&mut judge, raw(24.0), 10), Ok(vec![]));
    let held = judge.take_held_change(&probe()).unwrap().unwrap();
    assert_eq!((held.value, held.time), (24.0, at(10)));
    assert_eq!(judge.take_held_change(&probe()), None);
    assert_eq!(live(&mut judge, raw(24.2), 20), Ok(vec![24.0, 24.2]));
    assert_eq!(judge.take_held_change(&probe()), Some(None));
    assert_eq!(judge.take_dropped(&probe()), None);
    assert_eq!(live(&mut judge, raw(24.1), 30), Ok(vec![24.1]));
}

#[test]
fn a_jump_that_is_not_confirmed_is_refused() {
    let mut judge = Judge::new();
    assert_eq!(live(&mut judge, raw(27.0), 0), Ok(vec![27.0]));
    assert_eq!(live(&mut judge, raw(35.0), 10), Ok(vec![]));
    assert_eq!(live(&mut judge, raw(27.1), 20), Ok(vec![27.1]));
    let dropped = judge.take_dropped(&probe()).unwrap();
    assert_eq!(dropped.reason, Reason::TooFastChange);
    assert_eq!((dropped.place.as_str(), dropped.excerpt.as_str()), ("V1/temperature", "35 °C"));
    assert_eq!(dropped.at, at(10));
    assert_eq!(judge.take_held_change(&probe()), Some(None));
}

#[test]
fn one_jump_after_another_keeps_only_the_last() {
    let mut judge = Judge::new();
    assert_eq!(live(&mut judge, raw(27.0), 0), Ok(vec![27.0]));
    assert_eq!(live(&mut judge, raw(35.0), 5), Ok(vec![]));
    assert_eq!(live(&mut judge, raw(20.0), 10), Ok(vec![]));
    assert_eq!(judge.take_dropped(&probe()).unwrap().excerpt, "35 °C");
    assert_eq!(judge.take_held_change(&probe()).unwrap().unwrap().value, 20.0);
}

#[test]
fn a_step_after_a_gap_or_of_another_quantity_is_no_jump() {
    let mut judge = Judge::new();
    assert_eq!(live(&mut judge, raw(27.0), 0), Ok(vec![27.0]));
    assert_eq!(live(&mut judge, raw(20.0), 31), Ok(vec![20.0]));
    let air = |value| Raw { probe: "TU1/air-flow".parse().unwrap(), ..raw(value) };
    assert_eq!(live(&mut judge, air(5.0), 0), Ok(vec![5.0]));
    assert_eq!(live(&mut judge, air(0.0), 1), Ok(vec![0.0]), "an air stop is never held");
}

#[test]
fn a_held_reading_is_not_confirmed_by_its_own_repeat() {
    let mut judge = Judge::new();
    assert_eq!(live(&mut judge, dated(27.0, 0), 0), Ok(vec![27.0]));
    assert_eq!(live(&mut judge, dated(35.0, 10), 10), Ok(vec![]));
    assert_eq!(live(&mut judge, dated(35.0, 10), 11), Err(Reason::Duplicate));
    assert_eq!(live(&mut judge, dated(27.0, 20), 20), Ok(vec![27.0]));
    // Sent once more after it was dropped, it meets the readings on both sides of it.
    assert_eq!(live(&mut judge, dated(35.0, 10), 21), Err(Reason::TooFastChange));
    let mut judge = Judge::new();
    assert_eq!(live(&mut judge, numbered(27.0, 1), 0), Ok(vec![27.0]));
    assert_eq!(live(&mut judge, numbered(35.0, 2), 10), Ok(vec![]));
    assert_eq!(live(&mut judge, numbered(35.0, 2), 11), Err(Reason::Duplicate));
}

#[test]
fn a_held_reading_that_waited_long_is_no_longer_fresh() {
    let mut judge = Judge::new();
    assert_eq!(live(&mut judge, raw(27.0), 0), Ok(vec![27.0]));
    assert_eq!(live(&mut judge, raw(35.0), 10), Ok(vec![]));
    let Verdict::Accept(both) = judge.judge(raw(35.1), false, at(3_600)) else { panic!() };
    assert!(!both[0].fresh && both[0].flags.contains(Flags::BACKFILL));
    assert!(both[1].fresh);
}

#[test]
fn odd_device_clocks_leave_a_mark() {
    let mut judge = Judge::new();
    for (own, flag) in [
        (OwnTime::NoZone, Flags::NO_ZONE),
        (OwnTime::Unreadable, Flags::TIME_UNREADABLE),
        (OwnTime::At(Time::from_millis(37_000)), Flags::DEVICE_CLOCK_UNSET),
        (OwnTime::At(at(7 * 3_600)), Flags::DEVICE_CLOCK_AHEAD),
    ] {
        let r = one(&mut judge, Raw { own_time: Some(own), ..raw(26.9) }, at(0));
        assert_eq!((r.flags, r.time_source), (flag, TimeSource::Arrival));
    }
    let r = one(&mut judge, Raw { own_time: Some(OwnTime::Ago(Span::minutes(2))), ..raw(26.9) }, at(0));
    assert_eq!((r.time, r.time_source), (at(-120), TimeSource::PayloadRelative));
}

#[test]
fn numbers_that_did_not_come_through_decoding_are_checked_too() {
    let mut judge = Judge::new();
    assert_eq!(live(&mut judge, raw(f64::NAN), 0), Err(Reason::NotANumber));
    assert_eq!(live(&mut judge, raw(85.0), 0), Err(Reason::SensorPowerOnReset));
    assert_eq!(live(&mut judge, raw(3.0), 0), Err(Reason::OutOfRange));
}

#[test]
fn inventing_probes_does_not_fill_the_memory() {
    let mut judge = Judge::new();
    let marked = |i: usize| Raw { probe: format!("V1/temperature/m{i}").parse().unwrap(), ..raw(26.9) };
    for i in 0..4_096 {
        assert!(live(&mut judge, marked(i), 0).is_ok());
    }
    assert_eq!(live(&mut judge, marked(4_096), 0), Err(Reason::TooManyProbes));
    assert!(live(&mut judge, marked(7), 1).is_ok());
}

#[test]
fn a_flood_ends_before_its_times_run_far_ahead() {
    let mut judge = Judge::new();
    let air = || Raw { probe: "TU1/air-flow".parse().unwrap(), ..raw(1.2) };
    let ahead = 5 * 60 * 1_000;
    for _ in 0..=ahead {
        assert!(live(&mut judge, air(), 0).is_ok());
    }
    assert_eq!(live(&mut judge, air(), 0), Err(Reason::TooFrequent));
    assert!(live(&mut judge, air(), 1).is_ok(), "a second later there is room for more");
}

#[test]
fn a_clock_of_ours_that_steps_back_costs_no_reading() {
    let mut judge = Judge::new();
    let times: Vec<Time> = [0, 1, 2, 0, 1, 2, 0, 3].map(|s| one(&mut judge, raw(26.9), at(s)).time).to_vec();
    let distinct: std::collections::BTreeSet<Time> = times.iter().copied().collect();
    assert_eq!(distinct.len(), times.len());
    assert_eq!(times.last(), Some(&at(3)));
}
