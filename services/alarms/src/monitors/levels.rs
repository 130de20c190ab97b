//! Plain limits of water: oxygen, ammonia, pH and level, and where they come from.

use super::High;
use crate::Settings;
use units::{Span, Stage};

/// Un-ionised part of total ammonia in fresh water, 0 to 1, from pH and °C: 1 / (1 + 10^(pKa − pH)), where pKa is
/// 0.09018 + 2729.92 / T, T in kelvin. Source: Emerson, Russo, Lund & Thurston 1975, J. Fish. Res. Board Can.
/// 32:2379-2383 (equation read in secondary sources). In hard water the truth is up to a tenth less, so it errs on the
/// safe side.
///
/// `None` outside 0 to 50 °C, where it was fitted, and outside pH 0 to 14; it was fitted for pH 6 to 10 (from memory,
/// unverified).
///
/// ```
/// use alarms::monitors::levels::un_ionised_part;
/// assert!((un_ionised_part(8.0, 24.0).unwrap() - 0.0502).abs() < 1e-4); // UF/IFAS FA16, worked example
/// assert_eq!(un_ionised_part(8.0, 85.0), None);
/// ```
pub fn un_ionised_part(ph: f64, celsius: f64) -> Option<f64> {
    let known = (0.0..=50.0).contains(&celsius) && (0.0..=14.0).contains(&ph);
    let pka = 0.09018 + 2729.92 / (celsius + 273.15);
    known.then(|| 1.0 / (1.0 + 10f64.powf(pka - ph)))
}

/// Un-ionised ammonia, mg/L as nitrogen, from total ammonia (mg/L as nitrogen), pH and °C. What is judged by [`ammonia`]. A
/// test that shows NH₃ or NH₄⁺ by mass must be turned into nitrogen before (NH₃ = 1.2159 N).
///
/// `None` as [`un_ionised_part`], and for a total that is negative or not finite.
pub fn un_ionised(total: f64, ph: f64, celsius: f64) -> Option<f64> {
    let part = un_ionised_part(ph, celsius)?;
    (total.is_finite() && total >= 0.0).then_some(total * part)
}

/// Least dissolved oxygen, mg/L: 5.0 up to first feeding, 4.0 after it and where no clutch is. 5.0 is the least of a
/// day for early life of warm water in the EPA's criteria of 1986 (from memory, unverified). Eggs in moving water have
/// hatched to 95.5 % at 3.0 (Pandit, Wagle & Ranjan 2017, abstract), so it is no line of death. 4.0 is a planning value
/// between that and the 3.0 of the same criteria for other life (from memory, unverified).
pub fn least_oxygen(stage: Option<Stage>) -> f64 {
    if stage.is_some_and(|stage| stage < Stage::Release) { 5.0 } else { 4.0 }
}

/// Oxygen low, for mg/L: after 2 min, over when 0.5 mg/L better for 5 min. Planning values. Calls again every 15 min:
/// the young need it within the hour.
pub fn oxygen(stage: Option<Stage>) -> Settings {
    let limit = least_oxygen(stage);
    let low = High { limit, deadband: 0.5, on: Span::minutes(2), off: Span::minutes(5) }.low();
    Settings { again_after: Some(Span::minutes(15)), ..low }
}

/// Most un-ionised ammonia, mg/L as nitrogen: 0.02 up to first feeding, 0.05 after it and where no clutch is. 0.05
/// harms gills (Francis-Floyd & Watson, UF/IFAS FA16, read); 0.02 is an aquaculture rule of thumb for "potentially
/// toxic" (read). No figure for eggs or yolk-sac young of mouthbrooders was found; in *Oreochromis niloticus* larvae
/// died at a seventh of what fingerlings stood (Karasu Benli & Köksal 2005, abstract). Below pH 6.8 the EPA's criterion
/// of 2013 is stricter than 0.02.
pub fn most_ammonia(stage: Option<Stage>) -> f64 {
    if stage.is_some_and(|stage| stage < Stage::Release) { 0.02 } else { 0.05 }
}

/// Ammonia high, for [`un_ionised`] in mg/L: after 2 min, so that a pH that comes a moment later is known; over at once when a
/// fifth under the limit. Planning values.
pub fn ammonia(stage: Option<Stage>) -> Settings {
    let limit = most_ammonia(stage);
    High { limit, deadband: limit / 5.0, on: Span::minutes(2), off: Span::ZERO }.settings()
}

/// The pH that fresh water may have where the keeper says nothing: 6.5 to 9.0, the EPA's criterion for fresh water
/// (from memory, unverified). Rift-lake fish are at its upper end, so the keeper's own figures are better.
pub const PH: (f64, f64) = (6.5, 9.0);

/// pH low: after 10 min, over when 0.1 better for 10 min. Planning values. `None` for a limit outside 0 to 14.
pub fn ph_low(limit: f64) -> Option<Settings> {
    ph(limit).map(High::low)
}

/// pH high, as [`ph_low`].
pub fn ph_high(limit: f64) -> Option<Settings> {
    ph(limit).map(High::settings)
}

fn ph(limit: f64) -> Option<High> {
    let delay = Span::minutes(10);
    (0.0..=14.0).contains(&limit).then_some(High { limit, deadband: 0.1, on: delay, off: delay })
}

/// Least level where the keeper says nothing, percent. A planning value: heaters and pumps fall dry from the top.
pub const LEAST_LEVEL: f64 = 80.0;

/// Water level low, percent: after 60 s, as for levels in ISA-18.2-2009 (from memory, unverified), over when 2 percent
/// better (EEMUA 191 as quoted by exida) for 60 s. `None` for a limit outside 0 to 100.
pub fn level_low(limit: f64) -> Option<Settings> {
    let delay = Span::seconds(60);
    let low = High { limit, deadband: 2.0, on: delay, off: delay };
    (0.0..=100.0).contains(&limit).then(|| low.low())
}
