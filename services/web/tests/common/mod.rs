//! An invented room for tests and for the preview: calm, or with an alarm.
#![allow(clippy::unwrap_used, missing_docs, dead_code, unreachable_pub, reason = "test code")]

pub mod account;
#[path = "answers.rs"]
pub mod answers;
mod fake;
#[path = "reviews.rs"]
pub mod reviews;

use readings::trial::Tried;
use readings::{Comparison, Format, MapEntry};
use std::sync::{Arc, Mutex};
use tokio::sync::watch;
use units::*;
use web::account::{MotherView, TanksPage, VesselPage};
use web::calendar::{Address, CalendarEntry, CalendarView};
use web::calls::CallsView;
use web::keeper::*;
use web::links::LinkView;
use web::probes::*;
use web::review::Review;
use web::simulated::*;
use web::species::*;
use web::view::*;
use web::whatif::*;

pub use fake::FakeKeeper;

pub fn t(text: &str) -> Time {
    Time::parse_rfc3339(text).unwrap()
}

/// 02:14 in Berlin.
pub fn now() -> Time {
    t("2026-11-26T01:14:00Z")
}

fn v(name: &str) -> VesselId {
    VesselId::new(name).unwrap()
}

pub fn c(name: &str) -> ClutchId {
    ClutchId::new(name).unwrap()
}

fn water(celsius: f64, per_hour: f64) -> Water {
    Water {
        celsius: Some(celsius),
        at: Some(now() - Span::seconds(40)),
        per_hour: Some(per_hour),
        band: Band::new(26.0, 28.0),
    }
}

fn tumbler(name: &str, clutch: Option<&str>, count: u32, stage: Stage, strokes: String) -> TumblerView {
    TumblerView {
        vessel: v(name),
        host: Some(v("V1")),
        clutch: clutch.map(c),
        count,
        stage: clutch.map(|_| stage),
        turning: Turning::Turning,
        still_since: None,
        air_flow: Some(1.4),
        water: water(26.8, 0.01),
        strokes,
    }
}

fn window(now: Time, days: f64, side_hours: i64, required: f64, so_far: f64) -> Window {
    let likeliest = now + Span::from_days(days);
    Window {
        earliest: likeliest - Span::hours(side_hours),
        likeliest,
        latest: likeliest + Span::hours(side_hours),
        required,
        so_far,
        seen: None,
        first: Some(likeliest - Span::hours(side_hours / 2)),
        last: Some(likeliest + Span::hours(side_hours / 2)),
    }
}

fn course(day0: Time, now: Time, mean: f64) -> Vec<Piece> {
    let mut all = Vec::new();
    let mut from = day0;
    let mut i = 0.0_f64;
    while from < now {
        let celsius = mean + 0.9 * (i * 0.5).sin();
        let unread = (i - 6.0).abs() < 0.1;
        all.push(Piece {
            from,
            to: (from + Span::hours(6)).min(now),
            celsius: (!unread).then_some(celsius),
            speed: if unread { 0.0 } else { celsius - 14.0 },
        });
        from += Span::hours(6);
        i += 1.0;
    }
    all
}

fn clutch(id: &str, fish: &str, age: f64, count: u32, vessel: &str) -> ClutchView {
    let day0 = now() - Span::from_days(age);
    ClutchView {
        id: c(id),
        fish: fish.to_owned(),
        species: "labidochromis-caeruleus".into(),
        mother: MotherId::new("lab-01").ok(),
        day0: Day0::new(day0 - Span::hours(3), day0 + Span::hours(3), Grade::Window).unwrap(),
        age_days: age,
        stage: Stage::Egg,
        count,
        vessel: Some(v(vessel)),
        hatch: Some(window(now(), 5.2 - age, 7, 67.0, age * 12.8)),
        free_swimming: Some(window(now(), 17.0 - age, 22, 218.0, age * 12.8)),
        course: course(day0, now(), 26.9),
        footprints: (1..=4_i64)
            .rev()
            .map(|n| {
                let night = now() - Span::days(n);
                (night, now() + Span::from_days(5.2 - age + 0.07 * n as f64))
            })
            .collect(),
        shift: Some("6 h sooner than the first night said".into()),
        warnings: vec![],
    }
}

pub fn calm() -> RoomView {
    let slots = 63;
    let all = "t".repeat(slots);
    let gap = format!("{}{}{}", "t".repeat(22), "....", "t".repeat(slots - 26));
    let mut hatched = clutch("C02", "Labidochromis caeruleus", 8.0, 16, "TU2");
    hatched.stage = Stage::Hatch;
    hatched.hatch = hatched.hatch.map(|w| Window { seen: Some(w.likeliest + Span::hours(4)), ..w });
    for (_, put) in &mut hatched.footprints {
        *put += Span::from_days(11.8);
    }
    let mut jar = clutch("C09", "Oreochromis niloticus", 2.2, 710, "TU4");
    jar.shift = Some("unmoved for two nights".into());
    let mut young = clutch("C11", "Astatotilapia burtoni", 0.9, 44, "V2");
    young.footprints.clear();
    young.shift = None;
    let fish = "Pseudocrenilabrus philander";
    RoomView {
        room: "undercroft".into(),
        zone: "Europe/Berlin".into(),
        now: now(),
        night: NightSpan { dusk: t("2026-11-25T19:00:00Z"), dawn: t("2026-11-26T06:00:00Z") },
        heard: Heard { probes: 6, silent: vec![], newest: Some(now() - Span::seconds(40)) },
        progress: None,
        alarms: vec![],
        shelved: vec![],
        tumblers: vec![
            tumbler("TU1", Some("C06"), 33, Stage::Egg, all.clone()),
            tumbler("TU2", Some("C02"), 16, Stage::Hatch, gap),
            tumbler("TU3", None, 0, Stage::Egg, all.clone()),
            tumbler("TU4", Some("C09"), 710, Stage::Egg, all),
        ],
        tanks: vec![
            TankView {
                vessel: v("V1"),
                water: water(26.8, 0.01),
                clutches: vec![c("C06"), c("C02"), c("C09")],
            },
            TankView { vessel: v("V2"), water: water(27.4, -0.02), clutches: vec![c("C11")] },
        ],
        clutches: vec![clutch("C06", fish, 4.7, 33, "TU1"), jar, young, hatched],
        work: work(),
        refusals: vec![],
    }
}

fn task(clutch: &str, task: &'static str, title: &'static str, hours: [i64; 3]) -> TaskView {
    let [earliest, likeliest, latest] = hours.map(|h| now() + Span::hours(h));
    TaskView {
        clutch: c(clutch),
        fish: "Pseudocrenilabrus philander".into(),
        vessel: Some(v("TU1")),
        mother: None,
        task,
        title,
        earliest,
        likeliest,
        latest,
        reason: "From the degree-days that the eggs had.",
    }
}

/// One of each kind of day: past, open, today, and to come.
fn work() -> Vec<TaskView> {
    let rest = TaskView {
        vessel: None,
        mother: MotherId::new("lab-01").ok(),
        reason: "Two to three weeks after she was emptied.",
        ..task("C02", "mother-rest", "mother rests", [240, 300, 360])
    };
    vec![
        task("C09", "hatch", "hatch expected", [-60, -50, -40]),
        task("C11", "strip", "can be taken, or left with mother", [-30, -30, 200]),
        task("C06", "thin-air", "thin the air for wrigglers", [5, 5, 5]),
        task("C06", "hatch", "hatch expected", [5, 12, 19]),
        task("C06", "ready-nursery", "have the nursery tank ready", [120, 120, 120]),
        rest,
    ]
}

/// What calendars are told at that address.
pub fn calendar(token: &str) -> CalendarView {
    let entry = |t: TaskView| CalendarEntry {
        clutch: t.clutch,
        fish: t.fish,
        task: t.task,
        title: t.title,
        reason: t.reason,
        earliest: t.earliest,
        likeliest: t.likeliest,
        latest: t.latest,
        sequence: 1,
        stamp: now() - Span::hours(4),
        cancelled: false,
    };
    CalendarView {
        room: "undercroft".into(),
        zone: "Europe/Berlin".into(),
        moves_over: Span::hours(3),
        address: Some(Address {
            token: token.to_owned(),
            since: now() - Span::days(1),
            by: Some("Ada".into()),
        }),
        entries: work().into_iter().map(entry).collect(),
    }
}

pub fn alarm() -> RoomView {
    let mut room = calm();
    let since = t("2026-11-26T00:52:00Z");
    let still = &mut room.tumblers[0];
    still.turning = Turning::Still;
    still.still_since = Some(since);
    still.air_flow = Some(0.0);
    still.strokes = format!("{}{}", "t".repeat(58), "s".repeat(5));
    room.tumblers[1].turning = Turning::NoProbe;
    room.tumblers[1].strokes = ".".repeat(63);
    room.tumblers[1].air_flow = None;
    room.tumblers[3].turning = Turning::Unheard;
    room.tumblers[3].air_flow = None;
    room.tumblers[3].strokes = format!("{}{}", "t".repeat(59), "....");
    room.tanks[1].water = Water { per_hour: Some(-0.22), celsius: Some(25.6), ..room.tanks[1].water };
    room.heard.silent = vec!["TU4/air-flow".parse().unwrap()];
    room.progress = Some(Progress { what: "loading three weeks of history".into(), done: 7, total: 21 });
    let held = AlarmClutch {
        id: c("C06"),
        fish: "Pseudocrenilabrus philander".into(),
        stage: Stage::Egg,
        count: 33,
    };
    room.alarms = vec![
        AlarmView {
            id: "TU1.air-stopped".into(),
            place: "TU1".into(),
            vessel: Some(v("TU1")),
            condition: "air stopped".into(),
            state: "unacknowledged".into(),
            standing: true,
            since,
            ended: None,
            priority: 1,
            subject: "TU1 lies still".into(),
            text: "TU1: air stopped since 01:52. 33 eggs of C06 lie still.".into(),
            first_step: "Look whether the pump runs and the tube is on; lift the eggs with a pipette of tank water until air is back.".into(),
            clutch: Some(held),
            act_within: Some(Span::minutes(45)),
            acknowledged: None,
        },
        AlarmView {
            id: "V2.too-cold".into(),
            place: "V2".into(),
            vessel: Some(v("V2")),
            condition: "too cold".into(),
            state: "acknowledged".into(),
            standing: true,
            since: t("2026-11-26T00:20:00Z"),
            ended: None,
            priority: 2,
            subject: "V2 is too cold".into(),
            text: "V2: 25.6 °C, wanted 26.0 to 28.0 °C, falling by 0.2 °C an hour.".into(),
            first_step: "Look whether the heater is plugged in and warm.".into(),
            clutch: None,
            act_within: None,
            acknowledged: Some(("Ada".into(), t("2026-11-26T00:31:00Z"))),
        },
        AlarmView {
            id: "TU2.silent".into(),
            place: "TU2".into(),
            vessel: Some(v("TU2")),
            condition: "silent".into(),
            state: "returned unacknowledged".into(),
            standing: false,
            since: t("2026-11-25T21:12:00Z"),
            ended: Some(t("2026-11-25T21:36:00Z")),
            priority: 3,
            subject: "TU2 was silent".into(),
            text: "TU2/air-flow sent nothing from 22:12 to 22:36.".into(),
            first_step: "Look at the device's power.".into(),
            clutch: None,
            act_within: None,
            acknowledged: None,
        },
    ];
    room.refusals = vec![RefusalView {
        place: "V2/temperature".into(),
        reason: "fault code".into(),
        count: 2,
        last: t("2026-11-26T00:10:00Z"),
        excerpt: "85.0".into(),
    }];
    room
}

/// What four clutches have taught.
fn learnt() -> LearntView {
    LearntView {
        stage: Stage::FreeSwimming,
        clutches: 4,
        required: 171.0,
        plus_minus: 9.0,
        words: "after 4 clutches your Labidochromis caeruleus swim free at 171 ± 9 °C·d".into(),
    }
}

/// One entry of the room and three that are shipped.
pub fn species() -> Vec<SpeciesView> {
    let one = |key: &str, name: &str, mouthbrooder: bool, from: EntryFrom| SpeciesView {
        key: key.to_owned(),
        name: name.to_owned(),
        mouthbrooder,
        from,
        stages: vec![(Stage::Hatch, 65.0)],
        base: 14.0,
        learnt: vec![learnt()],
        figures: vec![Figure {
            name: "hatch".into(),
            value: "5.0 d at 27.0 °C".into(),
            source: "a <book>".into(),
            how: "read".into(),
        }],
    };
    let from =
        EntryFrom::Page { by: "Mara".into(), at: now() - Span::days(2), text: "[species.my-fish]\n".into() };
    vec![
        one("my-fish", "My fish", true, from),
        one("labidochromis-caeruleus", "Labidochromis caeruleus", true, EntryFrom::Shipped),
        one("oreochromis-niloticus", "Oreochromis niloticus", true, EntryFrom::Shipped),
        one("danio-rerio", "Danio rerio", false, EntryFrom::Shipped),
    ]
}

/// A probe that is heard, one that is silent with its device, two topics that are not mapped, one claimed.
pub fn probes() -> ProbesView {
    let probe = |name: &str, ago: i64, silent: bool, device: &str| ProbeView {
        probe: name.parse().unwrap(),
        value: Some(26.81),
        raw: Some(27.11),
        offset: (name == "V1/temperature").then(|| OffsetView { by: -0.3, from: now() - Span::days(3) }),
        unit: Unit::Celsius,
        last_message: Some(now() - Span::seconds(ago)),
        last_accepted: Some(now() - Span::seconds(ago + 20)),
        every: Some(Span::seconds(60)),
        every_from: RhythmFrom::Learnt,
        silent_after: Span::minutes(3),
        silent,
        device: Some(device.to_owned()),
    };
    let unmapped = |topic: &str, count: u64, payload: &str| UnmappedView {
        topic: topic.to_owned(),
        count,
        last: now() - Span::seconds(8),
        retained: false,
        payload: payload.to_owned(),
    };
    let entry = MapEntry {
        topic: "rack/n7/state".into(),
        vessel: Some("V1".into()),
        quantity: Some(Quantity::Temperature),
        format: Format::Json,
        pointer: Some("/t".into()),
        ..MapEntry::default()
    };
    ProbesView {
        probes: vec![probe("V1/temperature", 12, false, "n7"), probe("TU2/air-flow", 1_300, true, "n8")],
        devices: vec![DeviceView {
            name: "n8".into(),
            online: Some(false),
            since: Some(now() - Span::minutes(21)),
            last_message: Some(now() - Span::minutes(21)),
            probes: vec!["TU2/air-flow".parse().unwrap()],
        }],
        unmapped: vec![unmapped("rack/n9/<b>", 41, r#"{"t":26.87}"#), unmapped("attic/t", 1, "26.9")],
        map: vec![EntryView {
            claim: Some(3),
            entry,
            by: Some("Mara".into()),
            at: Some(now() - Span::days(2)),
        }],
        comparisons: vec![ComparisonView {
            number: 1,
            comparison: Comparison {
                probe: "V1/temperature".parse().unwrap(),
                at: now() - Span::days(3),
                since: None,
                read: 26.4,
                reference: 26.1,
                against: "glass thermometer <3>".into(),
                accuracy: None,
            },
            offset: -0.3,
            by: "Mara".into(),
            recorded: now() - Span::days(3),
            withdrawn: None,
        }],
    }
}
