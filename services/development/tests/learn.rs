//! What finished clutches teach: against numpy and scipy, and against simulated rooms whose truth is known.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{close, constant, hours, start};
use development::{Ask, Doubts, Evidence, Learnt, Need, Species, SpeciesTable, evidence, project};
use serde::Deserialize;
use units::{Day0, Grade, Seen, Sighting, Sign, Span, Stage};

const FOUR_OF_FIVE: f64 = 1.281_551_565_544_6;

/// Hatch at 60 °C·d and free swimming at 150 °C·d over 14 °C, as widely spread as said.
fn entry(hatch: f64, swim: f64) -> Species {
    let stage = |name: &str, k: f64, percent: f64| {
        format!(
            "[species.x.stage.{name}]\ndegree_days = {k:?}\nspread_percent = {percent:?}\nsource = 'test'\nhow = 'planning value'\n"
        )
    };
    let text = format!(
        "[species.x]\nname = 'Exemplaris fictus (invented)'\n\
         base = {{ low = 14.0, likely = 14.0, high = 14.0, source = 'test', how = 'planning value' }}\n{}{}",
        stage("hatch", 60.0, hatch),
        stage("free-swimming", 150.0, swim),
    );
    SpeciesTable::from_toml(&text).unwrap().get("x").unwrap().clone()
}

fn told(clutch: &str, mother: Option<&str>, stage: Stage, y: f64) -> Evidence {
    Evidence { clutch: clutch.to_owned(), mother: mother.map(str::to_owned), stage, y, variance: 1e-4 }
}

/// ln of how many times its first requirement a stage now needs.
fn moved(entry: &Species, learnt: &Learnt, stage: Stage, mother: Option<&str>) -> f64 {
    let required = |s: &Species| s.required(stage, s.base.likely).unwrap();
    (required(&learnt.species(mother)) / required(entry)).ln()
}

#[derive(Deserialize)]
struct Case {
    spread_percent: [f64; 2],
    evidence: Vec<Evidence>,
    answers: Vec<Answer>,
}

#[derive(Deserialize)]
struct Answer {
    mother: Option<String>,
    stage: Stage,
    mean: f64,
    variance: f64,
}

/// The answers are those of numpy and scipy: `tests/tests/oracle/pooling.rs` asks them again.
#[test]
fn means_and_variances_are_those_of_an_independent_solver() {
    let cases: Vec<Case> = serde_json::from_str(include_str!("pooled.json")).unwrap();
    assert!(cases.len() >= 12);
    for case in &cases {
        let entry = entry(case.spread_percent[0], case.spread_percent[1]);
        let learnt = Learnt::of(&entry, &case.evidence);
        for a in &case.answers {
            let mother = a.mother.as_deref();
            close(moved(&entry, &learnt, a.stage, mother), a.mean, 1e-7);
            let sigma = entry.requirement(a.stage).unwrap().spread.late / 100.0 / FOUR_OF_FIVE;
            let narrower = learnt.species(mother).requirement(a.stage).unwrap().spread.late
                / 100.0
                / FOUR_OF_FIVE
                / sigma;
            close(narrower.powi(2) - 0.45, a.variance / (sigma * sigma), 1e-6);
        }
    }
}

#[test]
fn without_evidence_every_shipped_entry_stays_as_it_was() {
    let table = SpeciesTable::shipped();
    for entry in table.iter() {
        let learnt = Learnt::of(entry, &[]);
        assert_eq!(learnt.species(None), *entry);
        assert_eq!(learnt.species(Some("M1")), *entry);
        assert!(Stage::ALL.into_iter().all(|s| learnt.says(s).is_none()));
    }
}

#[test]
fn evidence_that_cannot_be_used_changes_nothing() {
    let entry = entry(20.0, 20.0);
    let (mut wild, mut narrow) =
        (told("c1", None, Stage::Hatch, f64::NAN), told("c2", None, Stage::Hatch, 0.1));
    narrow.variance = -1.0;
    let unknown = told("c3", None, Stage::Release, 0.1);
    assert_eq!(Learnt::of(&entry, &[wild.clone(), narrow, unknown]).species(None), entry);
    wild.y = f64::INFINITY;
    assert_eq!(Learnt::of(&entry, &[wild]).species(None), entry);
}

#[test]
fn order_changes_nothing_and_a_second_note_of_a_stage_neither() {
    let entry = entry(20.0, 15.0);
    let mut all: Vec<Evidence> = (0..9)
        .map(|i| {
            let mother = ["M1", "M2", "M3"][i % 3];
            let stage = [Stage::Hatch, Stage::FreeSwimming][i % 2];
            told(&format!("c{}", i / 2), Some(mother), stage, 0.013 * i as f64 - 0.02)
        })
        .collect();
    let first = Learnt::of(&entry, &all);
    for turn in 1..9 {
        all.rotate_left(turn);
        all.swap(0, 4);
        assert_eq!(Learnt::of(&entry, &all), first);
    }
    all.push(all[3].clone());
    assert_eq!(Learnt::of(&entry, &all), first);
}

/// The bounds are those of the doc of `Learnt::of`.
#[test]
fn a_wild_clutch_is_bounded() {
    let entry = entry(20.0, 20.0);
    let sigma = 0.2 / FOUR_OF_FIVE;
    let good: Vec<Evidence> = (0..4).map(|i| told(&format!("c{i}"), None, Stage::Hatch, 0.05)).collect();
    for y in [-30.0, -3.0, -0.8, -0.4, 0.5, 0.9, 3.0, 30.0] {
        let wild = told("wild", None, Stage::Hatch, y);
        let alone = moved(&entry, &Learnt::of(&entry, std::slice::from_ref(&wild)), Stage::Hatch, None);
        assert!(alone * y > 0.0 && alone.abs() <= 1.01 * sigma, "{y}: {alone}");
        let before = moved(&entry, &Learnt::of(&entry, &good), Stage::Hatch, None);
        let with = [&good[..], &[wild]].concat();
        let after = moved(&entry, &Learnt::of(&entry, &with), Stage::Hatch, None);
        println!("{y}: alone {:+.3} σ, as fifth {:+.3} σ", alone / sigma, (after - before) / sigma);
        assert!((after - before).abs() <= 0.21 * sigma, "{y}: {before} to {after}");
    }
    // Both stages wrong, as by a wrong day 0.
    let both = [told("w", None, Stage::Hatch, 3.0), told("w", None, Stage::FreeSwimming, 2.0)];
    let moved = moved(&entry, &Learnt::of(&entry, &both), Stage::Hatch, None);
    assert!(moved > 0.0 && moved <= 1.01 * sigma, "{moved}");
}

#[test]
fn mothers_differ_by_what_their_own_clutches_say() {
    let entry = entry(20.0, 20.0);
    let mut all = Vec::new();
    for i in 0..6 {
        all.push(told(&format!("a{i}"), Some("slow"), Stage::Hatch, 0.16));
        all.push(told(&format!("b{i}"), Some("quick"), Stage::Hatch, 0.04));
    }
    let learnt = Learnt::of(&entry, &all);
    let of = |mother| moved(&entry, &learnt, Stage::Hatch, mother);
    assert!(of(Some("quick")) < of(None) && of(None) < of(Some("slow")));
    assert!(of(Some("quick")) > 0.04 && of(Some("slow")) < 0.16);
    close(of(Some("new")), of(None), 1e-12);
    // A stage that nobody saw learns half as much.
    close(moved(&entry, &learnt, Stage::FreeSwimming, None), 0.5 * of(None), 1e-9);
}

#[test]
fn legs_from_an_earlier_stage_come_out_as_aimed_at() {
    let table = SpeciesTable::shipped();
    let mut with_legs = 0;
    for entry in table.iter() {
        let all: Vec<Evidence> = (0..3)
            .flat_map(|i| entry.requirements.iter().map(move |r| told(&format!("c{i}"), None, r.stage, 0.1)))
            .collect();
        let learnt = Learnt::of(entry, &all);
        let next = learnt.species(None);
        with_legs += next.requirements.iter().filter(|r| r.after.is_some()).count();
        for r in &next.requirements {
            let was = entry.requirement(r.stage).unwrap();
            close(
                learnt.says(r.stage).unwrap().required,
                next.required(r.stage, entry.base.likely).unwrap(),
                1e-6,
            );
            for (is, was) in [(r.spread.early, was.spread.early), (r.spread.late, was.spread.late)] {
                assert!(is < was && is >= 0.67 * was, "{} {}: {was} to {is}", entry.key, r.stage);
            }
            assert!(matches!(
                (r.need, was.need),
                (Need::Anchor { .. }, Need::Anchor { .. }) | (Need::DegreeDays(_), Need::DegreeDays(_))
            ));
        }
    }
    assert!(with_legs > 5);
}

#[test]
fn it_is_said_in_a_sentence_and_stands_among_the_figures() {
    let entry = entry(20.0, 20.0);
    let all: Vec<Evidence> =
        (0..4).map(|i| told(&format!("c{i}"), Some("M1"), Stage::FreeSwimming, 0.15)).collect();
    let learnt = Learnt::of(&entry, &all);
    let says = learnt.says(Stage::FreeSwimming).unwrap();
    // By hand, in σ² = 0.02435: four clutches of one mother have a mean of variance 0.5 + 0.05 + (0.45 + 0.0041) / 4 =
    // 0.6635, the room's share is 0.5 / 0.6635 of 0.15, and 0.5 − 0.25 / 0.6635 = 0.123 is left of its variance.
    assert_eq!(says.to_string(), "after 4 clutches your Exemplaris fictus swim free at 168 ± 9 °C·d");
    assert!(learnt.says(Stage::Hatch).is_none());
    let one = Learnt::of(&entry, &all[..1]).says(Stage::FreeSwimming).unwrap().to_string();
    assert!(one.starts_with("after 1 clutch your"), "{one}");
    assert_eq!(learnt.species(None).figures.last().unwrap().value, says.value());
    let species = learnt.species(Some("M1"));
    let figure = species.figures.last().unwrap();
    assert_eq!((figure.name.as_str(), figure.how.as_str()), ("free-swimming, learnt", "observed"));
    assert_eq!(figure.source, "learnt from 4 clutches of this room, 4 of them of this mother");
}

fn told_by(species: &Species, celsius: f64, day0: Day0, doubts: Doubts, seen: &[Sighting]) -> Vec<Evidence> {
    let course = constant(species, celsius, 400.0);
    let ask = Ask { species, course: &course, until: None, day0, seen, water_to_come: None, doubts };
    evidence(&ask, "c1", Some("M1"))
}

#[test]
fn evidence_is_what_was_had_over_what_was_asked_for() {
    let species = entry(20.0, 20.0);
    let day0 = Day0::seen(start());
    // 12 °C·d a day.
    let seen = [Sighting::at(Stage::Hatch, hours(132.0)), Sighting::at(Stage::FreeSwimming, hours(312.0))];
    let exact = told_by(&species, 26.0, day0, Doubts::NONE, &seen);
    assert_eq!(exact.len(), 2);
    close(exact[0].y, 1.1_f64.ln(), 1e-9);
    close(exact[1].y, (156.0_f64 / 150.0).ln(), 1e-9);
    assert!(exact.iter().all(|e| e.variance < 1e-15 && e.mother.as_deref() == Some("M1")));
    // A probe 0.25 °C off over 5.5 days is 1.375 °C·d of 66.
    let probe = told_by(&species, 26.0, day0, Doubts::USUAL, &seen);
    close(probe[0].variance.sqrt(), 1.375 / 66.0, 1e-6);
    // Even over 12 h: 6 °C·d wide, of 66.
    let looks = Sighting { sign: Sign::Stage(Stage::Hatch), seen: Seen::Between(hours(126.0), hours(138.0)) };
    let wide = told_by(&species, 26.0, day0, Doubts::NONE, &[looks]);
    close(wide[0].y, 1.1_f64.ln(), 0.001);
    close(wide[0].variance.sqrt(), 6.0 / 12.0_f64.sqrt() / 66.0, 0.001);
    let window = Day0::new(hours(-6.0), hours(6.0), Grade::Window).unwrap();
    let wide = told_by(&species, 26.0, window, Doubts::NONE, &seen);
    close(wide[0].variance.sqrt(), 6.0 / 12.0_f64.sqrt() / 66.0, 0.001);
    assert_eq!(
        serde_json::from_str::<Evidence>(&serde_json::to_string(&wide[0]).unwrap()).unwrap().stage,
        Stage::Hatch
    );
}

#[test]
fn what_was_not_watched_or_not_read_tells_nothing() {
    let species = entry(20.0, 20.0);
    let day0 = Day0::seen(start());
    let by = Sighting { sign: Stage::Hatch.into(), seen: Seen::By(hours(130.0)) };
    let yolk = Sighting { sign: Sign::YolkHalfGone, seen: Seen::At(hours(200.0)) };
    assert!(told_by(&species, 26.0, day0, Doubts::USUAL, &[by, yolk]).is_empty());
    let hatch = [Sighting::at(Stage::Hatch, hours(120.0))];
    let with_gap = |gap: f64| {
        let mut course = development::Course::new(&species, start());
        common::fill(&mut course, 0.0, 40.0, |_| 26.0);
        common::fill(&mut course, 40.0 + gap, 130.0, |_| 26.0);
        let ask = common::ask(&species, &course, &hatch);
        evidence(&ask, "c1", None)
    };
    assert_eq!(with_gap(11.5).len(), 1);
    assert!(with_gap(11.5)[0].variance > with_gap(6.0)[0].variance);
    assert!(with_gap(12.5).is_empty());
    let empty = development::Course::new(&species, start());
    let ask = Ask { water_to_come: Some(26.0), ..common::ask(&species, &empty, &hatch) };
    assert!(evidence(&ask, "c1", None).is_empty());
}

/// A small generator of chance (xorshift64*), so that every run is the same.
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.even().max(1e-300).ln()).sqrt() * (std::f64::consts::TAU * self.even()).cos()
    }
}

/// A room 12 % slow whose mothers differ by 3 %, with clutches as wide as the entry has them within rooms.
struct Room {
    mothers: Vec<f64>,
    sigma: f64,
}

impl Room {
    fn new(chance: &mut Chance) -> Self {
        Self { mothers: (0..4).map(|_| 0.03 * chance.normal()).collect(), sigma: 0.2 / FOUR_OF_FIVE }
    }

    /// Degree-days at which a clutch hatches and swims.
    fn clutch(&self, mother: usize, chance: &mut Chance) -> [f64; 2] {
        let wide = self.sigma * 0.45_f64.sqrt() * 0.5_f64.sqrt();
        let pace = 1.12_f64.ln() + self.mothers[mother] + wide * chance.normal();
        [60.0, 150.0].map(|k| k * (pace + wide * chance.normal()).exp())
    }
}

/// What came of windows of free swimming for next clutches: share held, mean width and mean distance of the likeliest time, h.
#[derive(Debug)]
struct Held {
    share: f64,
    width: f64,
    off: f64,
}

fn next_clutches(before: usize) -> Held {
    const ROOMS: usize = 3_000;
    let entry = entry(20.0, 20.0);
    let course = constant(&entry, 26.0, 24.0);
    let mut chance = Chance(77 + before as u64);
    let mut held = Held { share: 0.0, width: 0.0, off: 0.0 };
    for _ in 0..ROOMS {
        let room = Room::new(&mut chance);
        let mut all = Vec::new();
        for i in 0..before {
            for (stage, (had, k)) in [Stage::Hatch, Stage::FreeSwimming]
                .into_iter()
                .zip(room.clutch(i % 4, &mut chance).into_iter().zip([60.0, 150.0]))
            {
                let y = f64::ln(had / k) + 0.02 * chance.normal();
                all.push(Evidence {
                    variance: 4e-4,
                    ..told(&format!("c{i}"), Some(&format!("M{}", i % 4)), stage, y)
                });
            }
        }
        let mother = (chance.even() * 4.0) as usize;
        let species = Learnt::of(&entry, &all).species(Some(&format!("M{mother}")));
        let w = *project(&common::ask(&species, &course, &[])).unwrap().stage(Stage::FreeSwimming).unwrap();
        let true_time = start() + Span::from_days(room.clutch(mother, &mut chance)[1] / 12.0);
        held.share += f64::from(u8::from((w.earliest..=w.latest).contains(&true_time))) / ROOMS as f64;
        held.width += (w.latest - w.earliest).as_hours() / ROOMS as f64;
        held.off += (w.likeliest - true_time).as_hours().abs() / ROOMS as f64;
    }
    held
}

#[test]
fn windows_of_the_next_clutch_hold_80_percent_and_come_nearer() {
    let mut last = next_clutches(0);
    println!("0 clutches: {last:?}");
    for before in [1, 4, 10] {
        let held = next_clutches(before);
        println!("{before} clutches: {held:?}");
        assert!((0.77..=0.83).contains(&held.share), "{before}: {held:?}");
        assert!(held.width < last.width && held.off < last.off, "{before}: {held:?} after {last:?}");
        last = held;
    }
}
