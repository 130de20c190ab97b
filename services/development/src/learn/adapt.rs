//! The entry for the next clutch.

use super::Learnt;
use super::pool::{CLUTCH_SHARE, Whose, sigma};
use crate::rest::{Spreads, rest, spreads};
use crate::species::{Figure, Need, Requirement, Species, Spread};
use crate::weigh::OWN_PACE;
use units::Stage;

/// A leg never shrinks to less than this share of itself, however much earlier the stage came than the one before it was
/// learnt to come: a planning value that only wild evidence meets.
const LEAST_LEG: f64 = 0.1;

/// What a stage should need from fertilisation.
struct Aim {
    /// °C·d above the likely base temperature.
    whole: f64,
    /// °C·d either side, four of five.
    spread: (f64, f64),
}

impl Learnt {
    /// The entry as it stands for the next clutch of this mother; `None`, or a mother never seen: of any in the room.
    ///
    /// Requirements are those of the entry times exp(mean of what was learnt). Each spread is as much narrower as the
    /// standard deviation of the next clutch is than σ of the entry: doubt of what was learnt and what clutches differ
    /// by, never less than √0.45 = 0.67 of it. Without evidence it is the entry as it was. What has been learnt of a
    /// stage that was seen stands among the figures.
    pub fn species(&self, mother: Option<&str>) -> Species {
        let mut next = self.entry.clone();
        if self.pool.is_empty() {
            return next;
        }
        for i in 0..next.requirements.len() {
            let was = next.requirements[i];
            if let Some(aim) = self.aim(was.stage, mother) {
                next.requirements[i] = self.adapted(&next, was, &aim);
            }
        }
        next.figures.extend(Stage::ALL.into_iter().filter_map(|s| self.as_figure(s, mother)));
        next
    }

    fn aim(&self, stage: Stage, mother: Option<&str>) -> Option<Aim> {
        let rest = rest(&self.entry, None, stage.into())?;
        let whole = self.entry.required(stage, self.entry.base.likely)?;
        let Some(sigma) = sigma(&self.entry, stage) else {
            return Some(Aim { whole, spread: (whole * rest.spread.0, whole * rest.spread.1) });
        };
        let (mean, variance) = self.pool.known(stage, sigma, Whose::Mother(mother));
        let whole = whole * mean.exp();
        let wide = whole * (variance / (sigma * sigma) + CLUTCH_SHARE).min(1.0).sqrt();
        Some(Aim { whole, spread: (wide * rest.spread.0, wide * rest.spread.1) })
    }

    /// A requirement by which the stage comes out as aimed at, the stages before it being adapted already.
    fn adapted(&self, next: &Species, was: Requirement, aim: &Aim) -> Requirement {
        let before = was.after.filter(|a| *a < was.stage);
        let had = before.and_then(|s| next.required(s, next.base.likely)).unwrap_or(0.0);
        let leg_was = self.entry.leg(&was, self.entry.base.likely);
        let leg = (aim.whole - had).max(LEAST_LEG * leg_was);
        let scale = if leg_was > 0.0 { leg / leg_was } else { 1.0 };
        let need = match was.need {
            Need::DegreeDays(k) => Need::DegreeDays(k * scale),
            Need::Anchor { celsius, days } => Need::Anchor { celsius, days: days * scale },
        };
        let Spreads { pace, alone } = before.and_then(|s| spreads(next, s)).unwrap_or_default();
        let percent = |aim: f64, pace: f64, alone: f64, was: f64| {
            (100.0 * leg_spread(aim, pace, alone) / leg).max(was * CLUTCH_SHARE.sqrt())
        };
        let spread = Spread {
            early: percent(aim.spread.0, pace.0, alone.0, was.spread.early),
            late: percent(aim.spread.1, pace.1, alone.1, was.spread.late),
        };
        Requirement { need, spread, ..was }
    }

    fn as_figure(&self, stage: Stage, mother: Option<&str>) -> Option<Figure> {
        let hers = self.pool.clutches(stage, mother).1;
        let whose = if hers > 0 { Whose::Mother(mother) } else { Whose::Room };
        let learnt = self.figure(stage, whose)?;
        let of_mother = if hers > 0 { format!(", {hers} of them of this mother") } else { String::new() };
        Some(Figure {
            name: format!("{stage}, learnt"),
            value: learnt.value(),
            source: format!("learnt from {} of this room{of_mother}", learnt.clutches_in_words()),
            how: "observed".to_owned(),
        })
    }
}

/// Spread of a leg (°C·d) by which the whole way comes out as spread as `aim`: pace adds up along legs, what is a stage's
/// own adds in squares. 0 where the way before is as spread already.
fn leg_spread(aim: f64, pace: f64, alone: f64) -> f64 {
    let before = OWN_PACE * pace * pace + (1.0 - OWN_PACE) * alone;
    let root = (OWN_PACE * pace).powi(2) + aim * aim - before;
    (root.max(0.0).sqrt() - OWN_PACE * pace).max(0.0)
}
