//! Ammonia by what is known beside it: how much of it harms follows from pH and temperature.

use super::*;

/// A test or a pH that is older says nothing of now. A planning value.
const FRESH: Span = Span::hours(24);

/// What is known of a tank's ammonia.
pub(super) struct Ammonia {
    /// As it was tested, mg/L as nitrogen.
    pub(super) total: f64,
    /// Measured, or taken for the worst that it may be.
    pub(super) ph: (f64, bool),
    /// The same, °C.
    pub(super) celsius: (f64, bool),
    /// Of all of it, mg/L as nitrogen.
    pub(super) un_ionised: f64,
}

impl Room {
    /// `None` without a test of the last day.
    pub(super) fn ammonia_in(&self, vessel: &VesselId) -> Option<Ammonia> {
        let total = self.lately(vessel, Quantity::Ammonia)?;
        let setup = self.setup.vessel(vessel)?;
        let worst_ph = setup.ph_band.map_or(levels::PH.1, |band| band.high);
        let worst_celsius = setup.band.unwrap_or(crate::config::BAND).high;
        let known = |measured: Option<f64>, worst| measured.map_or((worst, false), |m| (m, true));
        let ph = known(self.lately(vessel, Quantity::Ph), worst_ph);
        let celsius = known(self.celsius(self.setup.water_of(vessel)), worst_celsius);
        let un_ionised = levels::un_ionised(total, ph.0, celsius.0)?;
        Some(Ammonia { total, ph, celsius, un_ionised })
    }

    fn lately(&self, vessel: &VesselId, quantity: Quantity) -> Option<f64> {
        let row = self.last.get(&ProbeKey::new(vessel.clone(), quantity))?;
        (row.fresh && self.moment - row.received <= FRESH).then_some(row.value)
    }

    pub(super) fn ammonia_words(&self, vessel: &VesselId, limit: f64) -> Option<String> {
        let a = self.ammonia_in(vessel)?;
        let said = |(_, measured): (f64, bool)| {
            if measured { "" } else { " (taken for the worst, none is measured)" }
        };
        Some(format!(
            "It has {:.3} mg/L of un-ionised ammonia, {limit:.2} mg/L is the limit: {:.2} mg/L in all (both as nitrogen), at pH {:.1}{} and {:.1} °C{}",
            a.un_ionised,
            a.total,
            a.ph.0,
            said(a.ph),
            a.celsius.0,
            said(a.celsius),
        ))
    }
}
