//! Shipped scenarios through the whole service, on a clock that is moved by hand: what it announces is held against what
//! is true in the simulated room.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod night;

use hatchwarden::config::read;
use night::{Night, Spell, night};
use sensors_sim::{Scenario, Shipped, configuration};
use std::path::Path;
use store::AlarmRow;
use units::{Span, Time};

/// A stop shorter than this need not be told of: rhythm of the probes and delay of the alarm.
const SHORT: Span = Span::minutes(3);
/// The alarm must be there this long after the eggs lie still; a probe that falls silent has longer.
const SOON: Span = Span::minutes(2);
const SILENT_SOON: Span = Span::minutes(4);
/// Where air fades, an alarm may come this much before the eggs lie quite still.
const EARLY: Span = Span::minutes(15);

/// Once the air is back, the alarm must go within this.
const GONE: Span = Span::minutes(5);

/// Where the only witness of moving air lies: by what that is told, once it is known for so long what is usual.
const LYING: [(&str, &str, Span); 2] = [
    ("fault-air-hose-behind", "air-strong", Span::minutes(80)),
    ("fault-probe-stuck", "implausible.air-flow", Span::minutes(150)),
];

/// Stops of the eggs that nobody was told of, and alarms of air without one.
fn held_against_truth(night: &Night) -> (Vec<Spell>, Vec<String>) {
    let until = |s: &Spell| s.to.unwrap_or(night.end);
    let stands = |alarms: &[Spell], place: &str, at: Time| {
        alarms.iter().any(|a| a.vessel == place && a.from <= at && at <= until(a))
    };
    let told = |s: &Spell| {
        stands(&night.air_alarms, &s.vessel, s.from + SOON)
            || stands(&night.silences, &s.vessel, s.from + SILENT_SOON)
    };
    let missed = night.stops.iter().filter(|s| until(s) - s.from > SHORT && !told(s));
    let is_so = |a: &Spell| {
        night.stops.iter().any(|s| {
            let begins = s.from - EARLY <= a.from && a.from <= until(s) + SOON;
            s.vessel == a.vessel && begins && until(a) <= until(s) + GONE
        })
    };
    let invented = night.air_alarms.iter().filter(|a| !is_so(a));
    (
        missed.cloned().collect(),
        invented.map(|a| format!("{} was said to lie still from {}", a.vessel, a.from)).collect(),
    )
}

/// Whether a stop is told by another alarm of its vessel while it lasts.
fn told_otherwise(night: &Night, stop: &Spell, condition: &str) -> bool {
    let key = format!("{}.{condition}", stop.vessel);
    let in_time = |at: Time| stop.from - EARLY <= at && at <= stop.to.unwrap_or(night.end);
    night.log.iter().any(|row| row.key == key && row.to == "unacknowledged" && in_time(row.at))
}

#[test]
fn every_shipped_room_can_be_watched() {
    for known in Shipped::all() {
        let scenario = Scenario::from_toml(&known.text).unwrap();
        let config = read(&configuration(&scenario), &known.name, Path::new("")).unwrap();
        let probes: usize = scenario.devices.iter().map(|d| d.probes.len()).sum();
        assert_eq!(config.maps.len(), probes, "{}", known.name);
    }
}

#[tokio::test]
async fn no_stop_of_air_is_missed_and_none_is_invented() {
    let air = Shipped::all().into_iter().map(|s| s.name).filter(|n| n.starts_with("fault-"));
    let (mut stops, mut wrong) = (0, Vec::new());
    for name in air {
        let night = night(&name, 7, Span::minutes(1)).await;
        let (missed, invented) = held_against_truth(&night);
        stops += night.stops.len();
        let lying = LYING.iter().find(|(lying, ..)| *lying == name);
        let untold = |stop: &&Spell| match lying {
            Some((_, condition, known)) => {
                stop.from >= night.start + *known && !told_otherwise(&night, stop, condition)
            }
            None => true,
        };
        wrong.extend(
            missed
                .iter()
                .filter(untold)
                .map(|s| format!("{name}: {} lay still from {}, and nobody was told", s.vessel, s.from)),
        );
        wrong.extend(invented.into_iter().map(|m| format!("{name}: {m}, which is not so")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(stops > 40, "{stops} stops are too few to say much");
}

/// The limits of the tank's band and the delays of the service are what decides; none of it may come by itself.
#[tokio::test]
async fn a_heater_that_fails_is_told_of_and_a_calm_day_is_not() {
    let said = |night: &Night, condition: &str| {
        night.log.iter().any(|row| row.key == format!("V1.{condition}") && row.to == "unacknowledged")
    };
    let stuck = night("fault-heater-stuck", 7, Span::minutes(1)).await;
    assert!(said(&stuck, "too-warm") && !said(&stuck, "too-cold"), "{:#?}", stuck.log);
    let dead = night("fault-heater-dead", 7, Span::minutes(1)).await;
    assert!(said(&dead, "too-cold") && !said(&dead, "too-warm"), "{:#?}", dead.log);
    // Said before it is out: time to get up and look.
    for (night, condition) in [(&stuck, "too-warm"), (&dead, "too-cold")] {
        let first = |what: &str| {
            let raised = |r: &&AlarmRow| r.key == format!("V1.{what}") && r.to == "unacknowledged";
            night.log.iter().find(raised).map(|r| r.at)
        };
        let (leaving, out) = (first("leaving-band").unwrap(), first(condition).unwrap());
        println!("{condition}: said {} before", out - leaving);
        assert!(out - leaving > Span::minutes(15), "{condition}: {leaving}, {out}");
    }
    let calm = night("four-stages", 7, Span::minutes(1)).await;
    assert!(calm.log.is_empty(), "{:#?}", calm.log);
}

#[tokio::test]
async fn the_same_seed_gives_the_same_night_to_the_letter() {
    let (one, two) =
        (night("fault-air-power", 3, Span::minutes(1)), night("fault-air-power", 3, Span::minutes(1)));
    assert_eq!(one.await.log, two.await.log);
}

/// Two weeks of people and devices as they are: whatever is said of air or water is a false page. Devices that lose
/// their Wi-Fi for a while are told of as silent, rightly; how many such calls a keeper wants is not decided here.
#[tokio::test]
async fn two_calm_weeks_bring_no_alarm_of_air_or_water() {
    let calm = night("calm-weeks", 7, Span::minutes(1)).await;
    let raised = calm.log.iter().filter(|row| row.to == "unacknowledged");
    let (silent, other): (Vec<&AlarmRow>, Vec<&AlarmRow>) =
        raised.partition(|row| row.key.contains(".silent"));
    println!("{} calls of silent probes in two weeks", silent.len());
    assert!(other.is_empty() && !silent.is_empty(), "{other:#?}");
}
