//! Laws of development from observations: so many days at such a temperature.
//!
//! Three models are fitted and tried on what each has not seen; the one that errs least is chosen. All of them give
//! days for a constant temperature; the rate at a temperature is one over the days.

mod curve;
mod interval;
mod line;
mod loo;
mod outliers;
mod power;

pub use curve::CurveFit;
pub use line::{LineErrors, LineFit};
pub use power::{PowerErrors, PowerFit};

use loo::Errors;
use power::Shape;
use serde::Serialize;

/// Days that a stage took at one temperature.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Observation {
    /// °C.
    pub celsius: f64,
    /// Days.
    pub days: f64,
    /// Standard deviation of the days, where it is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sd: Option<f64>,
}

/// A form of the law.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ModelKind {
    /// Rate in a straight line of temperature: days = K / (T − T0).
    Line,
    /// ln days = ln a + b ln(T − c).
    Power,
    /// A rising curve of the rate through the observations themselves.
    Curve,
}

/// One fitted model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fitted<P> {
    /// Its parameters.
    #[serde(flatten)]
    pub law: P,
    /// Mean absolute error in percent of the days, for each temperature predicted from the others; `None` where too few
    /// are left to tell.
    pub leave_one_out_percent: Option<f64>,
}

/// All models that the observations allow.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The one with the least error on what it has not seen; of two that are about equal the simpler.
    pub chosen: ModelKind,
    /// The straight line.
    pub line: Fitted<LineFit>,
    /// The power law; its power is sought from six temperatures up and is −2 with fewer. `None` where no such law falls as
    /// it gets warmer.
    pub power: Option<Fitted<PowerFit>>,
    /// The curve.
    pub curve: Fitted<CurveFit>,
    /// Observations that no model can make fit with the others; they were left out of all.
    pub left_out: Vec<Observation>,
    /// Lowest and highest temperature of what was used, °C.
    pub range: (f64, f64),
    errors: Errors,
}

/// Days at a temperature.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Prediction {
    /// °C.
    pub temperature_c: f64,
    /// Days, the likeliest; `None` where the model says that nothing develops.
    pub days: Option<f64>,
    /// Four of five new observations lie over this, and …
    pub low: Option<f64>,
    /// … under this.
    pub high: Option<f64>,
}

/// Why there is no fit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// A number that cannot be.
    #[error("observation {number}: {field} = {value}; {cure}")]
    Value {
        /// Which, counted from 1.
        number: usize,
        /// Its field.
        field: &'static str,
        /// The value.
        value: f64,
        /// What to write.
        cure: &'static str,
    },
    /// Too few temperatures.
    #[error(
        "{0} different temperatures are too few for a line and its error: two points lie on a line in any case, so give at least 3"
    )]
    TooFew(usize),
    /// The days do not fall as it gets warmer.
    #[error(
        "the days do not fall as it gets warmer, so there is no base temperature: check the columns (temperature_c first, then days) and leave out what lies above the best temperature"
    )]
    NotFalling,
}

/// Fewest different temperatures for a fit.
const FEWEST: usize = 3;
/// A model with more freedom must err less than this share of the simpler one's error to be chosen, and by at least so
/// many percent of the days: nobody cares for less.
const WORTH_IT: f64 = 0.95;
const WORTH_PERCENT: f64 = 0.1;

/// Fits all models.
///
/// # Errors
/// [`FitError`] with the number of the observation, or with what is missing.
///
/// ```
/// use development::fit::{ModelKind, Observation, fit};
/// let seen = |celsius, days| Observation { celsius, days, sd: None };
/// // An invented fish: 60 degree-days above 15 °C.
/// let found = fit(&[seen(20.0, 12.0), seen(25.0, 6.0), seen(30.0, 4.0)]).unwrap();
/// assert_eq!(found.chosen, ModelKind::Line);
/// assert!((found.line.law.t0 - 15.0).abs() < 1e-9 && (found.line.law.k - 60.0).abs() < 1e-9);
/// assert!((found.predict(ModelKind::Line, 27.0).unwrap().days.unwrap() - 5.0).abs() < 1e-9);
/// ```
pub fn fit(observations: &[Observation]) -> Result<Fit, FitError> {
    check(observations)?;
    let shape = Shape::of(observations);
    let (used, left_out) = outliers::sorted_out(observations, shape);
    let line = line::fit(&used).ok_or(FitError::NotFalling)?;
    let power = power::fit(&used, shape);
    let curve = curve::fit(&used).ok_or(FitError::NotFalling)?;
    let errors = Errors::of(&used, shape);
    let celsius = || used.iter().map(|o| o.celsius);
    let range = (celsius().fold(f64::INFINITY, f64::min), celsius().fold(f64::NEG_INFINITY, f64::max));
    Ok(Fit {
        chosen: choose(&errors, power.is_some()),
        line: Fitted { law: line, leave_one_out_percent: errors.percent(ModelKind::Line) },
        power: power.map(|law| Fitted { law, leave_one_out_percent: errors.percent(ModelKind::Power) }),
        curve: Fitted { law: curve, leave_one_out_percent: errors.percent(ModelKind::Curve) },
        left_out,
        range,
        errors,
    })
}

fn choose(errors: &Errors, has_power: bool) -> ModelKind {
    let mut best = (ModelKind::Line, errors.percent(ModelKind::Line).unwrap_or(f64::INFINITY));
    for kind in [ModelKind::Power, ModelKind::Curve] {
        let allowed = kind != ModelKind::Power || has_power;
        if let Some(error) =
            errors.percent(kind).filter(|e| allowed && *e < WORTH_IT * best.1 && *e < best.1 - WORTH_PERCENT)
        {
            best = (kind, error);
        }
    }
    best.0
}

fn check(observations: &[Observation]) -> Result<(), FitError> {
    for (i, o) in observations.iter().enumerate() {
        let wrong = |field, value, cure| FitError::Value { number: i + 1, field, value, cure };
        if !(-10.0..=60.0).contains(&o.celsius) {
            return Err(wrong("temperature_c", o.celsius, "write °C from -10 to 60"));
        }
        if !(o.days > 0.0 && o.days <= 2000.0) {
            return Err(wrong("days", o.days, "write days over 0 and up to 2000"));
        }
        if let Some(sd) = o.sd.filter(|sd| !(*sd > 0.0 && sd.is_finite())) {
            return Err(wrong("sd", sd, "write days over 0, or leave it empty"));
        }
    }
    let different = temperatures(observations).len();
    if different < FEWEST { Err(FitError::TooFew(different)) } else { Ok(()) }
}

/// The straight line alone, from two temperatures up, nothing left out; `None` when the days do not fall as it gets warmer.
///
/// ```
/// use development::fit::{Observation, straight_line};
/// // Nile tilapia, hatch to first feeding: 8 d at 24 °C and 4 d at 30 °C (Rana 1990, abstract).
/// let seen = [(24.0, 8.0), (30.0, 4.0)].map(|(celsius, days)| Observation { celsius, days, sd: None });
/// let line = straight_line(&seen).unwrap();
/// assert!((line.t0 - 18.0).abs() < 1e-9 && (line.k - 48.0).abs() < 1e-9);
/// ```
pub fn straight_line(observations: &[Observation]) -> Option<LineFit> {
    line::fit(observations)
}

/// The different temperatures in order, °C.
pub(crate) fn temperatures(observations: &[Observation]) -> Vec<f64> {
    let mut all: Vec<f64> = observations.iter().map(|o| o.celsius).collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

impl ModelKind {
    /// Every form, the simplest first.
    pub const ALL: [Self; 3] = [Self::Line, Self::Power, Self::Curve];

    /// Its name in files and answers.
    pub fn word(self) -> &'static str {
        match self {
            Self::Line => "line",
            Self::Power => "power",
            Self::Curve => "curve",
        }
    }
}

impl Fit {
    /// Days at a constant temperature by one of the models, with the range in which four of five new observations should
    /// lie. `None` where that model could not be fitted.
    ///
    /// The range follows from the errors on what the model has not seen; beyond the temperatures of the observations it
    /// widens by 4 % for each degree.
    pub fn predict(&self, kind: ModelKind, celsius: f64) -> Option<Prediction> {
        let days = match kind {
            ModelKind::Line => self.line.law.days(celsius),
            ModelKind::Power => self.power.as_ref()?.law.days(celsius),
            ModelKind::Curve => self.curve.law.days(celsius),
        };
        let width = interval::half_width(&self.errors, kind, celsius, self.range);
        let times = |sign: f64| days.zip(width).map(|(d, w)| d * (sign * w).exp());
        Some(Prediction { temperature_c: celsius, days, low: times(-1.0), high: times(1.0) })
    }

    /// Those of the observations that were used.
    pub fn kept(&self, observations: &[Observation]) -> Vec<Observation> {
        observations.iter().filter(|o| !self.left_out.contains(o)).copied().collect()
    }

    /// How far a model errs at a temperature that it has not seen: 1.4826 times the median of |ln(predicted / observed)|, each
    /// temperature predicted from the others; that is the standard deviation if the errors are normal, and no single bad
    /// one decides it. At least 0.02, as no probe is better. `None` where the model could not be tried.
    pub fn doubt(&self, kind: ModelKind) -> Option<f64> {
        self.errors.typical(kind).map(|d| d.max(interval::LEAST))
    }

    /// [`Fit::predict`] by the chosen model.
    pub fn predict_best(&self, celsius: f64) -> Prediction {
        let nothing = Prediction { temperature_c: celsius, days: None, low: None, high: None };
        self.predict(self.chosen, celsius).unwrap_or(nothing)
    }
}
