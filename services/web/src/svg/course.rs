//! The past of one probe: in each column of the picture from the least to the greatest reading, and their mean as a line. No
//! reading is hidden, however narrow the picture.

use super::{Drawing, num};
use crate::view::PastReading;
use maud::Markup;
use std::fmt::Write as _;
use units::{Band, Time};

const WIDTH: f64 = 360.0;
const HEIGHT: f64 = 120.0;
/// Columns of the picture.
const COLUMNS: usize = 180;
/// Room for the figures at the left.
const LEFT: f64 = 34.0;

/// What was read in one column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Column {
    low: f64,
    high: f64,
    sum: f64,
    count: f64,
}

impl Column {
    fn mean(&self) -> f64 {
        self.sum / self.count
    }
}

/// What a picture needs of the past of a probe, which is far less than its readings.
#[derive(Debug, Clone)]
pub(crate) struct Past {
    columns: Vec<Option<Column>>,
    /// How many readings there were.
    pub count: usize,
    /// The newest of them.
    pub newest: f64,
}

impl Past {
    /// Of readings, oldest first.
    pub(crate) fn of(readings: &[PastReading], from: Time, to: Time) -> Self {
        let columns = columns(readings, from, to, COLUMNS);
        Self { columns, count: readings.len(), newest: readings.last().map_or(f64::NAN, |r| r.value) }
    }

    /// The least and the greatest of them; `None` where nothing was read.
    pub(crate) fn range(&self) -> Option<(f64, f64)> {
        let read = self.columns.iter().flatten().map(|c| (c.low, c.high));
        read.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }
}

/// Readings by columns of equal length; `None` where nothing was read.
pub(crate) fn columns(readings: &[PastReading], from: Time, to: Time, count: usize) -> Vec<Option<Column>> {
    let mut all: Vec<Option<Column>> = vec![None; count];
    let whole = (to - from).millis().max(1) as f64;
    for r in readings.iter().filter(|r| r.time >= from && r.time <= to && r.value.is_finite()) {
        let place = (r.time - from).millis() as f64 / whole * count as f64;
        let column = &mut all[(place as usize).min(count - 1)];
        let c = column.get_or_insert(Column { low: r.value, high: r.value, sum: 0.0, count: 0.0 });
        c.low = c.low.min(r.value);
        c.high = c.high.max(r.value);
        c.sum += r.value;
        c.count += 1.0;
    }
    all
}

/// The least and greatest of what is shown, the band among it, with a little room.
fn range(past: &Past, band: Option<Band>) -> Option<(f64, f64)> {
    let (low, high) = past.range()?;
    let (low, high) = band.map_or((low, high), |b| (low.min(b.low), high.max(b.high)));
    let room = ((high - low) * 0.08).max(0.05);
    Some((low - room, high + room))
}

/// The picture, or `None` where nothing was read. `ticks` are words at moments along the foot.
pub(crate) fn course(
    past: &Past,
    (from, to): (Time, Time),
    band: Option<Band>,
    ticks: &[(Time, String)],
    label: &str,
) -> Option<Markup> {
    let columns = &past.columns;
    let (low, high) = range(past, band)?;
    let y = |v: f64| 8.0 + (HEIGHT - 26.0) * (high - v) / (high - low);
    let x = |i: usize| LEFT + (WIDTH - LEFT) * (i as f64 + 0.5) / COLUMNS as f64;
    let mut d = Drawing::default();
    for edge in band.into_iter().flat_map(|b| [b.low, b.high]) {
        d.line("unread", (LEFT, y(edge)), (WIDTH, y(edge)));
        d.text("t", "end", LEFT - 4.0, y(edge) + 4.0, &format!("{edge:.1}"));
    }
    if band.is_none() {
        for edge in [low, high] {
            d.text("t", "end", LEFT - 4.0, y(edge) + 4.0, &format!("{edge:.1}"));
        }
    }
    for (t, words) in ticks {
        let at = LEFT + (WIDTH - LEFT) * ((*t - from).millis() as f64 / (to - from).millis().max(1) as f64);
        d.line("hair", (at, 8.0), (at, HEIGHT - 18.0));
        d.text("t", "middle", at.clamp(LEFT + 16.0, WIDTH - 18.0), HEIGHT - 4.0, words);
    }
    for run in runs(columns) {
        d.path("c1", &envelope(&run, &x, &y));
        d.path("edge", &means(&run, &x, &y));
    }
    Some(d.finish("wide", WIDTH, HEIGHT, Some(label)))
}

/// Columns that follow each other without a break. Readings rarer than columns leave one or two of them empty, which is no
/// break.
fn runs(columns: &[Option<Column>]) -> Vec<Vec<(usize, Column)>> {
    let mut runs: Vec<Vec<(usize, Column)>> = Vec::new();
    for (i, c) in columns.iter().enumerate().filter_map(|(i, c)| Some((i, (*c)?))) {
        match runs.last_mut().filter(|r| r.last().is_some_and(|(j, _)| i - j <= 3)) {
            Some(run) => run.push((i, c)),
            None => runs.push(vec![(i, c)]),
        }
    }
    runs
}

fn envelope(run: &[(usize, Column)], x: &dyn Fn(usize) -> f64, y: &dyn Fn(f64) -> f64) -> String {
    let above = run.iter().map(|(i, c)| (x(*i), y(c.high) - 0.4));
    let below = run.iter().rev().map(|(i, c)| (x(*i), y(c.low) + 0.4));
    outline(above.chain(below)) + "Z"
}

fn means(run: &[(usize, Column)], x: &dyn Fn(usize) -> f64, y: &dyn Fn(f64) -> f64) -> String {
    outline(run.iter().map(|(i, c)| (x(*i), y(c.mean()))))
}

fn outline(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut data = String::new();
    for (n, (x, y)) in points.enumerate() {
        let _ = write!(data, "{}{} {}", if n == 0 { "M" } else { "L" }, num(x), num(y));
    }
    data
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::Span;

    fn read(seconds: i64, value: f64) -> PastReading {
        PastReading { time: Time::from_millis(seconds * 1000), value, raw: value }
    }

    #[test]
    fn no_reading_is_hidden_and_means_are_of_all() {
        let all: Vec<PastReading> = (0..3600).map(|s| read(s, if s == 1777 { 31.0 } else { 26.0 })).collect();
        let columns = columns(&all, Time::from_millis(0), Time::from_millis(3_600_000), 36);
        let highest = columns.iter().flatten().map(|c| c.high).fold(0.0, f64::max);
        assert_eq!(highest, 31.0);
        let odd = columns[17].unwrap();
        assert!((odd.mean() - (26.0 + 5.0 / 100.0)).abs() < 1e-9, "{odd:?}");
        assert_eq!(columns.iter().flatten().map(|c| c.count).sum::<f64>(), 3600.0);
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let all: Vec<PastReading> =
            (0..3600).filter(|s| !(1000..2000).contains(s)).map(|s| read(s, 26.0)).collect();
        let columns = columns(&all, Time::from_millis(0), Time::from_millis(3_600_000), 180);
        assert_eq!(runs(&columns).len(), 2);
        let (from, to) = (Time::from_millis(0), Time::from_millis(0) + Span::hours(1));
        assert!(course(&Past::of(&all, from, to), (from, to), None, &[], "V1").is_some());
        assert!(course(&Past::of(&[], from, to), (from, to), None, &[], "V1").is_none());
    }
}
