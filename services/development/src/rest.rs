//! What is left to do: from where counting begins to a stage.

use crate::species::{Form, Species};
use crate::weigh::{OWN_PACE, Rest};
use units::{Sign, Stage};

/// How far off a keeper's "half of the yolk" is, as a share of the way from hatch to free swimming: a planning value.
pub(crate) const YOLK_JUDGED: f64 = 0.1;

/// From `from` (`None`: fertilisation) to a sign; `None` where the entry does not say.
pub(crate) fn rest(species: &Species, from: Option<Sign>, to: Sign) -> Option<Rest> {
    let bases = species.base.all();
    let mut needs = [0.0; 3];
    for (need, t0) in needs.iter_mut().zip(bases) {
        let before = from.map_or(Some(0.0), |sign| whole(species, sign, t0))?;
        *need = (whole(species, to, t0)? - before).max(0.0);
    }
    let (pace, spread) = spread(species, from.map(Sign::reached), last_stage(to), needs[1].max(1e-9))?;
    let judged =
        if to == Sign::YolkHalfGone { YOLK_JUDGED * yolk_leg(species)? / needs[1].max(1e-9) } else { 0.0 };
    // A line with a range of base temperatures has the doubt of its law in that range.
    let by_base = species.law.form == Form::Line && species.base.low < species.base.high;
    let law = if by_base { 0.0 } else { species.law.doubt };
    Some(Rest { needs, pace, spread, law: law.hypot(judged) })
}

/// °C·d from fertilisation to a sign.
fn whole(species: &Species, sign: Sign, t0: f64) -> Option<f64> {
    match sign {
        Sign::Stage(stage) => species.required(stage, t0),
        Sign::YolkHalfGone => {
            let (hatch, swim) =
                (species.required(Stage::Hatch, t0)?, species.required(Stage::FreeSwimming, t0)?);
            Some(0.5 * (hatch + swim))
        }
    }
}

/// °C·d from hatch to free swimming.
pub(crate) fn yolk_leg(species: &Species) -> Option<f64> {
    let t0 = species.base.likely;
    Some(species.required(Stage::FreeSwimming, t0)? - species.required(Stage::Hatch, t0)?)
}

/// The stage whose requirement says how far a sign is spread.
fn last_stage(sign: Sign) -> Stage {
    sign.stage().unwrap_or(Stage::FreeSwimming)
}

/// How far the way to a stage is spread, in °C·d, four of five: what is the clutch's own pace, and the square of what
/// belongs to stages alone. Along legs the first adds up, the second adds in squares.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Spreads {
    pub(crate) pace: (f64, f64),
    pub(crate) alone: (f64, f64),
}

pub(crate) fn spreads(species: &Species, stage: Stage) -> Option<Spreads> {
    let r = species.requirement(stage)?;
    let before = match r.after.filter(|a| *a < stage) {
        Some(after) => spreads(species, after)?,
        None => Spreads::default(),
    };
    let leg = species.leg(r, species.base.likely);
    let (early, late) = (leg * r.spread.early / 100.0, leg * r.spread.late / 100.0);
    Some(Spreads {
        pace: (before.pace.0 + early, before.pace.1 + late),
        alone: (before.alone.0 + early * early, before.alone.1 + late * late),
    })
}

/// Shares of the way that are spread, before and after: by the clutch's own pace, and in all.
type Sides = (f64, f64);

/// From a stage that was seen on, its part of both is over; the stage alone keeps at least its share of the rest.
fn spread(species: &Species, from: Option<Stage>, to: Stage, rest: f64) -> Option<(Sides, Sides)> {
    let whole = spreads(species, to)?;
    let had = from.and_then(|s| spreads(species, s)).unwrap_or_default();
    let r = species.requirement(to)?;
    let side = |pace: f64, pace_had: f64, alone: f64, alone_had: f64, percent: f64| {
        let pace = OWN_PACE.sqrt() * (pace - pace_had).max(0.0) / rest;
        let least = if from.is_some() { (rest * percent / 100.0).powi(2) } else { 0.0 };
        let alone = (1.0 - OWN_PACE) * (alone - alone_had).max(least) / (rest * rest);
        (pace, (pace * pace + alone).sqrt())
    };
    let early = side(whole.pace.0, had.pace.0, whole.alone.0, had.alone.0, r.spread.early);
    let late = side(whole.pace.1, had.pace.1, whole.alone.1, had.alone.1, r.spread.late);
    Some(((early.0, late.0), (early.1, late.1)))
}
