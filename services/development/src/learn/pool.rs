//! Evidence of many clutches taken together.

use super::Evidence;
use super::matrix::Triangle;
use crate::doubt::FOUR_OF_FIVE;
use crate::rest::rest;
use crate::species::Species;
use crate::weigh::OWN_PACE;
use units::Stage;

/// Share of the variance of an entry that lies between rooms: strain, water, thermometer, and how wrong the entry is. A
/// planning value; in Atlantic salmon the variance of the time of hatching was about half between and half within
/// populations (Berg & Moen 1999, abstract).
pub const ROOM_SHARE: f64 = 0.5;

/// Share that lies between mothers of one room: a planning value without a source, a tenth of what is within rooms. It is
/// small so that a mother is told apart only when several of her clutches say so.
pub const MOTHER_SHARE: f64 = 0.05;

/// Share that is left between clutches of one mother: nothing that is learnt takes it away.
pub(super) const CLUTCH_SHARE: f64 = 1.0 - ROOM_SHARE - MOTHER_SHARE;

/// Beyond so many standard deviations from what is taken for its mother a clutch, with all its stages, pulls no harder than
/// at that distance: the usual constant of Huber's estimator, by which a single normal figure loses 5 % of what it
/// tells. A clutch of several stages meets it more often; that makes what is learnt a little more careful.
pub const WILD: f64 = 1.345;

/// Weights are settled when none moves by more than this share; they always do, since what they minimise has one lowest
/// point.
const SETTLED: f64 = 1e-12;
const ROUNDS: usize = 500;

/// Of whom a requirement is asked.
#[derive(Debug, Clone, Copy)]
pub(super) enum Whose<'a> {
    /// The mean over all mothers.
    Room,
    /// Clutches of this mother; `None`: of one never seen before.
    Mother(Option<&'a str>),
}

#[derive(Debug, Clone, PartialEq)]
struct Told {
    evidence: Evidence,
    /// Standard deviation that the entry gives the stage.
    sigma: f64,
}

/// What is known after all evidence.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pool {
    told: Vec<Told>,
    /// Root of the covariance of everything told.
    root: Triangle,
    /// What was told, divided by that covariance.
    pulls: Vec<f64>,
}

/// Standard deviation of ln(had / required) that an entry gives a stage; `None` where it gives none.
pub(super) fn sigma(entry: &Species, stage: Stage) -> Option<f64> {
    let (early, late) = rest(entry, None, stage.into())?.spread;
    Some(0.5 * (early + late) / FOUR_OF_FIVE).filter(|s| *s > 1e-6)
}

/// How far two stages go together.
fn alike(a: Stage, b: Stage) -> f64 {
    if a == b { 1.0 } else { OWN_PACE }
}

impl Pool {
    pub(super) fn of(entry: &Species, evidence: &[Evidence]) -> Self {
        let told = in_one_order(entry, evidence);
        let mut weights = vec![1.0; told.len()];
        for _ in 0..ROUNDS {
            let pool = Self::weighted(told.clone(), &weights);
            let next = pool.weights(&weights);
            let moved = weights.iter().zip(&next).any(|(a, b)| (a - b).abs() > SETTLED * a);
            weights = next;
            if !moved {
                break;
            }
        }
        Self::weighted(told, &weights)
    }

    /// A clutch of weight w is taken as one whose own deviation has 1/w of the variance.
    fn weighted(told: Vec<Told>, weights: &[f64]) -> Self {
        let covariance = |i: usize, j: usize| {
            let (a, b): (&Told, &Told) = (&told[i], &told[j]);
            a.lasting(b) + a.passing(b) / weights[i]
        };
        let root = Triangle::root(told.len(), covariance);
        let y: Vec<f64> = told.iter().map(|t| t.evidence.y).collect();
        let pulls = root.solve(&y);
        Self { told, root, pulls }
    }

    /// Weights by how far each clutch now lies off what is taken for its mother.
    fn weights(&self, now: &[f64]) -> Vec<f64> {
        let weight = |t: &Told, w: f64| {
            let own: Vec<usize> =
                (0..now.len()).filter(|i| self.told[*i].evidence.clutch == t.evidence.clutch).collect();
            // What is left of y over the lasting part is passing · pull / w, so this is its square in deviations.
            let pulled = |i: &usize, j: &usize| {
                self.pulls[*i] * self.pulls[*j] * self.told[*i].passing(&self.told[*j])
            };
            let square: f64 = own.iter().flat_map(|i| own.iter().map(move |j| pulled(i, j))).sum();
            let off = square.max(0.0).sqrt() / w;
            if off > WILD { WILD / off } else { 1.0 }
        };
        self.told.iter().zip(now).map(|(t, w)| weight(t, *w)).collect()
    }

    /// Mean and variance of what lasts of ln(had / required) for a stage, whose deviation in the entry is `sigma`.
    pub(super) fn known(&self, stage: Stage, sigma: f64, whose: Whose<'_>) -> (f64, f64) {
        let shared = |t: &Told| t.sigma * sigma * alike(t.evidence.stage, stage) * share(whose, &t.evidence);
        let with: Vec<f64> = self.told.iter().map(shared).collect();
        let before = match whose {
            Whose::Room => ROOM_SHARE,
            Whose::Mother(_) => ROOM_SHARE + MOTHER_SHARE,
        };
        let mean = with.iter().zip(&self.pulls).map(|(a, b)| a * b).sum();
        let told: f64 = self.root.forward(&with).iter().map(|a| a * a).sum();
        (mean, (before * sigma * sigma - told).max(0.0))
    }

    /// How many clutches told of a stage, and how many of them are this mother's.
    pub(super) fn clutches(&self, stage: Stage, mother: Option<&str>) -> (usize, usize) {
        let of_stage = || self.told.iter().filter(|t| t.evidence.stage == stage);
        let hers = |t: &&Told| mother.is_some() && t.evidence.mother.as_deref() == mother;
        (of_stage().count(), of_stage().filter(hers).count())
    }

    pub(super) fn is_empty(&self) -> bool {
        self.told.is_empty()
    }
}

fn share(whose: Whose<'_>, e: &Evidence) -> f64 {
    match whose {
        Whose::Mother(Some(mother)) if e.mother.as_deref() == Some(mother) => ROOM_SHARE + MOTHER_SHARE,
        _ => ROOM_SHARE,
    }
}

impl Told {
    /// Covariance by room and mother. A clutch whose mother nobody knows has one of its own.
    fn lasting(&self, other: &Self) -> f64 {
        let (a, b) = (&self.evidence, &other.evidence);
        let hers = a.clutch == b.clutch || (a.mother.is_some() && a.mother == b.mother);
        let share = if hers { ROOM_SHARE + MOTHER_SHARE } else { ROOM_SHARE };
        self.sigma * other.sigma * alike(a.stage, b.stage) * share
    }

    /// Covariance by the clutch itself and by errors of measurement.
    fn passing(&self, other: &Self) -> f64 {
        let (a, b) = (&self.evidence, &other.evidence);
        if a.clutch != b.clutch {
            return 0.0;
        }
        let errors = (a.variance * b.variance).sqrt();
        alike(a.stage, b.stage) * (CLUTCH_SHARE * self.sigma * other.sigma + errors)
    }
}

/// Sums come out the same to the last bit in whatever order evidence is given.
fn in_one_order(entry: &Species, evidence: &[Evidence]) -> Vec<Told> {
    let usable = |e: &&Evidence| e.y.is_finite() && e.variance.is_finite() && e.variance >= 0.0;
    let told = |e: &Evidence| Some(Told { evidence: e.clone(), sigma: sigma(entry, e.stage)? });
    let mut all: Vec<Told> = evidence.iter().filter(usable).filter_map(told).collect();
    all.sort_by(|a, b| {
        let (a, b) = (&a.evidence, &b.evidence);
        let named = (&a.clutch, a.stage, &a.mother).cmp(&(&b.clutch, b.stage, &b.mother));
        named.then(a.y.total_cmp(&b.y)).then(a.variance.total_cmp(&b.variance))
    });
    all.dedup_by(|b, a| (&a.evidence.clutch, a.evidence.stage) == (&b.evidence.clutch, b.evidence.stage));
    all
}
