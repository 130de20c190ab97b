//! How fast they die: the planning assumptions of [`Deaths`] as a hazard.

use crate::scenario::{Deaths, Lives};
use units::{Span, Stage};

/// What a clutch suffers.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Around {
    pub(crate) celsius: f64,
    /// mg/L.
    pub(crate) oxygen: f64,
    /// How long the water has stood still.
    pub(crate) still: Span,
}

const LN_2: f64 = std::f64::consts::LN_2;

impl Deaths {
    pub(super) fn of(&self, stage: Stage) -> &Lives {
        match stage {
            Stage::Egg => &self.egg,
            Stage::Eyed => &self.eyed,
            Stage::Hatch => &self.wriggler,
            _ => &self.swimming,
        }
    }

    /// Hazard, an hour, and its main cause.
    pub(super) fn hazard(&self, stage: Stage, around: &Around) -> (f64, &'static str) {
        let lives = self.of(stage);
        let still = around.still > lives.still_for.span();
        let [cold, warm] = self.celsius;
        let causes = [
            (true, lives.dies_a_day / 24.0, "usual loss"),
            (still, LN_2 * 60.0 / lives.half_life_min, "still water"),
            (around.oxygen < self.oxygen_mg_l, LN_2 * 60.0 / self.oxygen_half_life_min, "no oxygen"),
            (around.celsius < cold, LN_2 / self.celsius_half_life_h, "too cold"),
            (around.celsius > warm, LN_2 / self.celsius_half_life_h, "too warm"),
        ];
        let holds = causes.into_iter().filter(|c| c.0);
        let sum = holds.clone().map(|c| c.1).sum();
        let worst =
            holds.fold((0.0, "usual loss"), |worst, c| if c.1 > worst.0 { (c.1, c.2) } else { worst });
        (sum, worst.1)
    }
}
