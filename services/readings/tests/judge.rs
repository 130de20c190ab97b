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

/// A device that sends `own` seconds by its clock at `arrives`.
fn by_clock(judge: &mut Judge, own: i64, arrives: i64) -> Reading {
    one(judge, dated(26.9, own), at(arrives))
}

#[test]
fn a_devices_clock_that_leaps_back_costs_one_reading() {
    for behind in [3_600, 7_207, 3 * 86_400] {
        let mut judge = Judge::new();
        for m in 0..90 {
            assert!(by_clock(&mut judge, 60 * m, 60 * m).fresh);
        }
        // Where it leaps by whole minutes, its times are those of readings that stand already.
        let first = judge.judge(dated(26.9, 5_400 - behind), false, at(5_400));
        match said(first) {
            Ok(_) => assert_ne!(behind, 3_600),
            Err(reason) => assert_eq!((reason, behind), (Reason::Duplicate, 3_600)),
        }
        for m in 91..200 {
            let r = by_clock(&mut judge, 60 * m - behind, 60 * m);
            assert_eq!((r.time, r.fresh, r.flags), (at(60 * m), true, Flags::DEVICE_CLOCK_BEHIND));
            assert_eq!(r.time_source, TimeSource::Arrival);
        }
        // What it sends again is told by its own time.
        for m in [199, 150, 91] {
            let again = judge.judge(dated(26.9, 60 * m - behind), false, at(12_001));
            assert_eq!(said(again), Err(Reason::Duplicate), "{m}");
        }
        // It is set right.
        let r = by_clock(&mut judge, 12_060, 12_060);
        assert_eq!((r.time, r.fresh, r.flags), (at(12_060), true, Flags::PAYLOAD_TIME));
    }
}

#[test]
fn a_devices_clock_that_leaps_ahead_costs_none() {
    let mut judge = Judge::new();
    for m in 0..10 {
        assert!(by_clock(&mut judge, 60 * m, 60 * m).fresh);
    }
    for m in 10..20 {
        let r = by_clock(&mut judge, 60 * m + 3_600, 60 * m);
        assert_eq!((r.time, r.fresh, r.flags), (at(60 * m), true, Flags::DEVICE_CLOCK_AHEAD));
    }
}

#[test]
fn what_a_device_kept_is_stored_at_its_own_times() {
    for every in [5, 60, 600] {
        let mut judge = Judge::new();
        assert!(by_clock(&mut judge, 0, 0).fresh);
        for i in 1..3_600 / every {
            let r = one(&mut judge, dated(26.9, i * every), at(3_600) + Span::from_millis(120 * i));
            assert_eq!(r.time, at(i * every), "{every}");
            assert_eq!(r.fresh, r.received - r.time <= Span::minutes(10));
            assert!(!r.flags.contains(Flags::DEVICE_CLOCK_BEHIND));
        }
    }
}

/// Of a restart only the amount is lost: the next reading is taken for a new one, and then all is as before.
#[test]
fn a_clock_that_was_behind_is_so_after_a_restart() {
    let behind = 3_600;
    let (mut judge, mut kept) = (Judge::new(), Vec::new());
    for m in 0..30 {
        let off = if m < 10 { 0 } else { behind };
        if let Verdict::Accept(all) = judge.judge(dated(26.9, 60 * m - off), false, at(60 * m)) {
            kept.extend(all);
        }
    }
    kept.sort_by_key(|r| r.time);
    let mut restarted = Judge::new();
    kept.iter().for_each(|r| restarted.remember(r));
    for m in 30..40 {
        let raw = dated(26.9, 60 * m - behind);
        let (whole, again) = (one(&mut judge, raw.clone(), at(60 * m)), one(&mut restarted, raw, at(60 * m)));
        assert_eq!(whole, again);
        assert!(whole.fresh && whole.flags.contains(Flags::DEVICE_CLOCK_BEHIND));
    }
    // A restart between the first reading and the second changes nothing at all.
    let upto = |judge: &mut Judge, m: i64| judge.judge(dated(26.9, 60 * m - behind - 7), false, at(60 * m));
    let mut judge = Judge::new();
    let mut restarted = Judge::new();
    for m in 0..10 {
        restarted.remember(&by_clock(&mut judge, 60 * m, 60 * m));
    }
    let Verdict::Accept(first) = upto(&mut judge, 10) else { panic!() };
    assert!(!first[0].fresh);
    restarted.remember(&first[0]);
    assert_eq!(upto(&mut judge, 11), upto(&mut restarted, 11));
}

/// Ours goes back by an hour while the water cools: what was read an hour ago by the clock says nothing about now.
#[test]
fn a_clock_of_ours_that_goes_back_is_no_jump_of_the_water() {
    let mut judge = Judge::new();
    let cooling = |s: i64| 28.0 - s as f64 / 1_200.0;
    for s in (0..3_600).step_by(20) {
        assert!(live(&mut judge, raw(cooling(s)), s).is_ok());
    }
    judge.clock_moved(Span::hours(-1));
    for s in (3_600..7_200).step_by(20) {
        let now = s - 3_600;
        assert_eq!(live(&mut judge, raw(cooling(s)), now), Ok(vec![cooling(s)]), "{now}");
    }
}

#[test]
fn a_clock_of_ours_that_goes_back_takes_no_time_twice() {
    let mut judge = Judge::new();
    let mut times = std::collections::BTreeSet::new();
    for s in (0..3_600).step_by(20) {
        times.insert(one(&mut judge, raw(26.9), at(s)).time);
    }
    judge.clock_moved(Span::hours(-1));
    for s in (0..7_200).step_by(20) {
        assert!(times.insert(one(&mut judge, raw(26.9), at(s)).time), "{s}");
    }
}

#[test]
fn numbers_are_as_old_as_they_were_when_our_clock_is_set() {
    for by in [Span::hours(1), Span::hours(-1), Span::days(-3)] {
        let mut judge = Judge::new();
        for n in 0..40 {
            assert!(live(&mut judge, numbered(26.9, n), n as i64 * 10).is_ok());
        }
        let now = at(400) + by;
        judge.clock_moved(by);
        for n in 30..40 {
            assert_eq!(said(judge.judge(numbered(26.9, n), false, now)), Err(Reason::Duplicate), "{n}");
        }
        assert_eq!(said(judge.judge(numbered(26.9, 40), false, now + Span::seconds(10))), Ok(vec![26.9]));
        let later = now + Span::seconds(10 + 3_601);
        assert_eq!(said(judge.judge(numbered(26.9, 40), false, later)), Ok(vec![26.9]), "an hour has passed");
    }
}

#[test]
fn a_jump_that_waits_goes_on_waiting_when_our_clock_is_set() {
    for by in [Span::hours(1), Span::hours(-1)] {
        let mut judge = Judge::new();
        assert_eq!(live(&mut judge, raw(27.0), 0), Ok(vec![27.0]));
        assert_eq!(live(&mut judge, raw(24.0), 10), Ok(vec![]));
        judge.take_held_change(&probe());
        judge.clock_moved(by);
        let held = judge.take_held_change(&probe()).unwrap().unwrap();
        assert_eq!((held.time, held.fresh), (at(10) + by, true));
        let Verdict::Accept(both) = judge.judge(raw(24.2), false, at(20) + by) else { panic!("{by}") };
        assert!(both.len() == 2 && both.iter().all(|r| r.fresh), "{both:?}");
    }
}
