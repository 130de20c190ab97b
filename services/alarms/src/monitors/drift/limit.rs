//! The limit of a drift chart from the nights between false pages.

use crate::statistics::run_length::{Design, limit_for};
use units::Span;

/// Weight of the newest half hour. A planning value: a memory of four half hours or so, which finds 1 K over 12 h after
/// some hours and does not see a door.
pub(super) const LAMBDA: f64 = 0.2;
/// Medians are taken over so long, the upper end of the 10 to 30 min that the project's notes on charts advise: it
/// holds most of a heater's cycle, and the fewer values follow each other less.
pub(super) const BUCKET: Span = Span::minutes(30);
/// How many of them a night with its day has.
pub(super) const A_DAY: usize = 48;

/// How far a smoothed departure may lie from nought, in its standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriftLimit(pub(super) f64);

impl DriftLimit {
    /// Nights between two false pages of one probe where nothing else is said. A planning value.
    pub const NIGHTS: f64 = 60.0;

    /// The limit for so many nights, each with its day, between two false pages; ask for n times as many if n probes
    /// are watched alike. Takes milliseconds: once for a room. `None` below about a tenth of a night or above two
    /// million.
    ///
    /// ```
    /// use alarms::monitors::DriftLimit;
    /// assert!(DriftLimit::nights(DriftLimit::NIGHTS).is_some() && DriftLimit::nights(0.0).is_none());
    /// ```
    pub fn nights(between_false: f64) -> Option<Self> {
        limit_for(between_false, A_DAY as f64, Design::Ewma { lambda: LAMBDA }).map(Self)
    }
}
