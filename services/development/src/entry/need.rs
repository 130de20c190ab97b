//! What the stages of an entry need, once its law is known.

use super::Faults;
use super::basis::Basis;
use super::stage::{Wanted, WrittenStage};
use crate::fit::{Observation, temperatures};
use crate::parse::Reader;
use crate::series::time;
use crate::species::{Figure, Form, Need, Requirement, Spread};

/// What each stage needs by the law, with its figures.
pub(super) fn requirements(
    r: &Reader<'_>,
    stages: &[WrittenStage],
    basis: &Basis,
    figures: &mut Vec<Figure>,
    faults: &mut Faults,
) -> Vec<Requirement> {
    let mut found: Vec<Requirement> = Vec::new();
    for s in stages {
        let Some(need) = need(r, s, stages, basis, faults) else { continue };
        let Spread { early, late } = s.spread;
        let from = s.after.map_or("from fertilisation".to_owned(), |a| format!("after {a}"));
        let value = format!("{} {from}, −{early} % +{late} %", words(s, need));
        let computed = || Figure {
            name: s.stage.word().to_owned(),
            value: String::new(),
            source: "worked out from the observations below".to_owned(),
            how: "computed".to_owned(),
        };
        figures.push(Figure { value, ..s.given.clone().unwrap_or_else(computed) });
        figures.extend(s.beside.iter().cloned());
        found.push(Requirement { stage: s.stage, after: s.after, need, spread: s.spread });
    }
    found.sort_by_key(|q| q.stage);
    found
}

fn words(s: &WrittenStage, need: Need) -> String {
    match (&s.wanted, need) {
        (Wanted::Given(Need::Anchor { celsius, days }), _) => format!("{days} d at {celsius} °C"),
        (Wanted::Given(Need::DegreeDays(k)), _) => format!("{k} °C·d"),
        (Wanted::Ratio { of, times }, _) => format!("{times} times the way to {of}"),
        (Wanted::Observed, Need::Anchor { celsius, days }) => {
            format!("{} at {:.1} °C", time(days), celsius)
        }
        (Wanted::Observed, Need::DegreeDays(k)) => format!("{k:.1} °C·d"),
    }
}

fn need(
    r: &Reader<'_>,
    s: &WrittenStage,
    all: &[WrittenStage],
    basis: &Basis,
    faults: &mut Faults,
) -> Option<Need> {
    match s.wanted {
        Wanted::Given(Need::Anchor { celsius, days }) if basis.law.form != Form::Line => {
            moved(r, s, basis, &[Observation { celsius, days, sd: None }], faults)
        }
        Wanted::Given(need) => Some(need),
        Wanted::Observed => observed(r, s, basis, faults),
        Wanted::Ratio { of, times } => {
            let whole = |t: &&WrittenStage| {
                t.stage == of && t.after.is_none() && !matches!(t.wanted, Wanted::Ratio { .. })
            };
            let Some(of_it) = all.iter().find(whole) else {
                let cure =
                    "that stage must stand in the entry, count from fertilisation and be no ratio itself";
                faults.push(r.fault(
                    &format!("stage.{}.ratio.of", s.stage),
                    format!("{:?}", of.word()),
                    cure,
                ));
                return None;
            };
            Some(match need(r, of_it, all, basis, &mut Faults::new())? {
                Need::DegreeDays(k) => Need::DegreeDays(k * times),
                Need::Anchor { celsius, days } => Need::Anchor { celsius, days: days * times },
            })
        }
    }
}

fn observed(r: &Reader<'_>, s: &WrittenStage, basis: &Basis, faults: &mut Faults) -> Option<Need> {
    if let Some((_, celsius, days)) = basis.made.filter(|(stage, ..)| *stage == s.stage) {
        return Some(Need::Anchor { celsius, days });
    }
    let seen = s.used();
    // On a line all base temperatures of the range cross where it was seen.
    match temperatures(&seen)[..] {
        [] => None,
        [celsius] if basis.law.form == Form::Line => {
            let days = seen.iter().map(|o| o.days).sum::<f64>() / seen.len() as f64;
            Some(Need::Anchor { celsius, days })
        }
        _ => moved(r, s, basis, &seen, faults),
    }
}

/// Days at the middle of the calibrated range that the law makes of days at other temperatures: their geometric mean.
fn moved(
    r: &Reader<'_>,
    s: &WrittenStage,
    basis: &Basis,
    seen: &[Observation],
    faults: &mut Faults,
) -> Option<Need> {
    let celsius = basis.middle()?;
    let pace = |t: f64| basis.pace(t) / basis.pace(celsius);
    if let Some(cold) = seen.iter().find(|o| pace(o.celsius) <= 0.0) {
        let value = format!("{} d at {} °C", cold.days, cold.celsius);
        let cure = "by the law of this entry nothing develops there; correct it or leave it out";
        faults.push(r.fault(&format!("stage.{}", s.stage), value, cure));
        return None;
    }
    let logs: f64 = seen.iter().map(|o| (o.days * pace(o.celsius)).ln()).sum();
    Some(Need::Anchor { celsius, days: (logs / seen.len() as f64).exp() })
}
