//! What one kind of fish needs, and where each figure comes from.

use crate::fit::{CurveFit, ModelKind};
use crate::law::{LIKELY, Pace};
use crate::series::Series;
use units::{Band, Stage};

/// Temperature (°C) at which the straight line of development rate reaches zero, with what it could be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BaseTemperature {
    /// Lowest that is defensible, °C.
    pub low: f64,
    /// The one used for the likeliest time, °C.
    pub likely: f64,
    /// Highest that is defensible, °C.
    pub high: f64,
}

impl BaseTemperature {
    pub(crate) fn all(&self) -> [f64; 3] {
        [self.low, self.likely, self.high]
    }
}

/// How a requirement is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Need {
    /// Degree-days (°C·d) above the likely base temperature.
    DegreeDays(f64),
    /// So many days at one temperature; degree-days follow for every base temperature, K = days · (celsius − T0).
    Anchor {
        /// The one temperature, °C.
        celsius: f64,
        /// Days it took at that temperature.
        days: f64,
    },
}

/// How far a window reaches to either side of the requirement, in percent of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Percent before.
    pub early: f64,
    /// Percent after.
    pub late: f64,
}

impl Spread {
    /// Where an entry gives none: a window from 90 % to 112 % of the requirement, a planning value.
    ///
    /// Of 18 reported spreads of hatching the median half-range is about 7 % of incubation time and four of five are
    /// under about 11 %, so the window should hold about four clutches of five. Most of those are ranges over batches,
    /// narrower single clutches are rarer than late stragglers (zebrafish "48 to 72 h or later", comet goldfish
    /// −4 to +18 %): hence a little more room on the late side.
    pub const USUAL: Self = Self { early: 10.0, late: 12.0 };
    /// Within one clutch, where an entry does not say: a planning value. Reported within single clutches are ±20 %
    /// (zebrafish, Kimmel et al. 1995) and ±10 to 16 % (weatherfish, Drozd et al. 2009); most other reports, over whole
    /// batches, are near ±7 %.
    pub const WITHIN: Self = Self { early: 7.0, late: 10.0 };
}

/// What a stage needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Requirement {
    /// The stage reached.
    pub stage: Stage,
    /// The earlier stage from which it counts; `None`: from fertilisation.
    pub after: Option<Stage>,
    /// How much.
    pub need: Need,
    /// How uncertain.
    pub spread: Spread,
}

/// The law of development of an entry: how speed depends on temperature.
///
/// One law serves all stages of a species: in most animals the share of development that a stage takes is the same at
/// every temperature (rate isomorphy, Jarošík et al. 2002; zebrafish in Kimmel et al. 1995), and no fish of the table
/// has two stages that were each measured at enough temperatures to say otherwise.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Law {
    /// Its form.
    pub form: Form,
    /// Relative error (standard deviation of the logarithm of the days) of the law at a temperature it has not seen; 0
    /// for a line that is given by its base temperature, whose doubt is that of the base.
    pub doubt: f64,
    /// How it was chosen; `None` for a line that is given.
    pub choice: Option<Choice>,
}

/// The form of a law.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Form {
    /// A straight line from the base temperature of the entry.
    #[default]
    Line,
    /// ln days = ln a + b ln(T − c).
    Power {
        /// The power, below 0.
        b: f64,
        /// Temperature at which nothing develops, °C.
        c: f64,
    },
    /// A rising curve through published points.
    Curve(CurveFit),
}

/// How a law was chosen from observations.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The stage whose observations were used: the one with most temperatures.
    pub stage: Stage,
    /// How many observations at how many temperatures.
    pub observations: (usize, usize),
    /// The one chosen.
    pub chosen: ModelKind,
    /// Mean absolute error in percent on what each model has not seen; `None` where it could not be tried.
    pub percent: Vec<(ModelKind, Option<f64>)>,
}

/// One figure of an entry as people read it, with its source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// What it is: `base temperature`, `hatch` …
    pub name: String,
    /// Its value with unit, in words.
    pub value: String,
    /// Where it comes from.
    pub source: String,
    /// How it was got: read, read (secondary), abstract, memory, computed, observed, hobby page,
    /// common practice, planning value.
    pub how: String,
}

/// One entry of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Species {
    /// Its key in files and addresses: `oreochromis-niloticus`.
    pub key: String,
    /// Its name for people.
    pub name: String,
    /// Whether it broods its young in the mouth: lists show such entries first.
    pub mouthbrooder: bool,
    /// Base temperature T0, °C.
    pub base: BaseTemperature,
    /// What each stage needs, in order of life.
    pub requirements: Vec<Requirement>,
    /// Temperatures (°C) between which the figures were found; beyond it the line is extrapolated.
    pub calibrated: Option<Band>,
    /// Temperatures (°C) that eggs and young stand.
    pub tolerated: Option<Band>,
    /// Temperature (°C) above which warmer water develops nothing faster.
    pub cap: Option<f64>,
    /// Upper threshold (°C): above it development stands still.
    pub upper: Option<f64>,
    /// How speed depends on temperature.
    pub law: Law,
    /// First and last hatched of one clutch, in percent of the requirement before and after its half.
    pub within: Spread,
    /// Observations that it rests on or shows.
    pub series: Vec<Series>,
    /// Every figure with its source.
    pub figures: Vec<Figure>,
}

impl Species {
    /// The requirement of a stage, if the entry has one.
    pub fn requirement(&self, stage: Stage) -> Option<&Requirement> {
        self.requirements.iter().find(|r| r.stage == stage)
    }

    /// Degree-days (°C·d) above `t0` that a stage needs from fertilisation; `None` if the entry does not say.
    ///
    /// ```
    /// use development::SpeciesTable;
    /// use units::Stage;
    /// let table = SpeciesTable::shipped();
    /// let fish = table.get("generic-mouthbrooder").unwrap();
    /// // 7 days at 26 °C, whatever the base temperature.
    /// assert_eq!(fish.required(Stage::Hatch, 10.0), Some(112.0));
    /// assert_eq!(fish.required(Stage::Hatch, 18.0), Some(56.0));
    /// ```
    pub fn required(&self, stage: Stage, t0: f64) -> Option<f64> {
        self.total(stage, t0)
    }

    fn total(&self, stage: Stage, t0: f64) -> Option<f64> {
        let r = self.requirement(stage)?;
        // The table refuses a stage that counts from a later one, so this ends.
        match r.after.filter(|a| *a < stage) {
            Some(before) => Some(self.total(before, t0)? + self.leg(r, t0)),
            None => Some(self.leg(r, t0)),
        }
    }

    /// Degree-days counted from where the requirement counts.
    ///
    /// A number of degree-days belongs to the likely base temperature. For another one the days at the middle of the
    /// calibrated range are kept: there the line is best known, and all lines of the range cross.
    pub(crate) fn leg(&self, r: &Requirement, t0: f64) -> f64 {
        match (r.need, self.calibrated) {
            (Need::Anchor { celsius, days }, _) if self.law.form != Form::Line => {
                days * Pace::of(self).speed(celsius, celsius, LIKELY)
            }
            (Need::DegreeDays(k), _) if self.law.form != Form::Line => k,
            (Need::Anchor { celsius, days }, _) => days * (celsius - t0),
            (Need::DegreeDays(k), Some(band)) => {
                let middle = 0.5 * (band.low + band.high);
                k * (middle - t0) / (middle - self.base.likely)
            }
            (Need::DegreeDays(k), None) => k,
        }
    }
}
