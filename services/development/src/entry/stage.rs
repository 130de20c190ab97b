//! The stages of an entry as they are written.

use super::series::{self, Written};
use super::single::{figure, percent, spread_table};
use super::{Faults, WATER};
use crate::fit::Observation;
use crate::parse::Reader;
use crate::species::{Figure, Need, Spread};
use units::Stage;

/// A stage as it is written.
pub(super) struct WrittenStage {
    pub(super) stage: Stage,
    pub(super) after: Option<Stage>,
    pub(super) series: Vec<Written>,
    pub(super) spread: Spread,
    pub(super) wanted: Wanted,
    /// The figure of the requirement without its number, where it is given with a source of its own.
    pub(super) given: Option<Figure>,
    /// Figures beside the requirement.
    pub(super) beside: Vec<Figure>,
}

/// Where the requirement comes from.
pub(super) enum Wanted {
    Given(Need),
    /// So many times what another stage needs.
    Ratio {
        of: Stage,
        times: f64,
    },
    /// From the series.
    Observed,
}

impl WrittenStage {
    /// The observations that its requirement rests on.
    pub(super) fn used(&self) -> Vec<Observation> {
        self.series
            .iter()
            .filter(|w| w.series.used)
            .flat_map(|w| w.series.observations.iter().copied())
            .collect()
    }
}

/// Reads all stages in order of life.
pub(super) fn read(r: &Reader<'_>, faults: &mut Faults) -> Vec<WrittenStage> {
    let mut found = Vec::new();
    let table = r.inner("stage", faults);
    if !r.has("stage") || table.as_ref().is_some_and(|t| t.table.is_empty()) {
        faults.push(r.fault("stage", "(missing)", "add at least [….stage.hatch] with what it needs"));
    }
    let Some(table) = table else { return found };
    for (key, value) in table.table {
        match key.parse::<Stage>().ok().filter(|s| *s != Stage::Egg) {
            Some(stage) => found.extend(table.inner(key, faults).and_then(|s| one(&s, stage, faults))),
            None => faults.push(table.fault(key, value, known_stages())),
        }
    }
    found
}

fn known_stages() -> String {
    let known: Vec<&str> = Stage::ALL.iter().skip(1).map(|s| s.word()).collect();
    format!("unknown stage; use one of {}", known.join(", "))
}

fn one(r: &Reader<'_>, stage: Stage, faults: &mut Faults) -> Option<WrittenStage> {
    let by_series = r.has("series") && !["degree_days", "anchor", "ratio"].iter().any(|n| r.has(n));
    if by_series {
        // Each series has its own source, so has the spread.
        r.only(&["after", "series", "spread"], faults);
    } else {
        let known = [
            "after",
            "degree_days",
            "anchor",
            "ratio",
            "series",
            "spread",
            "spread_percent",
            "source",
            "how",
        ];
        r.only(&known, faults);
    }
    let after = after(r, stage, faults);
    let mut beside = Vec::new();
    let spread = spread(r, stage, &mut beside, faults);
    let series = series::read(r, (stage, after), by_series, faults);
    beside.extend(series.iter().map(|w| Figure {
        name: format!("{stage}, observed"),
        value: w.series.words(),
        source: w.series.source.clone(),
        how: w.series.how.clone(),
    }));
    let (wanted, given) = if by_series {
        (Wanted::Observed, None)
    } else {
        (wanted(r, stage, faults)?, figure(r, stage.word(), String::new(), faults))
    };
    Some(WrittenStage { stage, after, series, spread, wanted, given, beside })
}

fn wanted(r: &Reader<'_>, stage: Stage, faults: &mut Faults) -> Option<Wanted> {
    match ["degree_days", "anchor", "ratio"].map(|n| r.has(n)) {
        [true, false, false] => {
            r.number("degree_days", 0.1, 5_000.0, faults).map(|k| Wanted::Given(Need::DegreeDays(k)))
        }
        [false, true, false] => {
            let a = r.inner("anchor", faults)?;
            a.only(&["celsius", "days"], faults);
            let celsius = a.number("celsius", WATER.0, WATER.1, faults);
            let days = a.number("days", 0.01, 400.0, faults);
            Some(Wanted::Given(Need::Anchor { celsius: celsius?, days: days? }))
        }
        [false, false, true] => ratio(r, stage, faults),
        which => {
            let several = which.contains(&true);
            let value = if several { "(more than one of them)" } else { "(missing)" };
            let cure = "give either degree_days or anchor = { celsius = …, days = … } or ratio = { of = …, times = … } \
                        or a [[….series]]";
            faults.push(r.fault("degree_days", value, cure));
            None
        }
    }
}

fn ratio(r: &Reader<'_>, stage: Stage, faults: &mut Faults) -> Option<Wanted> {
    let q = r.inner("ratio", faults)?;
    q.only(&["of", "times"], faults);
    if r.has("after") {
        let value = r.table.get("after").map(ToString::to_string).unwrap_or_default();
        faults.push(r.fault("after", value, "a ratio is of whole times from fertilisation; leave it out"));
    }
    let times = q.number("times", 0.01, 20.0, faults);
    let word = q.text("of", faults)?;
    let of = word.parse::<Stage>().ok().filter(|s| *s != Stage::Egg && *s != stage);
    if of.is_none() {
        faults.push(q.fault("of", format!("{word:?}"), "name another stage of the entry, such as hatch"));
    }
    Some(Wanted::Ratio { of: of?, times: times? })
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

fn spread(r: &Reader<'_>, stage: Stage, beside: &mut Vec<Figure>, faults: &mut Faults) -> Spread {
    match (r.has("spread_percent"), r.has("spread")) {
        (true, true) => {
            faults.push(r.fault(
                "spread",
                "(both)",
                "give either spread_percent or spread = { percent = …, … }",
            ));
            Spread::USUAL
        }
        (true, false) => percent(r, "spread_percent", faults).unwrap_or(Spread::USUAL),
        (false, true) => {
            let name = format!("{stage}, spread");
            spread_table(r, "spread", &name, beside, faults).unwrap_or(Spread::USUAL)
        }
        (false, false) => Spread::USUAL,
    }
}
