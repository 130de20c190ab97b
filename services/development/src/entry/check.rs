//! What single fields of an entry cannot show.

use super::Faults;
use crate::parse::{Fault, Reader};
use crate::species::{Need, Requirement, Species};
use toml::Value;
use units::Stage;

pub(super) fn together(r: &Reader<'_>, s: &Species) -> Faults {
    let mut faults = limits(r, s);
    for q in &s.requirements {
        faults.extend(one_stage(r, s, q));
    }
    if faults.is_empty() {
        faults.extend(order_of_life(r, s));
    }
    faults
}

/// Temperatures that must lie above others.
fn limits(r: &Reader<'_>, s: &Species) -> Faults {
    let base = Some(("the highest base temperature", s.base.high));
    let calibrated = s.calibrated.map(|b| ("the top of the calibrated range", b.high));
    let cap = s.cap.map(|c| ("the cap", c));
    let mut faults = Faults::new();
    for (field, value, over) in [
        ("calibrated.low", s.calibrated.map(|b| b.low), vec![base]),
        ("cap.celsius", s.cap, vec![base]),
        ("upper.celsius", s.upper, vec![base, calibrated, cap]),
    ] {
        let Some(value) = value else { continue };
        if let Some((what, limit)) = over.into_iter().flatten().find(|(_, limit)| value <= *limit) {
            faults.push(r.fault(field, value, format!("it must lie above {what} ({limit})")));
        }
    }
    faults
}

fn one_stage(r: &Reader<'_>, s: &Species, q: &Requirement) -> Option<Fault> {
    let base = s.base;
    match q.need {
        Need::Anchor { celsius, .. } if celsius <= base.high => Some(r.fault(
            &format!("stage.{}.anchor.celsius", q.stage),
            celsius,
            format!("it must lie above the highest base temperature ({})", base.high),
        )),
        Need::DegreeDays(k) if base.low < base.high && s.calibrated.is_none() => Some(r.fault(
            &format!("stage.{}.degree_days", q.stage),
            k,
            "degree-days belong to one base temperature: give the calibrated range, set low = likely = high, or \
             write an anchor",
        )),
        _ => q.after.filter(|a| !written(r, *a)).map(|a| {
            let cure = format!("add [….stage.{a}], or count from fertilisation");
            r.fault(&format!("stage.{}.after", q.stage), format!("{:?}", a.word()), cure)
        }),
    }
}

/// Whether the entry has that stage, be it faulty: a fault in it is told once, there.
fn written(r: &Reader<'_>, stage: Stage) -> bool {
    r.table.get("stage").and_then(Value::as_table).is_some_and(|t| t.contains_key(stage.word()))
}

/// A later stage needs more than an earlier one, at every base temperature.
fn order_of_life(r: &Reader<'_>, s: &Species) -> Option<Fault> {
    let needs = |q: &Requirement| s.base.all().map(|t0| s.required(q.stage, t0).unwrap_or(0.0));
    s.requirements.windows(2).find_map(|w| {
        let (earlier, later) = (needs(&w[0]), needs(&w[1]));
        let short = later.iter().zip(earlier).any(|(l, e)| *l < e);
        short.then(|| {
            let value = format!("{:.1} °C·d", later[1]);
            let cure =
                format!("it cannot need less than {} ({:.1} °C·d); correct one", w[0].stage, earlier[1]);
            r.fault(&format!("stage.{}", w[1].stage), value, cure)
        })
    })
}
