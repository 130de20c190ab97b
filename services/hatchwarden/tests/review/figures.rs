//! The figures of a night.

use super::house::{House, python, vessel};
use serde_json::{Value, json};
use std::cell::RefCell;
use units::{Span, Stage, Time};
use web::keeper::{Keeper, NewComparison, Trouble};
use web::review::Verdict;

/// 26 °C, and from three hours after dusk down to 24 within an hour, and up again within the next.
fn dip(dusk: Time) -> impl Fn(Time) -> Option<f64> {
    move |t| {
        let hours = (t - dusk).as_hours();
        Some(if (3.0..5.0).contains(&hours) { 24.0 + 2.0 * (hours - 4.0).abs() } else { 26.0 })
    }
}

/// Air moves, but for 40 minutes from six hours and 17 minutes after dusk on.
fn stop(dusk: Time) -> impl Fn(Time) -> Option<f64> {
    move |t| {
        let minutes = ((t - dusk).as_minutes()).round() as i64;
        Some(if (377..417).contains(&minutes) { 0.0 } else { 0.8 })
    }
}

fn near(a: Option<f64>, b: f64) {
    let a = a.unwrap();
    assert!((a - b).abs() < 1e-6, "{a}, by hand {b}");
}

/// The clocks of Europe/Berlin go forward on 29 March 2026 at 01:00 UTC and back on 25 October 2026 at 01:00 UTC (IANA time zone
/// database, by chrono-tz here and by Python's zoneinfo in `check.py`); the night before the last one has its eleven hours.
#[tokio::test]
async fn nights_of_ten_eleven_and_twelve_hours_by_hand() {
    let nights = [
        ("2026-03-28", ("2026-03-28T19:00:00Z", "2026-03-29T05:00:00Z"), 10.0),
        ("2026-10-24", ("2026-10-24T18:00:00Z", "2026-10-25T06:00:00Z"), 12.0),
        ("2026-11-20", ("2026-11-20T19:00:00Z", "2026-11-21T06:00:00Z"), 11.0),
    ];
    for (date, night, hours) in nights {
        let folder = tempfile::tempdir().unwrap();
        let house = House::start(folder.path(), "Europe/Berlin", night, "").await;
        house.fill("V1/temperature", Span::minutes(10), dip(house.dusk)).await;
        house.fill("TU2/air-flow", Span::minutes(1), stop(house.dusk)).await;
        house.clutch().await;
        let r = house.review(date).await;
        assert_eq!((r.dusk, r.dawn, r.length.as_hours()), (house.dusk, house.dawn, hours));
        let sent: Vec<Value> = (0..3).map(|n| json!([(r.dusk + Span::minutes(n)).millis(), 26.0])).collect();
        let asked = json!({
            "zone": "Europe/Berlin", "date": date, "readings": sent, "low": 25.5, "high": 28.5, "base": 18.0,
        });
        let theirs = python(include_str!("check.py"), &asked.to_string());
        assert_eq!(
            [&theirs["dusk"], &theirs["dawn"]],
            [&json!(r.dusk.millis()), &json!(r.dawn.millis())],
            "zoneinfo"
        );
        let last = house.service.desk().night(None).await.unwrap();
        assert_eq!(last, r, "the last one that has ended");

        let tank = vessel(&r, "V1");
        near(tank.water.min.value, 24.0);
        near(tank.water.max.value, 26.0);
        // Two hours at 25 °C in the mean.
        near(tank.water.mean.value, 26.0 - 2.0 / hours);
        near(tank.water.mean.usual, 26.0);
        // Under 25.5 °C from a quarter of an hour after the fall began to a quarter before it was over.
        assert_eq!((tank.water.below, tank.water.above), (Some(Span::minutes(90)), Some(Span::ZERO)));
        assert_eq!((tank.water.outside_hours.usual, tank.water.usual_nights), (Some(0.0), 14));
        assert_eq!((tank.water.read, tank.verdict), (r.length, Verdict::NotRight));

        let tumbler = vessel(&r, "TU2");
        let air = tumbler.air.as_ref().unwrap();
        let from = house.dusk + Span::minutes(377);
        let stood: Vec<(Time, Span)> = air.stops.iter().map(|s| (s.from, s.length())).collect();
        assert_eq!((stood, air.still_minutes.value), (vec![(from, Span::minutes(40))], Some(40.0)));
        assert_eq!(air.usual_nights, 0, "no clutch was in it before");

        // Base 18 °C (config/species.toml): 8 °C·d a day at 26 °C, less 2 °C for an hour in all.
        let c11 = &tumbler.clutches[0];
        assert_eq!((c11.base, c11.from, c11.to, c11.usual_nights), (Some(18.0), r.dusk, r.dawn, 14));
        near(c11.gained.value, (8.0 * hours - 2.0) / 24.0);
        near(c11.gained.usual, 8.0 * hours / 24.0);
        // 2 °C·h less at 8 °C·d a day are a quarter of an hour.
        let hatch = c11.shifts.iter().find(|s| s.stage == Stage::Hatch).unwrap();
        assert!((hatch.later - Span::minutes(15)).abs() < Span::seconds(5), "{hatch:?}");
        assert!(!hatch.causes.is_empty(), "{hatch:?}");
        house.service.stop().await;
    }
}

/// Too little was read of one, nothing of another; a night that is not over, and one long before.
#[tokio::test]
async fn what_is_not_known_is_never_called_good() {
    let folder = tempfile::tempdir().unwrap();
    let night = ("2026-11-20T20:00:00Z", "2026-11-21T07:00:00Z");
    let house = House::start(folder.path(), "Europe/Lisbon", night, "").await;
    let dusk = house.dusk;
    // Silent from the third hour to the seventh: 7 of 11 hours are read.
    let halting = move |t: Time| Some(27.0).filter(|_| !(3.0..7.0).contains(&(t - dusk).as_hours()));
    house.fill("V1/temperature", Span::minutes(10), halting).await;
    house.fill("TU2/air-flow", Span::minutes(1), |_| Some(0.8)).await;
    house.clutch().await;
    let r = house.review("2026-11-20").await;
    let tank = vessel(&r, "V1");
    assert_eq!((tank.verdict, tank.water.enough), (Verdict::NotKnown, false));
    assert!(tank.remarks[0].contains("was read for 6 h 50 min only"), "{:?}", tank.remarks);
    assert_eq!(tank.water.gaps.len(), 1);
    assert_eq!(tank.water.gaps[0].from, dusk + Span::minutes(170));
    assert!(tank.slots[40].low.is_none() && tank.slots[10].low.is_some());
    let never = vessel(&r, "V2");
    assert_eq!((never.verdict, never.water.mean.value), (Verdict::NotKnown, None));
    assert_ne!(r.verdict, Verdict::Good);
    // Its gap is filled for the dates by the hour before it: 9 °C·d a day above 18 °C.
    near(vessel(&r, "TU2").clutches[0].gained.value, 9.0 * 11.0 / 24.0);

    let long_ago = house.review("2024-02-29").await;
    assert!(long_ago.vessels.iter().all(|v| v.verdict != Verdict::Good || v.clutches.is_empty()));
    assert_eq!(vessel(&long_ago, "V1").verdict, Verdict::NotKnown);
    let tonight = house.service.desk().night(Some(web::review::date("2026-11-21").unwrap())).await;
    let Err(Trouble::Refused { field, reason }) = tonight else { panic!("{tonight:?}") };
    assert!(
        field == "date" && reason.contains("ends at 2026-11-22T07:00:00Z") && reason.contains("2026-11-20"),
        "{reason}"
    );
    house.service.stop().await;
}

/// A thermometer that was found half a degree too low since before the night.
#[tokio::test]
async fn dated_offsets_are_applied() {
    let folder = tempfile::tempdir().unwrap();
    let night = ("2026-11-20T20:00:00Z", "2026-11-21T07:00:00Z");
    let house = House::start(folder.path(), "Europe/Lisbon", night, "").await;
    house.fill("V1/temperature", Span::minutes(10), |_| Some(25.2)).await;
    house.service.deliver("hatchwarden/undercroft/V1/temperature", "25.2", false).await.unwrap();
    let before = house.review("2026-11-20").await;
    assert_eq!(vessel(&before, "V1").water.below, Some(Span::hours(11)), "under 25.5 °C");
    let compared = NewComparison {
        probe: "V1/temperature".parse().unwrap(),
        at: None,
        since: Some(house.dusk + Span::hours(1)),
        read: None,
        reference: 25.7,
        against: "glass thermometer 3".to_owned(),
        accuracy: None,
    };
    house.service.desk().compare(compared, "keeper".to_owned()).await.unwrap();
    let r = house.review("2026-11-20").await;
    let water = &vessel(&r, "V1").water;
    near(water.min.value, 25.2);
    near(water.max.value, 25.7);
    // Up by half a degree within the ten minutes before 21:00; it crosses 25.5 °C after six of them.
    assert_eq!(water.below, Some(Span::minutes(56)));
    near(water.mean.usual, 25.2);
    house.service.stop().await;
}

/// Fifteen nights of random water and air with gaps, through the change of the clocks: the same from numpy, with dusk and dawn from
/// Python's zoneinfo.
#[tokio::test]
async fn figures_of_random_nights_are_those_of_numpy() {
    let folder = tempfile::tempdir().unwrap();
    let night = ("2026-10-27T19:00:00Z", "2026-10-28T06:00:00Z");
    let house = House::start(folder.path(), "Europe/Berlin", night, "").await;
    let (chance, sent) = (RefCell::new(20_261_027_u64), RefCell::new(Vec::new()));
    let draw = || {
        // Xorshift (Marsaglia 2003).
        let mut x = chance.borrow_mut();
        *x ^= *x << 13;
        *x ^= *x >> 7;
        *x ^= *x << 17;
        (*x >> 11) as f64 / (1_u64 << 53) as f64
    };
    let gap = RefCell::new(0_u32);
    let water = |t: Time| {
        if *gap.borrow() > 0 {
            *gap.borrow_mut() -= 1;
            return None;
        }
        if draw() < 0.01 {
            *gap.borrow_mut() = (draw() * 12.0) as u32;
        }
        let celsius = 26.5 + 1.6 * ((t.millis() as f64 / 3.6e6) * 0.9).sin() + draw() - 0.5;
        sent.borrow_mut().push(json!([t.millis(), celsius]));
        Some(celsius)
    };
    house.fill("V1/temperature", Span::from_millis(431_000), water).await;
    house.clutch().await;
    for date in ["2026-10-27", "2026-10-26", "2026-10-25", "2026-10-24", "2026-10-23"] {
        let r = house.review(date).await;
        let tank = vessel(&r, "V1");
        let gained =
            vessel(&r, "TU2").clutches.first().and_then(|c| c.gained.value.filter(|_| c.from == r.dusk));
        let asked = json!({
            "zone": "Europe/Berlin", "date": date, "readings": *sent.borrow(), "low": 25.5, "high": 28.5, "base": 18.0,
        });
        let theirs = python(include_str!("check.py"), &asked.to_string());
        assert_eq!(
            (json!(r.dusk.millis()), json!(r.dawn.millis())),
            (theirs["dusk"].clone(), theirs["dawn"].clone())
        );
        let ours: Value = json!({
            "min": tank.water.min.value, "max": tank.water.max.value, "mean": tank.water.mean.value,
            "read": tank.water.read.as_hours(), "below": tank.water.below.unwrap().as_hours(),
            "above": tank.water.above.unwrap().as_hours(), "gaps": tank.water.gaps.len(), "usual_mean": tank.water.mean.usual,
            "usual_outside": tank.water.outside_hours.usual, "usual_nights": tank.water.usual_nights,
        });
        for (name, value) in ours.as_object().unwrap() {
            let (a, b) = (value.as_f64(), theirs[name].as_f64());
            let same = a.zip(b).map_or(a == b, |(a, b)| (a - b).abs() < 1e-6);
            assert!(same, "{date} {name}: {a:?}, by numpy {b:?}");
        }
        if let Some(gained) = gained {
            assert!((gained - theirs["gained"].as_f64().unwrap()).abs() < 1e-6, "{gained} {theirs}");
        }
    }
    house.service.stop().await;
}
