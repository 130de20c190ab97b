//! Windows hold what they say they hold: simulated clutches whose truth is known.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{shipped, start};
use development::{Ask, Course, Doubts, Species, project};
use units::{Day0, Grade, Sighting, Span, Stage, Time};

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

    /// Normal with its own width to either side, four of five within (−early, late).
    fn sided(&mut self, early: f64, late: f64) -> f64 {
        let z = self.normal();
        z / 1.281_55 * if z < 0.0 { early } else { late }
    }
}

/// What is true of one clutch.
struct Truth {
    spawned: Time,
    reached: Vec<(Stage, Time)>,
    day0: Day0,
    course: Course,
}

const STEP: Span = Span::minutes(30);

/// A clutch of a species as its entry believes it: base, pace of its own and of each stage, day 0 between two looks; in
/// water that stands at some temperature and changes after the look, read by a probe that is off. The look is at `until`,
/// or when the first stage is reached.
fn clutch(species: &Species, chance: &mut Chance, until: Option<Time>) -> Truth {
    let base = species.base;
    let t0 = base.likely + chance.sided(base.likely - base.low, base.high - base.likely);
    let day0 = Day0::new(start(), start() + Span::from_days(chance.even()), Grade::Window).unwrap();
    let spawned = day0.earliest + Span::from_days((day0.latest - day0.earliest).as_days() * chance.even());
    let (water, off, change) = (24.5 + 3.0 * chance.even(), 0.25 * chance.normal(), 0.4 * chance.normal());
    let own = chance.normal();
    let mut due: Vec<(Stage, f64)> = Vec::new();
    for r in &species.requirements {
        let need = |stage: Option<Stage>| stage.map_or(0.0, |s| species.required(s, t0).unwrap());
        // A stage that counts from fertilisation goes on from the one before it: its spread is that of both together.
        let before = if r.after.is_some() { r.after } else { due.last().map(|d| d.0) };
        let (leg, had) = match r.after {
            Some(_) => (need(Some(r.stage)) - need(r.after), 0.0),
            None => (need(Some(r.stage)), need(before)),
        };
        let share = |z: f64| {
            z / 1.281_55 * 0.5_f64.sqrt() * if z < 0.0 { r.spread.early } else { r.spread.late } / 100.0
        };
        let alone = share(chance.normal()) * (leg * leg - had * had).sqrt();
        let reached = before.map_or(0.0, |s| due.iter().find(|d| d.0 == s).unwrap().1);
        due.push((r.stage, reached + (leg - had) * (1.0 + share(own)) + alone));
    }
    let mut course = Course::new(species, day0.earliest);
    let (mut t, mut had, mut reached) = (spawned, 0.0, Vec::new());
    while reached.len() < due.len() {
        let before = until.map_or(reached.is_empty(), |until| t < until);
        let celsius = if before { water } else { water + change };
        had += (celsius - t0) * STEP.as_days();
        t += STEP;
        while let Some((stage, _)) = due.get(reached.len()).filter(|d| d.1 <= had) {
            reached.push((*stage, t));
        }
    }
    let until = until.unwrap_or(reached[0].1);
    let mut at = day0.earliest;
    while at <= until {
        course.insert(at, water - off);
        at += Span::minutes(20);
    }
    Truth { spawned, reached, day0, course }
}

/// Share of clutches whose stage came within its window, looked at after some days, with the hatch seen or not.
fn held(key: &str, seed: u64, days: Option<i64>, stage: Stage, seen: Option<Stage>) -> f64 {
    let species = shipped(key);
    let (mut chance, mut inside, mut all) = (Chance(seed), 0, 0);
    while all < 2_000 {
        let until = days.map(|d| start() + Span::days(d));
        let truth = clutch(&species, &mut chance, until);
        let at = |s: Stage| truth.reached.iter().find(|r| r.0 == s).unwrap().1;
        assert!(truth.spawned < at(stage));
        let seen: Vec<Sighting> = seen.into_iter().map(|s| Sighting::at(s, at(s))).collect();
        let until = seen.iter().map(|s| s.seen.by()).max().or(until);
        let ask = Ask {
            species: &species,
            course: &truth.course,
            until,
            day0: truth.day0,
            seen: &seen,
            water_to_come: None,
            doubts: Doubts::USUAL,
        };
        let w = *project(&ask).unwrap().stage(stage).unwrap();
        all += 1;
        inside += u32::from((w.earliest..=w.latest).contains(&at(stage)));
    }
    f64::from(inside) / f64::from(all)
}

#[test]
fn windows_of_80_percent_hold_80_percent() {
    let cases = [
        ("generic-mouthbrooder", Some(1), Stage::Hatch, None),
        ("generic-mouthbrooder", Some(4), Stage::Hatch, None),
        ("generic-mouthbrooder", Some(2), Stage::FreeSwimming, None),
        ("generic-mouthbrooder", Some(10), Stage::FreeSwimming, None),
        ("oreochromis-niloticus", Some(2), Stage::Hatch, None),
        ("oreochromis-niloticus", Some(2), Stage::FirstFeeding, None),
        ("oreochromis-niloticus", None, Stage::FirstFeeding, Some(Stage::Hatch)),
        ("generic-mouthbrooder", None, Stage::FreeSwimming, Some(Stage::Hatch)),
    ];
    for (i, (key, days, stage, seen)) in cases.into_iter().enumerate() {
        let share = held(key, 11 + i as u64, days, stage, seen);
        println!("{key} {stage} after {days:?} d, seen {seen:?}: {:.1} %", 100.0 * share);
        assert!((0.77..=0.83).contains(&share), "{key} {stage}: {share}");
    }
}
