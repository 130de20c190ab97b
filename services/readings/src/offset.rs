//! What a comparison with a reference thermometer tells of a probe: an offset from a day on. What the probe sent is
//! kept as it was; the offset is added whenever a reading is used.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use units::{ProbeKey, Quantity, Time};

/// The largest offset, K: a thermometer that is further off is broken. A planning value.
pub const MOST_OFF: f64 = 5.0;

/// How well a thermometer is known once it was compared, K (standard deviation), where nothing is said of the reference:
/// reading two scales side by side is no better. A planning value.
pub const COMPARED: f64 = 0.1;

/// A probe and a reference thermometer were read in the same water.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Comparison {
    /// The probe; it measures temperature.
    pub probe: ProbeKey,
    /// When.
    pub at: Time,
    /// Since when the probe is taken to have been so; from `at` on if not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub since: Option<Time>,
    /// What the probe itself read, °C, without any offset.
    pub read: f64,
    /// What the reference read, °C.
    pub reference: f64,
    /// Which reference, in the keeper's words.
    pub against: String,
    /// The reference's rated accuracy, ± K.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accuracy: Option<f64>,
}

/// A comparison that cannot be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ComparisonError {
    /// The field.
    pub field: &'static str,
    /// Its value, and what to write instead.
    pub reason: String,
}

impl fmt::Display for ComparisonError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.field, self.reason)
    }
}

impl std::error::Error for ComparisonError {}

impl Comparison {
    /// What is to be added to what the probe reads, K, to a thousandth.
    pub fn offset(&self) -> f64 {
        ((self.reference - self.read) * 1e3).round() / 1e3
    }

    /// When the offset begins to hold.
    pub fn holds_from(&self) -> Time {
        self.since.unwrap_or(self.at)
    }

    /// How well the probe is known from then on, K (standard deviation): half of the reference's rated accuracy, but
    /// not better than [`COMPARED`].
    pub fn doubt(&self) -> f64 {
        self.accuracy.map_or(COMPARED, |a| (a / 2.0).max(COMPARED))
    }

    /// Whether it can be.
    ///
    /// # Errors
    /// [`ComparisonError`] naming the field, its value and the cure.
    pub fn check(&self) -> Result<(), ComparisonError> {
        let fault = |field, reason: String| Err(ComparisonError { field, reason });
        if self.probe.quantity != Quantity::Temperature {
            return fault(
                "probe",
                format!("{} is no thermometer; name one such as V1/temperature", self.probe),
            );
        }
        for (field, celsius) in [("read", self.read), ("reference", self.reference)] {
            if !(-5.0..=60.0).contains(&celsius) {
                return fault(field, format!("{celsius} will not do; write °C from -5 to 60"));
            }
        }
        if self.offset().abs() > MOST_OFF {
            let off = self.offset().abs();
            return fault(
                "reference",
                format!("a probe that is {off:.1} K off is broken; read both again, or put in another probe"),
            );
        }
        if let Some(since) = self.since.filter(|s| *s > self.at) {
            return fault(
                "since",
                format!("{since} lies after the comparison, {}; write an earlier time", self.at),
            );
        }
        match self.accuracy {
            Some(a) if !(0.0..=2.0).contains(&a) => {
                fault("accuracy", format!("{a} will not do; write ± K from 0 to 2"))
            }
            _ if self.against.trim().is_empty() => {
                fault("against", "say which thermometer was the reference".to_owned())
            }
            _ => Ok(()),
        }
    }
}

/// An offset that holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offset {
    /// Since when.
    pub from: Time,
    /// What is added, K.
    pub by: f64,
    /// How well the probe is known by it, K (standard deviation).
    pub doubt: f64,
}

/// The offsets of all probes over time.
///
/// A comparison holds from its `since` until a later one's; one that was made later is believed more, also about the time
/// before.
///
/// ```
/// use readings::{Comparison, Offsets};
/// use units::{Span, Time};
/// let noon = Time::parse_rfc3339("2031-03-14T12:00:00Z").unwrap();
/// let probe: units::ProbeKey = "V1/temperature".parse().unwrap();
/// let compared = Comparison {
///     probe: probe.clone(), at: noon, since: None, read: 26.4, reference: 26.1,
///     against: "glass thermometer 3".to_owned(), accuracy: None,
/// };
/// compared.check().unwrap();
/// let offsets = Offsets::of([&compared]);
/// assert_eq!(offsets.corrected(&probe, noon + Span::hours(1), 27.0), 26.7);
/// assert_eq!(offsets.corrected(&probe, noon - Span::hours(1), 27.0), 27.0);
/// ```
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Offsets(BTreeMap<ProbeKey, Vec<Offset>>);

impl Offsets {
    /// What follows from comparisons; of two of one time the one given later stands.
    pub fn of<'a>(comparisons: impl IntoIterator<Item = &'a Comparison>) -> Self {
        let mut sorted: Vec<&Comparison> = comparisons.into_iter().collect();
        sorted.sort_by_key(|c| c.at);
        let mut all: BTreeMap<ProbeKey, Vec<Offset>> = BTreeMap::new();
        for c in sorted {
            let of_probe = all.entry(c.probe.clone()).or_default();
            of_probe.retain(|o| o.from < c.holds_from());
            of_probe.push(Offset { from: c.holds_from(), by: c.offset(), doubt: c.doubt() });
        }
        Self(all)
    }

    /// The offset of a probe that holds at a time.
    pub fn at(&self, probe: &ProbeKey, t: Time) -> Option<&Offset> {
        self.0.get(probe)?.iter().rev().find(|o| o.from <= t)
    }

    /// A reading as it is to be used.
    pub fn corrected(&self, probe: &ProbeKey, t: Time, raw: f64) -> f64 {
        // Sums of decimal figures carry dust in their last digits.
        self.at(probe, t).map_or(raw, |o| ((raw + o.by) * 1e6).round() / 1e6)
    }

    /// How well a probe is known from a time on, K (standard deviation), where it was compared for all of that time.
    pub fn doubt_since(&self, probe: &ProbeKey, from: Time) -> Option<f64> {
        let first = self.at(probe, from)?;
        let later = self.0.get(probe)?.iter().filter(|o| o.from >= first.from);
        later.map(|o| o.doubt).reduce(f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::Span;

    fn day(n: i64) -> Time {
        Time::from_millis(0) + Span::days(n)
    }

    fn compared(at: i64, since: Option<i64>, read: f64, reference: f64) -> Comparison {
        Comparison {
            probe: "V1/temperature".parse().unwrap(),
            at: day(at),
            since: since.map(day),
            read,
            reference,
            against: "glass thermometer 3".to_owned(),
            accuracy: None,
        }
    }

    fn by(offsets: &Offsets, n: i64) -> Option<f64> {
        offsets.at(&"V1/temperature".parse().unwrap(), day(n)).map(|o| o.by)
    }

    #[test]
    fn a_later_comparison_is_believed_from_its_since_on() {
        let all = [compared(20, Some(5), 26.4, 26.0), compared(10, None, 26.4, 26.1)];
        let offsets = Offsets::of(&all);
        assert_eq!([4, 5, 12, 30].map(|n| by(&offsets, n)), [None, Some(-0.4), Some(-0.4), Some(-0.4)]);
        let offsets = Offsets::of(&[all[1].clone(), compared(20, Some(15), 26.4, 26.0)]);
        assert_eq!([9, 10, 14, 15].map(|n| by(&offsets, n)), [None, Some(-0.3), Some(-0.3), Some(-0.4)]);
        let again = [compared(10, None, 26.4, 26.1), compared(10, None, 26.4, 26.9)];
        assert_eq!(by(&Offsets::of(&again), 11), Some(0.5), "the one given later");
    }

    #[test]
    fn a_probe_is_known_as_well_as_its_worst_reference() {
        let probe: ProbeKey = "V1/temperature".parse().unwrap();
        let coarse = Comparison { accuracy: Some(1.0), ..compared(10, None, 26.4, 26.1) };
        let fine = Comparison { accuracy: Some(0.05), ..compared(20, None, 26.4, 26.1) };
        let offsets = Offsets::of(&[coarse, fine]);
        assert_eq!(offsets.doubt_since(&probe, day(9)), None);
        assert_eq!(offsets.doubt_since(&probe, day(10)), Some(0.5));
        assert_eq!(offsets.doubt_since(&probe, day(25)), Some(COMPARED));
    }

    #[test]
    fn what_cannot_be_is_refused_by_its_field() {
        let good = compared(10, None, 26.4, 26.1);
        assert_eq!(good.check(), Ok(()));
        let field = |c: Comparison| c.check().unwrap_err().field;
        assert_eq!(field(Comparison { probe: "TU1/air-flow".parse().unwrap(), ..good.clone() }), "probe");
        assert_eq!(field(Comparison { reference: 20.0, ..good.clone() }), "reference");
        assert_eq!(field(Comparison { read: f64::NAN, ..good.clone() }), "read");
        assert_eq!(field(Comparison { since: Some(day(11)), ..good.clone() }), "since");
        assert_eq!(field(Comparison { accuracy: Some(-1.0), ..good.clone() }), "accuracy");
        assert_eq!(field(Comparison { against: " ".to_owned(), ..good }), "against");
    }
}
