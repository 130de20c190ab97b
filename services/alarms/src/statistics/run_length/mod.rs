//! Run lengths: how many readings a chart takes to its signal, and the limit that gives a wanted one.
//!
//! All in standard deviations of a reading, and for readings that are independent of each other and normal. Readings of the
//! same water minutes apart are not independent: a chart of k = 0.5, h = 5 that should be quiet for 465 of them is quiet
//! for about 97 if each is correlated with the one before by 0.3, and for about 33 by 0.9 (own Monte Carlo, in the tests).
//! Feed charts with readings so far apart, or with differences so made, that little correlation is left.
//!
//! The chart is a Markov chain on the places of a Gauss-Legendre rule: integral equations after Crowder 1987, Technometrics
//! 29:401-407, and Page 1954; the result agrees with R package spc 0.6.7 to about 0.01 % (in the tests).
//!
//! ```
//! use alarms::statistics::run_length::{Chart, Sides};
//! let chart = Chart::Cusum { k: 0.5, h: 5.0, head_start: 0.0, sides: Sides::Two };
//! assert_eq!(chart.average(0.0).unwrap().round(), 465.0); // in control
//! assert!((chart.average(1.0).unwrap() - 10.4).abs() < 0.05); // off by one standard deviation
//! ```

mod chain;
mod chart;
mod legendre;
mod limit;
mod normal;
mod solve;
mod zones;

pub use chart::{Chart, Sides};
pub use limit::{Design, limit_for, limit_for_run_length};
pub use zones::western_electric;
