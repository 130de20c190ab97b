//! The temperature that one clutch really had.

use crate::fill::{GAP_AFTER, LOOK_BACK};
use crate::law::{Pace, Sums};
use crate::species::Species;
use units::{Span, Time};

/// Sums are kept for blocks of this length of the clock. Blocks hang on time and not on counts of points, so a late
/// point touches its own neighbourhood, and the same points make the same blocks in whatever order they came.
const BLOCK: Span = Span::minutes(10);

/// How long after a point a gap can begin that it helps to fill: the look back, and one straight line into it.
const FILLS_FOR: Span = Span::from_millis(LOOK_BACK.millis() + GAP_AFTER.millis());

/// The points within one block of time; blocks without a point are not kept.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Block {
    /// Which block of time since 1970.
    number: i64,
    /// Index of its first point.
    first: usize,
    /// Sums from the first point of all to that one.
    before: Sums,
    /// Sums of the stretches that begin at its points.
    own: Sums,
}

fn number_of(t: Time) -> i64 {
    t.millis().div_euclid(BLOCK.millis())
}

/// What became of a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Inserted {
    /// Newer than all others: nothing in the past has changed.
    Appended,
    /// It fell between or before others: the past has changed from there on.
    Late,
    /// There was a point at that time already, or the value is not finite; nothing has changed.
    Repeat,
}

/// The temperature of one clutch over time, summed for its species.
///
/// Points are kept in order of time, and sums for every ten minutes of them, so a new point costs nothing much and a
/// late one only its own neighbourhood and one addition for each block after it. Sums are always added up from the
/// first point on: the order in which points came cannot be seen in them, not even in the last bit.
///
/// Between readings at most [`GAP_AFTER`](crate::GAP_AFTER) apart the water is taken as a straight line. A longer gap
/// is taken at the mean of the last hour before it, the time before the first reading at that reading.
///
/// ```
/// use development::{Course, Inserted, SpeciesTable};
/// use units::{Span, Time};
/// let table = SpeciesTable::shipped();
/// let spawned = Time::from_millis(0);
/// let mut course = Course::new(table.get("danio-rerio").unwrap(), spawned);
/// assert_eq!(course.insert(spawned, 28.0), Inserted::Appended);
/// assert_eq!(course.insert(spawned + Span::minutes(20), 29.0), Inserted::Appended);
/// assert_eq!(course.insert(spawned + Span::minutes(10), 28.5), Inserted::Late);
/// assert_eq!(course.insert(spawned + Span::minutes(10), 31.0), Inserted::Repeat);
/// assert_eq!(course.mean(spawned, spawned + Span::minutes(20)), Some(28.5));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    pub(crate) pace: Pace,
    from: Time,
    points: Vec<(Time, f64)>,
    blocks: Vec<Block>,
}

impl Course {
    /// An empty course of a clutch of this species that begins at `from`, as a rule the earliest day 0.
    pub fn new(species: &Species, from: Time) -> Self {
        Self { pace: Pace::of(species), from, points: Vec::new(), blocks: Vec::new() }
    }

    /// When the course begins.
    pub fn from(&self) -> Time {
        self.from
    }

    /// All points in order of time, °C.
    pub fn points(&self) -> &[(Time, f64)] {
        &self.points
    }

    /// The newest point, °C.
    pub fn last(&self) -> Option<(Time, f64)> {
        self.points.last().copied()
    }

    /// Adds one temperature (°C). At a time that has a point already the first one stands, as in the store.
    pub fn insert(&mut self, t: Time, celsius: f64) -> Inserted {
        if !celsius.is_finite() {
            return Inserted::Repeat;
        }
        if self.last().is_none_or(|(last, _)| last < t) {
            self.append(t, celsius);
            return Inserted::Appended;
        }
        match self.points.binary_search_by_key(&t, |p| p.0) {
            Ok(_) => Inserted::Repeat,
            Err(at) => {
                self.points.insert(at, (t, celsius));
                self.renew(at, t);
                Inserted::Late
            }
        }
    }

    /// Adds many temperatures (°C) in any order, as [`Course::insert`] would; cheapest for a course read from the store.
    pub fn extend(&mut self, points: impl IntoIterator<Item = (Time, f64)>) {
        let mut points: Vec<(Time, f64)> = points.into_iter().collect();
        points.sort_by_key(|p| p.0);
        for (t, celsius) in points {
            self.insert(t, celsius);
        }
    }

    fn append(&mut self, t: Time, celsius: f64) {
        let end = self.points.len();
        self.points.push((t, celsius));
        let stretch = end.checked_sub(1).map(|i| self.whole_stretch(i)).unwrap_or_default();
        let mut before = Sums::default();
        if let Some(last) = self.blocks.last_mut() {
            last.own = last.own.plus(&stretch);
            before = last.before.plus(&last.own);
        }
        let number = number_of(t);
        if self.blocks.last().is_none_or(|b| b.number < number) {
            self.blocks.push(Block { number, first: end, before, own: Sums::default() });
        }
    }

    /// Renews the blocks after a point was put in at index `at`.
    fn renew(&mut self, at: usize, t: Time) {
        let number = number_of(t);
        let here = self.blocks.partition_point(|b| b.number < number);
        if self.blocks.get(here).is_none_or(|b| b.number > number) {
            let sums = Sums::default();
            self.blocks.insert(here, Block { number, first: at, before: sums, own: sums });
        }
        self.blocks.iter_mut().skip(here + 1).for_each(|b| b.first += 1);
        // The stretch before the point belongs to the block before; and the point helps to fill gaps for a while.
        let from = here.saturating_sub(1);
        let until = number_of(t + FILLS_FOR);
        for b in from..self.blocks.len() {
            if self.blocks[b].number <= until {
                self.blocks[b].own = self.own_sums(b);
            }
            self.blocks[b].before = match b.checked_sub(1).map(|p| self.blocks[p]) {
                Some(previous) => previous.before.plus(&previous.own),
                None => Sums::default(),
            };
        }
    }

    fn own_sums(&self, b: usize) -> Sums {
        let end = self.blocks.get(b + 1).map_or(self.points.len(), |next| next.first);
        let first = self.blocks.get(b).map_or(end, |block| block.first);
        // The newest point begins no stretch yet.
        let end = end.min(self.points.len().saturating_sub(1));
        (first..end).fold(Sums::default(), |sums, i| sums.plus(&self.whole_stretch(i)))
    }

    /// Index of the newest point at or before `t`.
    pub(crate) fn index_at(&self, t: Time) -> Option<usize> {
        self.points.partition_point(|p| p.0 <= t).checked_sub(1)
    }

    /// Sums from the first point to point `i`.
    pub(crate) fn sums_to_point(&self, i: usize) -> Sums {
        let block = self.blocks.partition_point(|b| b.first <= i).checked_sub(1);
        let Some(block) = block.and_then(|b| self.blocks.get(b)) else { return Sums::default() };
        (block.first..i).fold(block.before, |sums, j| sums.plus(&self.whole_stretch(j)))
    }

    /// Sums from the first point to any time; negative before it, zero without points.
    pub(crate) fn sums_at(&self, t: Time) -> Sums {
        let Some(&(first, _)) = self.points.first() else { return Sums::default() };
        match self.index_at(t) {
            None => Sums::default().minus(&self.before_first(t, first)),
            Some(i) => self.sums_to_point(i).plus(&self.stretch(i, t)),
        }
    }

    /// Sums between two times.
    pub(crate) fn sums(&self, from: Time, to: Time) -> Sums {
        self.sums_at(to).minus(&self.sums_at(from))
    }

    fn whole_stretch(&self, i: usize) -> Sums {
        match self.points.get(i + 1) {
            Some(&(to, _)) => self.stretch(i, to),
            None => Sums::default(),
        }
    }

    /// Where a walk that looks for a sum of `enough` by `measure` begins: the first point of the last block that begins
    /// below it, and the sums up to there.
    pub(crate) fn block_before(&self, enough: f64, measure: impl Fn(&Sums) -> f64) -> (usize, Sums) {
        let block = self.blocks.partition_point(|b| measure(&b.before) < enough).saturating_sub(1);
        self.blocks.get(block).map_or((0, Sums::default()), |b| (b.first, b.before))
    }
}
