//! Sentences about what a projection rests on.

use crate::ahead::{Ahead, HORIZON};
use crate::fill::GAP_DOUBT;
use crate::project::Ask;
use units::{Band, Span, Stage};

/// Shorter excursions are not worth a sentence, days.
const WORTH_TELLING: f64 = 0.5 / 24.0;

pub(crate) fn held(stage: Stage) -> String {
    format!(
        "{stage}: at the water to come an end of the window lies more than {} days away; it is shown at that limit",
        HORIZON.as_days()
    )
}

pub(crate) fn about_water(ask: &Ask<'_>, ahead: &Ahead<'_>, unread: Span) -> Vec<String> {
    let mut words = past(ask, ahead);
    if unread > Span::ZERO {
        words.push(format!(
            "no reading for {unread} in all; those hours are filled and the window is wider by what ±{GAP_DOUBT} °C in \
             them could hide"
        ));
    }
    words.extend(to_come(ask, ahead.water));
    words
}

fn past(ask: &Ask<'_>, ahead: &Ahead<'_>) -> Vec<String> {
    let sums = ahead.so_far(ask.day0.middle());
    let mut words = Vec::new();
    let mut tell = |days: f64, what: String| {
        if days >= WORTH_TELLING {
            words.push(format!("the water was {what} for {:.1} h since day 0", days * 24.0));
        }
    };
    if let Some(band) = ask.species.calibrated {
        let known = format!("the calibrated range ({} to {} °C)", band.low, band.high);
        tell(sums.below(), format!("below {known}"));
        tell(sums.above(), format!("above {known}"));
    }
    let t0 = ask.species.base.likely;
    tell(sums.still(), format!("under the base temperature ({t0:.1} °C, development stands still)"));
    words
}

/// Beyond the band by more than the rounding of a mean.
fn outside(band: &Band, celsius: f64) -> bool {
    celsius < band.low - 0.01 || celsius > band.high + 0.01
}

fn to_come(ask: &Ask<'_>, water: f64) -> Vec<String> {
    let mut words = Vec::new();
    if water <= ask.species.base.likely {
        let t0 = ask.species.base.likely;
        words.push(format!(
            "the water to come ({water:.1} °C) is at or under the base temperature ({t0:.1} °C)"
        ));
    } else if let Some(band) = ask.species.calibrated.filter(|b| outside(b, water)) {
        words.push(format!(
            "the water to come ({water:.1} °C) lies outside the calibrated range ({} to {} °C); the window is wider",
            band.low, band.high
        ));
    }
    if let Some(band) = ask.species.tolerated.filter(|b| outside(b, water)) {
        words.push(format!(
            "the water to come ({water:.1} °C) lies outside what is tolerated ({} to {} °C)",
            band.low, band.high
        ));
    }
    words
}
