//! The laws against each other and against day-degrees on what they have not seen.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use development::fit::{ModelKind, Observation, fit};
use development::{Species, SpeciesTable};
use std::fmt::Write;
use units::Stage;

/// Every shipped entry whose law was chosen from observations: what each model makes of temperatures it has not seen,
/// in percent of the days.
struct Tried {
    name: String,
    stage: Stage,
    n: usize,
    base_0: f64,
    percent: [Option<f64>; 3],
    chosen: ModelKind,
}

impl Tried {
    fn of_chosen(&self) -> f64 {
        self.percent[self.chosen as usize].unwrap()
    }
}

/// Observations that an entry's law rests on.
fn observations(s: &Species, stage: Stage) -> Vec<Observation> {
    let used = s.series.iter().filter(|q| q.used && q.stage == stage);
    used.flat_map(|q| q.observations.iter().copied()).collect()
}

/// Days from a fixed sum of degrees over 0 °C: each temperature predicted from the mean sum of the others, percent.
fn base_0_percent(all: &[Observation]) -> f64 {
    let off = |o: &Observation| {
        let rest: Vec<f64> =
            all.iter().filter(|r| r.celsius != o.celsius).map(|r| r.celsius * r.days).collect();
        let sum = rest.iter().sum::<f64>() / rest.len() as f64;
        100.0 * (sum / o.celsius / o.days - 1.0).abs()
    };
    all.iter().map(off).sum::<f64>() / all.len() as f64
}

fn tried() -> Vec<Tried> {
    let table = SpeciesTable::shipped();
    let with_choice = table.iter().filter_map(|s| Some((s, s.law.choice.as_ref()?)));
    with_choice
        .map(|(s, choice)| {
            let seen = observations(s, choice.stage);
            let kept = fit(&seen).unwrap().kept(&seen);
            assert_eq!(choice.observations.0, kept.len());
            let percent = ModelKind::ALL.map(|k| choice.percent.iter().find(|p| p.0 == k).unwrap().1);
            Tried {
                name: s.name.split(" (").next().unwrap().to_owned(),
                stage: choice.stage,
                n: kept.len(),
                base_0: base_0_percent(&kept),
                percent,
                chosen: choice.chosen,
            }
        })
        .collect()
}

fn mean(all: &[f64]) -> f64 {
    all.iter().sum::<f64>() / all.len() as f64
}

fn middle(all: &[f64]) -> f64 {
    let mut all = all.to_vec();
    all.sort_by(f64::total_cmp);
    0.5 * (all[(all.len() - 1) / 2] + all[all.len() / 2])
}

/// Errors of base 0, line and chosen over the rows where the line says something, and of base 0 and chosen over all.
fn columns(all: &[Tried]) -> [Vec<f64>; 5] {
    let lines: Vec<&Tried> = all.iter().filter(|t| t.percent[0].is_some()).collect();
    [
        lines.iter().map(|t| t.base_0).collect(),
        lines.iter().map(|t| t.percent[0].unwrap()).collect(),
        lines.iter().map(|t| t.of_chosen()).collect(),
        all.iter().map(|t| t.base_0).collect(),
        all.iter().map(Tried::of_chosen).collect(),
    ]
}

fn printed(all: &[Tried]) -> String {
    let mut out = String::from(
        "species | stage | n | base-0 % | line % | power % | curve % | chosen\n--- | --- | ---: | ---: | ---: | ---: | ---: | ---\n",
    );
    let text = |p: Option<f64>| p.map_or("fails".to_owned(), |p| format!("{p:.1}"));
    for t in all {
        let [line, power, curve] = t.percent.map(text);
        writeln!(
            out,
            "{} | {} | {} | {:.1} | {line} | {power} | {curve} | {}",
            t.name,
            t.stage,
            t.n,
            t.base_0,
            t.chosen.word()
        )
        .unwrap();
    }
    let [base_0, line, chosen, base_0_all, chosen_all] = columns(all);
    let say = |f: fn(&[f64]) -> f64| {
        format!(
            "over all rows base-0 {:.1} %, chosen {:.1} %; where the line says something base-0 {:.1} %, line {:.1} %, chosen {:.1} %",
            f(&base_0_all),
            f(&chosen_all),
            f(&base_0),
            f(&line),
            f(&chosen)
        )
    };
    writeln!(out, "\nMean: {}.\nMedian: {}.", say(mean), say(middle)).unwrap();
    out
}

/// Printed here, and in SPECIES.md word for word.
#[test]
fn the_chosen_law_errs_a_quarter_less_than_day_degrees_and_less_than_the_line() {
    let all = tried();
    let table = printed(&all);
    println!("{table}");
    for f in [mean, middle] {
        let [_, line, chosen, base_0_all, chosen_all] = columns(&all).map(|c| f(&c));
        assert!(chosen_all <= 0.75 * base_0_all && chosen < line, "{table}");
    }
    let page = include_str!("../SPECIES.md");
    let stands = page.split("<!-- leave-one-out -->\n").nth(1).unwrap_or("SPECIES.md has no such mark");
    assert_eq!(stands.trim(), table.trim(), "copy the computed table into services/development/SPECIES.md");
}

/// A model that is chosen by its errors looks better than it is. Here the choice too is made without the temperature
/// that is predicted, which takes four others at least.
#[test]
fn chosen_blind_it_still_errs_a_quarter_less_than_day_degrees() {
    let table = SpeciesTable::shipped();
    let (mut blind, mut base_0) = (Vec::new(), Vec::new());
    for (s, choice) in table.iter().filter_map(|s| Some((s, s.law.choice.as_ref()?))) {
        let seen = observations(s, choice.stage);
        if choice.observations.1 < 5 {
            continue;
        }
        let off = |o: &Observation| {
            let rest: Vec<Observation> = seen.iter().filter(|r| r.celsius != o.celsius).copied().collect();
            let days = fit(&rest).unwrap().predict_best(o.celsius).days;
            // Where it says that nothing develops it is wrong altogether.
            days.map_or(100.0, |d| 100.0 * (d / o.days - 1.0).abs())
        };
        blind.push(mean(&seen.iter().map(off).collect::<Vec<_>>()));
        base_0.push(base_0_percent(&seen));
        println!(
            "{:28} blind {:5.1} %, base-0 {:5.1} %",
            s.key,
            blind.last().unwrap(),
            base_0.last().unwrap()
        );
    }
    let said = format!("come to {:.1} % (base-0: {:.1} %)", mean(&blind), mean(&base_0));
    println!("{} series {said}", blind.len());
    assert!(include_str!("../SPECIES.md").contains(&said), "correct SPECIES.md: {said}");
    assert!(blind.len() >= 6 && mean(&blind) <= 0.75 * mean(&base_0), "{blind:?} {base_0:?}");
}
