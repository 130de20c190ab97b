//! Statistics that alarms on temperature and air can stand on: robust figures, charts, and how long a chart stays quiet.
//!
//! Pure and, where a value comes at a time, incremental. Nothing panics: what is empty or makes no sense gives `None`, and
//! a value that is not finite is left out, as if it had never come; each item says which.
//!
//! | question | item |
//! |---|---|
//! | where the middle is and how wide, outliers or not | [`median`], [`mad`], [`Hampel`], [`Moments`] |
//! | how fast it changes, outliers or not | [`theil_sen`], [`siegel`], [`RecentPoints`] |
//! | whether it has crept away from its target | [`Cusum`], [`Ewma`] |
//! | whether it has moved from where it was, without a target | [`PageHinkley`], [`Adwin`], [`change_points`] |
//! | whether it behaves oddly inside its limits | [`WesternElectric`], [`Nelson`] |
//! | how often a chart is wrong, how soon it sees a shift, and where its limit belongs | [`run_length`] |
//!
//! Limits set from the nights that may lie between two false pages:
//!
//! ```
//! use alarms::statistics::{Cusum, CusumSettings, Way, run_length::{Design, limit_for}};
//!
//! // A reading every half hour of a ten-hour night; one false page in 100 nights from this chart.
//! let k = 0.5;
//! let h = limit_for(100.0, 20.0, Design::Cusum { k }).unwrap();
//! assert!((h - 6.447).abs() < 0.001);
//!
//! // In units of the readings: 26 °C with a standard deviation of 0.1 K.
//! let sigma = 0.1;
//! let settings = CusumSettings { target: 26.0, k: k * sigma, h: h * sigma, head_start: 0.0 };
//! let mut chart = Cusum::new(settings).unwrap();
//! let creeping = (0..20).map(|i| 26.0 - 0.02 * f64::from(i));
//! let signal = creeping.map(|x| chart.push(x)).position(|p| p.is_some_and(|p| p.signal == Some(Way::Down)));
//! assert_eq!(signal, Some(11)); // 0.22 K off
//! ```

mod adwin;
mod change;
mod cusum;
mod ewma;
mod hampel;
mod moments;
mod nelson;
mod page_hinkley;
mod robust;
pub mod run_length;
mod slope;
mod western;
mod window;

pub use adwin::Adwin;
pub use change::{MOST_VALUES, change_points};
pub use cusum::{Cusum, CusumPoint, CusumSettings, decision_interval};
pub use ewma::{Ewma, EwmaPoint, EwmaSettings, Limits, half_width};
pub use hampel::{Hampel, HampelSettings, Judged};
pub use moments::Moments;
pub use nelson::Nelson;
pub use page_hinkley::{PageHinkley, PageHinkleySettings};
pub use robust::{CONSISTENT, Mad, mad, median};
pub use slope::{Line, MOST_POINTS, siegel, theil_sen};
pub use western::WesternElectric;
pub use window::RecentPoints;

use serde::{Deserialize, Serialize};

/// Which way something has gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Above its target.
    Up,
    /// Below it.
    Down,
}
