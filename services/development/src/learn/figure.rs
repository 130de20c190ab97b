//! What was learnt, for people.

use super::Learnt;
use super::pool::{Whose, sigma};
use std::fmt;
use units::Stage;

/// What the clutches of a room teach of one stage, as a sentence: "after 4 clutches your Astatotilapia burtoni swim free at
/// 171 ± 9 °C·d".
#[derive(Debug, Clone, PartialEq)]
pub struct LearntFigure {
    /// Name of the species entry, without what stands in brackets.
    pub species: String,
    /// The stage.
    pub stage: Stage,
    /// How many clutches were seen to reach it.
    pub clutches: usize,
    /// °C·d above the likely base temperature from fertilisation, the mean of the room.
    pub required: f64,
    /// How well that mean is known: one standard deviation, °C·d. How far single clutches lie around it is the spread of
    /// [`Learnt::species`].
    pub plus_minus: f64,
}

impl LearntFigure {
    /// "171 ± 9 °C·d"; with one decimal where the doubt is under 2.
    pub fn value(&self) -> String {
        let digits = usize::from(self.plus_minus < 2.0);
        format!("{:.digits$} ± {:.digits$} °C·d", self.required, self.plus_minus)
    }

    pub(super) fn clutches_in_words(&self) -> String {
        if self.clutches == 1 { "1 clutch".to_owned() } else { format!("{} clutches", self.clutches) }
    }
}

impl fmt::Display for LearntFigure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (clutches, value) = (self.clutches_in_words(), self.value());
        write!(f, "after {clutches} your {} {} at {value}", self.species, does(self.stage))
    }
}

fn does(stage: Stage) -> &'static str {
    match stage {
        Stage::Egg => "lay",
        Stage::Eyed => "show eyes",
        Stage::Hatch => "hatch",
        Stage::FreeSwimming => "swim free",
        Stage::FirstFeeding => "feed",
        Stage::Release => "are released",
    }
}

impl Learnt {
    /// What the room teaches of a stage; `None` while no clutch was seen to reach it.
    pub fn says(&self, stage: Stage) -> Option<LearntFigure> {
        self.figure(stage, Whose::Room)
    }

    pub(super) fn figure(&self, stage: Stage, whose: Whose<'_>) -> Option<LearntFigure> {
        let (clutches, _) = self.pool.clutches(stage, None);
        let (mean, variance) = self.pool.known(stage, sigma(&self.entry, stage)?, whose);
        let required = self.entry.required(stage, self.entry.base.likely)? * mean.exp();
        let name = self.entry.name.split(" (").next().unwrap_or_default();
        (clutches > 0).then(|| LearntFigure {
            species: name.to_owned(),
            stage,
            clutches,
            required,
            plus_minus: required * variance.sqrt(),
        })
    }
}
