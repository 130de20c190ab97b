//! How urgent: priority and the planning time for a stage.

use crate::Condition;
use units::{Span, Stage};

/// Above this temperature young use oxygen so fast that the planning time is halved. A planning value.
const HOT: f64 = 29.0;

/// How long after the air has stopped somebody should act. A planning value for each stage and not science: no
/// published table says how long mouthbrooder eggs live without moving water.
///
/// ```
/// use alarms::act_within;
/// use units::{Span, Stage};
/// assert_eq!(act_within(Stage::Hatch, Some(27.0)), Span::minutes(20));
/// assert_eq!(act_within(Stage::Egg, Some(29.5)), Span::hours(1));
/// ```
pub fn act_within(stage: Stage, celsius: Option<f64>) -> Span {
    let usual = match stage {
        Stage::Egg => Span::hours(2),
        Stage::Eyed => Span::hours(1),
        Stage::Hatch => Span::minutes(20),
        Stage::FreeSwimming | Stage::FirstFeeding | Stage::Release => Span::hours(2),
    };
    if celsius.is_some_and(|c| c > HOT) { Span::from_millis(usual.millis() / 2) } else { usual }
}

/// 1 is the most urgent. Air comes first, hatched young before eggs; then water; then what only hides the rest.
pub fn priority(condition: Condition, stage: Option<Stage>) -> u8 {
    match (condition, stage) {
        (Condition::AirStopped, Some(Stage::Hatch)) => 1,
        (Condition::AirStopped, _) => 2,
        (Condition::TooWarm | Condition::TooCold, _) => 3,
        (Condition::LeavingBand | Condition::CannotStore | Condition::BrokerLost, _) => 4,
        (Condition::ClockMoved, _) => 4,
        (Condition::Silent, _) => 5,
    }
}
