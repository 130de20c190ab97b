//! One entry of the species table.

use crate::parse::{Fault, Reader, as_number};
use crate::species::{BaseTemperature, Figure, Law, Need, Requirement, Species, Spread};
use toml::Value;
use units::{Band, Stage};

/// Words that may stand under `how`.
const HOW: [&str; 7] =
    ["read", "read (secondary)", "abstract", "memory", "computed", "common practice", "planning value"];

/// Coldest and warmest water that a figure may speak of, °C; a base temperature may lie below zero.
const WATER: (f64, f64) = (-10.0, 45.0);

type Faults = Vec<Fault>;

/// Reads one entry; `None` when something that everything else needs is missing. Faults go into the list.
pub(crate) fn read(r: &Reader<'_>, faults: &mut Faults) -> Option<Species> {
    r.only(&["name", "base", "calibrated", "tolerated", "cap", "stage"], faults);
    let mut figures = Vec::new();
    let name = r.text("name", faults).map(str::to_owned);
    let base = base(r, &mut figures, faults);
    let requirements = stages(r, &mut figures, faults);
    let calibrated = band(r, "calibrated", &mut figures, faults);
    let tolerated = band(r, "tolerated", &mut figures, faults);
    let cap = cap(r, &mut figures, faults);
    let species = Species {
        key: r.entry.to_owned(),
        name: name?,
        base: base?,
        requirements,
        calibrated,
        tolerated,
        cap,
        upper: None,
        law: Law::default(),
        within: Spread::WITHIN,
        figures,
    };
    faults.extend(together(r, &species));
    Some(species)
}

/// Source and how of the figure in this table.
fn figure(r: &Reader<'_>, name: &str, value: String, faults: &mut Faults) -> Option<Figure> {
    let source = r.text("source", faults);
    let how = r.text("how", faults);
    if let Some(how) = how.filter(|h| !HOW.contains(h)) {
        faults.push(r.fault("how", format!("{how:?}"), format!("use one of {}", HOW.join(", "))));
    }
    Some(Figure { name: name.to_owned(), value, source: source?.to_owned(), how: how?.to_owned() })
}

fn base(r: &Reader<'_>, figures: &mut Vec<Figure>, faults: &mut Faults) -> Option<BaseTemperature> {
    if !r.has("base") {
        faults.push(r.fault("base", "(missing)", "add a table with low, likely, high (°C), source and how"));
    }
    let b = r.inner("base", faults)?;
    b.only(&["low", "likely", "high", "source", "how"], faults);
    let [low, likely, high] = ["low", "likely", "high"].map(|n| b.number(n, WATER.0, WATER.1, faults));
    let (low, likely, high) = (low?, likely?, high?);
    if !(low <= likely && likely <= high) {
        faults.push(b.fault("likely", likely, format!("it must lie between low ({low}) and high ({high})")));
        return None;
    }
    let value =
        if low < high { format!("{likely} °C ({low} to {high} °C)") } else { format!("{likely} °C") };
    figures.extend(figure(&b, "base temperature", value, faults));
    Some(BaseTemperature { low, likely, high })
}

fn band(r: &Reader<'_>, name: &str, figures: &mut Vec<Figure>, faults: &mut Faults) -> Option<Band> {
    let b = r.inner(name, faults)?;
    b.only(&["low", "high", "source", "how"], faults);
    let [low, high] = ["low", "high"].map(|n| b.number(n, WATER.0, WATER.1, faults));
    let (low, high) = (low?, high?);
    figures.extend(figure(&b, &format!("{name} range"), format!("{low} to {high} °C"), faults));
    let band = Band::new(low, high).filter(|_| low < high);
    if band.is_none() {
        faults.push(b.fault("high", high, format!("it must lie above low ({low})")));
    }
    band
}

fn cap(r: &Reader<'_>, figures: &mut Vec<Figure>, faults: &mut Faults) -> Option<f64> {
    let c = r.inner("cap", faults)?;
    c.only(&["celsius", "source", "how"], faults);
    let celsius = c.number("celsius", WATER.0, WATER.1, faults)?;
    figures.extend(figure(&c, "cap", format!("{celsius} °C"), faults));
    Some(celsius)
}

fn stages(r: &Reader<'_>, figures: &mut Vec<Figure>, faults: &mut Faults) -> Vec<Requirement> {
    let mut found: Vec<Requirement> = Vec::new();
    let table = r.inner("stage", faults);
    if !r.has("stage") || table.as_ref().is_some_and(|t| t.table.is_empty()) {
        faults.push(r.fault("stage", "(missing)", "add at least [….stage.hatch] with what it needs"));
    }
    let Some(table) = table else { return found };
    for (key, value) in table.table {
        match key.parse::<Stage>().ok().filter(|s| *s != Stage::Egg) {
            Some(stage) => {
                found.extend(table.inner(key, faults).and_then(|s| requirement(&s, stage, figures, faults)));
            }
            None => faults.push(table.fault(key, value, known_stages())),
        }
    }
    found.sort_by_key(|q| q.stage);
    found
}

fn known_stages() -> String {
    let known: Vec<&str> = Stage::ALL.iter().skip(1).map(|s| s.word()).collect();
    format!("unknown stage; use one of {}", known.join(", "))
}

fn requirement(
    r: &Reader<'_>,
    stage: Stage,
    figures: &mut Vec<Figure>,
    faults: &mut Faults,
) -> Option<Requirement> {
    r.only(&["after", "degree_days", "anchor", "spread_percent", "source", "how"], faults);
    let after = after(r, stage, faults);
    let spread = spread(r, faults);
    let (need, words) = need(r, faults)?;
    let from = after.map_or("from fertilisation", |a| a.word());
    let from = if after.is_some() { format!("after {from}") } else { from.to_owned() };
    let value = format!("{words} {from}, −{} % +{} %", spread.early, spread.late);
    figures.extend(figure(r, stage.word(), value, faults));
    Some(Requirement { stage, after, need, spread })
}

fn need(r: &Reader<'_>, faults: &mut Faults) -> Option<(Need, String)> {
    match (r.has("degree_days"), r.has("anchor")) {
        (true, false) => {
            let k = r.number("degree_days", 0.1, 5_000.0, faults)?;
            Some((Need::DegreeDays(k), format!("{k} °C·d")))
        }
        (false, true) => {
            let a = r.inner("anchor", faults)?;
            a.only(&["celsius", "days"], faults);
            let celsius = a.number("celsius", WATER.0, WATER.1, faults);
            let days = a.number("days", 0.01, 400.0, faults);
            let (celsius, days) = (celsius?, days?);
            Some((Need::Anchor { celsius, days }, format!("{days} d at {celsius} °C")))
        }
        (both, _) => {
            let value = if both { "(degree_days and anchor)" } else { "(missing)" };
            let cure = "give either degree_days or anchor = { celsius = …, days = … }";
            faults.push(r.fault("degree_days", value, cure));
            None
        }
    }
}

fn after(r: &Reader<'_>, stage: Stage, faults: &mut Faults) -> Option<Stage> {
    if !r.has("after") {
        return None;
    }
    let word = r.text("after", faults)?;
    let before = word.parse::<Stage>().ok().filter(|s| *s != Stage::Egg && *s < stage);
    if before.is_none() {
        faults.push(r.fault("after", format!("{word:?}"), format!("name a stage that comes before {stage}")));
    }
    before
}

fn spread(r: &Reader<'_>, faults: &mut Faults) -> Spread {
    let percent = |v: &Value| as_number(v).filter(|p| (0.0..=90.0).contains(p));
    let read = match r.table.get("spread_percent") {
        None => return Spread::USUAL,
        Some(Value::Array(two)) if two.len() == 2 => percent(&two[0]).zip(percent(&two[1])),
        Some(one) => percent(one).map(|p| (p, p)),
    };
    if let Some((early, late)) = read {
        return Spread { early, late };
    }
    let value = r.table.get("spread_percent").map(Value::to_string).unwrap_or_default();
    let cure = "write a percentage from 0 to 90, or two: [before, after]";
    faults.push(r.fault("spread_percent", value, cure));
    Spread::USUAL
}

/// What single fields cannot show.
fn together(r: &Reader<'_>, s: &Species) -> Faults {
    let mut faults = Faults::new();
    let base = s.base;
    if let Some(band) = s.calibrated.filter(|b| b.low <= base.high) {
        let cure = format!("it must lie above the highest base temperature ({})", base.high);
        faults.push(r.fault("calibrated.low", band.low, cure));
    }
    if let Some(cap) = s.cap.filter(|c| *c <= base.high) {
        let cure = format!("it must lie above the highest base temperature ({})", base.high);
        faults.push(r.fault("cap.celsius", cap, cure));
    }
    for q in &s.requirements {
        faults.extend(one_stage(r, s, q));
    }
    if faults.is_empty() {
        faults.extend(order_of_life(r, s));
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
