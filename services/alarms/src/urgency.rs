//! How urgent: priority and the planning time for a stage.

use crate::Condition;
use units::{Span, Stage};

/// How long after the air has stopped somebody should act, by stage. Planning values and not science: no published table says
/// how long mouthbrooder eggs live without moving water. Whoever runs the room can set their own.
///
/// ```
/// use alarms::Deadlines;
/// use units::{Span, Stage};
/// let usual = Deadlines::default();
/// assert_eq!(usual.act_within(Stage::Hatch, Some(27.0), None), Span::minutes(20));
/// assert_eq!(usual.act_within(Stage::Egg, Some(29.5), None), Span::hours(1));
/// assert_eq!(usual.act_within(Stage::FreeSwimming, Some(27.0), Some(8.0)), Span::hours(1));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deadlines {
    /// Eggs before eyes.
    pub egg: Span,
    /// Eyed eggs.
    pub eyed: Span,
    /// Hatching, and young with a yolk sac.
    pub hatch: Span,
    /// Young that swim.
    pub swimming: Span,
    /// Above this temperature, °C, young use oxygen so fast that the time is halved.
    pub hot: f64,
    /// With more swimming young than this in a litre the time is halved.
    pub crowded: f64,
}

impl Default for Deadlines {
    fn default() -> Self {
        Self {
            egg: Span::hours(2),
            eyed: Span::hours(1),
            hatch: Span::minutes(20),
            swimming: Span::hours(2),
            hot: 29.0,
            crowded: 5.0,
        }
    }
}

impl Deadlines {
    /// The time of one stage, in water of that temperature (°C) with so many young in a litre, where they are known. Both
    /// together halve it twice.
    pub fn act_within(&self, stage: Stage, celsius: Option<f64>, per_litre: Option<f64>) -> Span {
        let (usual, swims) = match stage {
            Stage::Egg => (self.egg, false),
            Stage::Eyed => (self.eyed, false),
            Stage::Hatch => (self.hatch, false),
            Stage::FreeSwimming | Stage::FirstFeeding | Stage::Release => (self.swimming, true),
        };
        let hot = celsius.is_some_and(|c| c > self.hot);
        let crowded = swims && per_litre.is_some_and(|n| n > self.crowded);
        Span::from_millis(usual.millis() >> (u8::from(hot) + u8::from(crowded)))
    }
}

/// 1 is the most urgent: air and power with hatched young on it. 2: air, power. 3: water that hurts now. 4: what is going to, and
/// the watcher's own troubles. 5: what only hides the rest.
pub fn priority(condition: Condition, stage: Option<Stage>) -> u8 {
    use Condition as C;
    match (condition, stage) {
        (C::AirStopped | C::PowerCut, Some(Stage::Hatch)) => 1,
        (C::AirStopped | C::PowerCut, _) => 2,
        (
            C::TooWarm | C::TooCold | C::OxygenLow | C::AmmoniaHigh | C::LevelLow | C::Leak | C::LineFault,
            _,
        ) => 3,
        (C::AirWeak | C::AirStrong | C::LeavingBand | C::ChangingFast | C::Acidity, _) => 4,
        (
            C::CannotStore
            | C::CannotDeliver
            | C::BrokerLost
            | C::FallingBehind
            | C::OtherSilent
            | C::ClockMoved
            | C::Drill,
            _,
        ) => 4,
        (C::Silent | C::Drifting | C::ConductivityChanged | C::Implausible, _) => 5,
    }
}
