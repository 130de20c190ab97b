//! What the requirements of an entry stand on: base temperature, calibrated range and law.

use super::Faults;
use super::made::{Made, Said, by_fit, by_two};
use super::stage::WrittenStage;
use crate::fit::temperatures;
use crate::law::speed_at;
use crate::parse::Reader;
use crate::species::{BaseTemperature, Figure, Law};
use std::cmp::Reverse;
use units::{Band, Stage};

/// Base temperature, calibrated range and law of an entry.
#[derive(Clone)]
pub(super) struct Basis {
    pub(super) law: Law,
    pub(super) base: BaseTemperature,
    pub(super) calibrated: Option<Band>,
    /// The stage that the law was made from, and the days it takes at the middle of the calibrated range.
    pub(super) made: Option<(Stage, f64, f64)>,
    /// The base temperature as a figure, where it was worked out.
    pub(super) base_figure: Option<Figure>,
    /// Other figures that were worked out.
    pub(super) figures: Vec<Figure>,
}

impl Basis {
    /// Middle of the calibrated range, °C.
    pub(super) fn middle(&self) -> Option<f64> {
        self.calibrated.map(|b| 0.5 * (b.low + b.high))
    }

    /// Speed of development at a temperature in a unit of its own; 0 where nothing develops.
    pub(super) fn pace(&self, celsius: f64) -> f64 {
        speed_at(&self.law.form, self.base.likely, celsius)
    }
}

/// Finds it from what is given and from the stage whose observations have most temperatures.
pub(super) fn of(
    r: &Reader<'_>,
    stages: &[WrittenStage],
    base: Option<BaseTemperature>,
    calibrated: Option<Band>,
    faults: &mut Faults,
) -> Option<Basis> {
    if r.has("base") && base.is_none() {
        return None; // its fault has been told
    }
    let known = |s: &&WrittenStage| {
        let used = s.used();
        (temperatures(&used).len(), used.len(), Reverse(s.stage))
    };
    let richest = stages.iter().max_by_key(known);
    let used = richest.map(WrittenStage::used).unwrap_or_default();
    let made = match (richest, temperatures(&used).len()) {
        (Some(s), 2) => by_two(s, &used),
        (Some(s), 3..) => by_fit(s, &used),
        _ => return given(r, base, calibrated, faults),
    };
    let made = made.and_then(|m| m.finish(base, calibrated));
    made.map_err(|(field, value, cure)| faults.push(r.fault(&field, value, cure))).ok()
}

fn given(
    r: &Reader<'_>,
    base: Option<BaseTemperature>,
    calibrated: Option<Band>,
    faults: &mut Faults,
) -> Option<Basis> {
    if !r.has("base") {
        let cure =
            "add a table with low, likely, high (°C), source and how, or observations at two temperatures";
        faults.push(r.fault("base", "(missing)", cure));
    }
    let law = Law::default();
    Some(Basis { law, base: base?, calibrated, made: None, base_figure: None, figures: Vec::new() })
}

impl Made<'_> {
    fn finish(self, base: Option<BaseTemperature>, calibrated: Option<Band>) -> Result<Basis, Said> {
        let (low, high) = self.range;
        let mut figures = Vec::new();
        let calibrated = calibrated.or_else(|| {
            figures.push(Figure {
                name: "calibrated range".to_owned(),
                value: format!("{low} to {high} °C"),
                source: format!("coldest and warmest observation of {}", self.stage),
                how: "computed".to_owned(),
            });
            Band::new(low, high)
        });
        let (base, base_figure) = match base {
            Some(base) => (base, None),
            None => self.base().map(|(b, f)| (b, Some(f)))?,
        };
        let middle = calibrated.map_or(low, |b| 0.5 * (b.low + b.high));
        let Some(days) = (self.days)(middle) else {
            let cure = "by the law of the observations nothing develops there; correct the calibrated range";
            return Err(("calibrated".to_owned(), format!("{middle} °C"), cure.to_owned()));
        };
        figures.extend(self.figures);
        let made = Some((self.stage, middle, days));
        Ok(Basis { law: self.law, base, calibrated, made, base_figure, figures })
    }

    /// The base temperature of the line. It lies below the coldest observation, since there was development, and the range
    /// reaches at most half way up to that: a planning value.
    fn base(&self) -> Result<(BaseTemperature, Figure), Said> {
        let (likely, coldest) = (self.line.t0, self.range.0);
        if likely >= coldest {
            let cure = format!(
                "the line through the observations is zero above the coldest of them ({coldest} °C); give a base with \
                 low, likely and high"
            );
            return Err(("base".to_owned(), format!("{likely:.2} °C"), cure));
        }
        let (low, high) = self.bases.clone()?;
        let base = BaseTemperature { low, likely, high: high.min(0.5 * (likely + coldest)) };
        let figure = Figure {
            name: "base temperature".to_owned(),
            value: format!("{likely:.1} °C ({low:.1} to {:.1} °C)", base.high),
            source: self.why.clone(),
            how: "computed".to_owned(),
        };
        Ok((base, figure))
    }
}
