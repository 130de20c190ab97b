//! What is worked out from readings before it is judged: weak air, faults of a line, drift, and probes that cannot be
//! right.
//!
//! Each monitor takes in `(time, value)`, and once it can say something gives a small report: what a person needs as
//! fields, and a `number()` for [`crate::Panel::derived`] with the monitor's own `settings()`. A restart that reads
//! each monitor's `LOOKS_BACK` again, in order of time, finds the same: late readings take their place, and those too
//! old are left out.
//!
//! | question | item | number | a probe |
//! |---|---|---|---|
//! | does a tumbler's air grow weak | [`WeakAir`] | 1 at five spreads and a fifth below its usual | 23 kB |
//! | does it flow far more than usual, since a hose is off | [`WeakAir::rise`] | 1 at 35 % above it | none |
//! | which part of an air line has failed | [`Line`] | 1 for a fault | 5 kB |
//! | does water creep away from where it was at this hour | [`Drift`] | 1 at its own limit | 37 kB |
//! | does water change too fast | [`FastChange`] | K/h | 0.5 kB |
//! | does a probe repeat itself | [`Stuck`] | 1 at three times its longest run | 14 to 69 kB |
//! | do two probes of one water agree | [`Disagree`] | K | 1 kB |
//! | is much of what a device says refused | [`Refusals`] | share, 0 to 1 | 0.4 kB |
//! | oxygen, ammonia, pH, level | [`levels`] | mg/L, pH, percent | none |
//! | has conductivity changed | [`Usual`] | percent | 5 kB |

mod course;
mod disagree;
mod drift;
mod fast_change;
mod grid;
pub mod levels;
mod line_fault;
mod refusals;
mod stuck;
mod usual;
mod weak_air;

pub use disagree::{Apart, Disagree};
pub use drift::{Drift, DriftLimit, Drifted};
pub use fast_change::{Change, FastChange};
pub use grid::step_of;
pub use line_fault::{Flow, Level, Line, LineReport, LineRow, LineState, Look, ROWS, read_line};
pub use refusals::{Refusals, Refused};
pub use stuck::{Beside, Repeats, Stuck};
pub use usual::{Moved, Usual};
pub use weak_air::{Rise, Step, Weak, WeakAir};

use crate::{Settings, Side};
use units::Span;

/// Settings of what is raised at or above a limit.
#[derive(Debug, Clone, Copy)]
struct High {
    limit: f64,
    deadband: f64,
    on: Span,
    off: Span,
}

impl High {
    fn settings(self) -> Settings {
        let Self { limit, deadband, on, off } = self;
        Settings { side: Side::High, limit, deadband, on_delay: on, off_delay: off, ..Settings::told() }
    }

    /// The same for what is raised at or below it.
    fn low(self) -> Settings {
        Settings { side: Side::Low, ..self.settings() }
    }
}
