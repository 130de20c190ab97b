//! Why a projected time moved, in words.

use std::fmt;
use units::{Sign, Span, Time};

/// Why a projected time moved.
#[derive(Debug, Clone, PartialEq)]
pub enum Cause {
    /// There was no projection before.
    First,
    /// The keeper saw how far it has come.
    Seen {
        /// What was seen.
        stage: Sign,
        /// When.
        at: Time,
    },
    /// The clutch was moved to other water.
    Moved {
        /// The vessel it is in now.
        to: String,
    },
    /// Day 0 was corrected.
    Day0,
    /// A sighting or another entry of the account was corrected.
    Corrected,
    /// The species entry was changed.
    Entry,
    /// Other clutches of the room have taught its entry.
    Learnt,
    /// A thermometer was compared with a reference.
    Offset {
        /// Its name.
        probe: String,
        /// What is added to it, K; `None`: a comparison was withdrawn.
        by: Option<f64>,
        /// Since when.
        from: Time,
    },
    /// Readings came late and filled gaps.
    LateReadings {
        /// How much of what had been gaps is read now; zero when they fell between other readings.
        filled: Span,
    },
    /// The set-point was changed.
    SetPoint {
        /// As it was, °C.
        before: Option<f64>,
        /// As it is, °C.
        after: Option<f64>,
    },
    /// The water was cooler or warmer than its usual for a time.
    Water {
        /// Beginning.
        from: Time,
        /// End.
        to: Time,
        /// Mean difference from its usual, K: negative is cooler.
        by: f64,
    },
    /// The water was cooler or warmer than the projection before had taken it to be.
    Expected {
        /// Beginning.
        from: Time,
        /// End.
        to: Time,
        /// Mean difference from what was expected, K: negative is cooler.
        by: f64,
    },
    /// The last day, which stands for the water to come, has become another.
    ToCome {
        /// Water to come as it was taken before, °C.
        before: f64,
        /// As it is taken now, °C.
        after: f64,
    },
}

impl Cause {
    /// The cause in words, its times written by `clock`: the page gives the room's own zone.
    ///
    /// ```
    /// use development::Cause;
    /// use units::Time;
    /// let at = |text| Time::parse_rfc3339(text).unwrap();
    /// let cause = Cause::Water { from: at("2031-03-14T02:10:00Z"), to: at("2031-03-14T06:40:00Z"), by: -2.31 };
    /// let words = cause.words(&|t| t.to_chrono().format("%H:%M").to_string());
    /// assert_eq!(words, "the water was 2.3 °C under its usual from 02:10 to 06:40");
    /// assert_eq!(cause.to_string(), "the water was 2.3 °C under its usual from 02:10 to 06:40 UTC");
    /// ```
    pub fn words(&self, clock: &dyn Fn(Time) -> String) -> String {
        match self {
            Cause::First => "first projection".to_owned(),
            Cause::Seen { stage: Sign::YolkHalfGone, at } => {
                format!("half of the yolk was seen gone at {}", clock(*at))
            }
            Cause::Seen { stage, at } => format!("{stage} was seen at {}", clock(*at)),
            Cause::Moved { to } => format!("moved to {to}"),
            Cause::Day0 => "day 0 corrected".to_owned(),
            Cause::Corrected => "an entry of the account was corrected".to_owned(),
            Cause::Learnt => "learnt from other clutches of this room".to_owned(),
            Cause::Entry => "the species entry was changed".to_owned(),
            Cause::Offset { probe, by: Some(by), from } => {
                format!("{probe} was compared: {by:+.1} °C from {}", clock(*from))
            }
            Cause::Offset { probe, by: None, from } => {
                format!("a comparison of {probe} was withdrawn, from {} on", clock(*from))
            }
            Cause::LateReadings { filled } if *filled > Span::ZERO => {
                format!("late readings filled {filled}")
            }
            Cause::LateReadings { .. } => "late readings came between the others".to_owned(),
            Cause::SetPoint { before, after } => set_point(*before, *after),
            Cause::Water { from, to, by } => {
                format!("the water was {} its usual from {} to {}", off(*by), clock(*from), clock(*to))
            }
            Cause::Expected { from, to, by } => {
                format!(
                    "the water was {} what was expected from {} to {}",
                    off(*by),
                    clock(*from),
                    clock(*to)
                )
            }
            Cause::ToCome { before, after } => {
                let taken = instead(*after, *before);
                format!("the water to come is taken at {taken}, the mean of its last day")
            }
        }
    }
}

/// A temperature in place of another, to a tenth; to a hundredth if they would read alike.
pub(crate) fn instead(is: f64, was: f64) -> String {
    let alike = format!("{is:.1}") == format!("{was:.1}");
    let digits = if alike { 2 } else { 1 };
    format!("{is:.digits$} °C instead of {was:.digits$}")
}

fn off(by: f64) -> String {
    format!("{:.1} °C {}", by.abs(), if by < 0.0 { "under" } else { "over" })
}

fn set_point(before: Option<f64>, after: Option<f64>) -> String {
    let said = |x: Option<f64>| x.map_or("the mean of the last day".to_owned(), |c| format!("{c:.1} °C"));
    format!("the water to come was set from {} to {}", said(before), said(after))
}

impl fmt::Display for Cause {
    /// In UTC; a time of day only, which is what the words of a night need.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words(&|t| t.to_chrono().format("%H:%M").to_string()))?;
        match self {
            Cause::Seen { .. } | Cause::Offset { .. } | Cause::Water { .. } | Cause::Expected { .. } => {
                f.write_str(" UTC")
            }
            _ => Ok(()),
        }
    }
}
