//! What a clutch may be, weighed by what was seen of it, and the chance that a stage is reached by a time.
//!
//! A stage is reached when the degree-days H since counting began are R (1 + e), R being what the stage needs from
//! there. The deviation e has the spread of the species to either side; one half of its variance is the pace of this
//! clutch, the same in all its stages, and the other half belongs to the stage alone. Errors of the water and of the law widen
//! e. When counting began and the pace are laid out on a grid, and every sighting multiplies the weights of its
//! points by how likely it makes them.

use crate::ahead::{Ahead, HORIZON};
use crate::doubt::{Doubts, FOUR_OF_FIVE};
use crate::law::{HIGH, LIKELY, LOW, Sums};
use units::{Seen, Span, Time};

/// Share of the variance of a stage that is the clutch's own pace. A planning value; in Atlantic salmon the variance of
/// the time of hatching was about half between and half within populations (Berg & Moen 1999, abstract).
pub(crate) const OWN_PACE: f64 = 0.5;

/// How likely a sighting is to be a slip of the pen that tells nothing: a planning value. It keeps an impossible time from
/// being taken for an impossible pace.
const SLIP: f64 = 0.002;

/// Points of the grid of paces, in standard deviations.
const PACES: i32 = 12;
const PACE_STEP: f64 = 0.3;

/// What a stage needs from where counting begins.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rest {
    /// °C·d by each base temperature.
    pub(crate) needs: [f64; 3],
    /// What of the spread is the clutch's own pace, as shares of the need, four of five: before, after.
    pub(crate) pace: (f64, f64),
    /// The whole spread.
    pub(crate) spread: (f64, f64),
    /// Relative error of the law.
    pub(crate) law: f64,
}

/// A start of counting with weights by pace.
#[derive(Debug, Clone)]
struct Start {
    at: Time,
    sums: Sums,
    ahead_days: f64,
    /// (pace, weight).
    paces: Vec<(f64, f64)>,
}

/// Everything a clutch may be.
#[derive(Debug, Clone)]
pub(crate) struct Weighed<'a> {
    ahead: &'a Ahead<'a>,
    doubts: Doubts,
    /// Whether the pace is laid out on a grid: not while nothing was seen.
    by_pace: bool,
    starts: Vec<Start>,
}

impl std::fmt::Debug for Ahead<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Ahead({} °C)", self.water)
    }
}

/// How far a deviation lies out, and how wide that side is.
struct Out {
    x: f64,
    /// Standard deviation of the own pace, and of everything.
    pace: f64,
    all: f64,
}

impl<'a> Weighed<'a> {
    /// Day 0 evenly over its interval; with `paces` the pace is laid out too, for sightings to tell.
    pub(crate) fn new(ahead: &'a Ahead<'a>, doubts: Doubts, day0: &units::Day0, paces: bool) -> Self {
        let starts = evenly(day0.earliest, day0.latest, 6).into_iter().map(|at| {
            let all = if paces { normal_grid() } else { vec![(0.0, 1.0)] };
            start(ahead, at, all)
        });
        let starts = starts.collect();
        Self { ahead, doubts, by_pace: paces, starts }
    }

    fn out(&self, s: &Start, upto: &(Sums, f64), rest: &Rest) -> Out {
        let sums = upto.0.minus(&s.sums);
        let need = rest.needs[LIKELY].max(1e-9);
        let x = sums.degree_days(LIKELY) / need - 1.0;
        let bases = [LOW, HIGH].map(|k| sums.degree_days(k) / rest.needs[k].max(1e-9) - 1.0 - x);
        // On the early side counts what says that more had been had, on the late side what says less.
        let (pace, side, law, water) = if x < 0.0 {
            (rest.pace.0, rest.spread.0, bases[0].max(bases[1]).max(0.0), sums.sooner() / need)
        } else {
            (rest.pace.1, rest.spread.1, (-bases[0]).max(-bases[1]).max(0.0), sums.later() / need)
        };
        let per_degree = sums.per_degree() / need;
        let days = (upto.1 - s.ahead_days).max(0.0);
        let day = self.ahead.day().per_degree() / need;
        let four_of_five = [side, law, water, sums.hidden().sqrt() / need].map(|d| d / FOUR_OF_FIVE);
        let deviations = [rest.law, per_degree * self.doubts.probe, day * days * self.doubts.to_come];
        let all = four_of_five.iter().chain(&deviations).map(|d| d * d).sum::<f64>().sqrt();
        let pace = if self.by_pace { pace / FOUR_OF_FIVE } else { 0.0 };
        Out { x, pace, all: all.max(1e-9) }
    }

    /// Where a pace puts the deviation, and how wide it leaves it.
    fn given(out: &Out, pace: f64) -> (f64, f64) {
        (out.pace * pace, (out.all * out.all - out.pace * out.pace).max(1e-18).sqrt())
    }

    /// Chance that a stage has been reached by a time.
    pub(crate) fn reached(&self, rest: &Rest, t: Time) -> f64 {
        let upto = self.ahead.upto(t);
        let (mut sum, mut all) = (0.0, 0.0);
        for s in &self.starts {
            let out = (t > s.at).then(|| self.out(s, &upto, rest));
            for (pace, weight) in &s.paces {
                all += weight;
                if let Some(out) = &out {
                    let (middle, width) = Self::given(out, *pace);
                    sum += weight * normal((out.x - middle) / width);
                }
            }
        }
        if all > 0.0 { sum / all } else { 0.0 }
    }

    /// Weighs by everything that was seen, each counted from fertilisation.
    pub(crate) fn narrow(&mut self, seen: impl Iterator<Item = (Rest, Seen)>) {
        for (rest, seen) in seen {
            match seen {
                Seen::At(t) => self.saw_at(&rest, t),
                Seen::Between(a, b) => self.saw_between(&rest, Some(a), b),
                Seen::By(t) => self.saw_between(&rest, None, t),
            }
        }
    }

    /// Weighs by a stage that was reached at a time.
    fn saw_at(&mut self, rest: &Rest, t: Time) {
        let upto = self.ahead.upto(t);
        self.weigh(|w, s, pace| {
            let out = w.out(s, &upto, rest);
            let (middle, width) = Self::given(&out, pace);
            SLIP + density((out.x - middle) / width) / width
        });
    }

    /// Weighs by a stage that had been reached by `to` and not by `from`.
    fn saw_between(&mut self, rest: &Rest, from: Option<Time>, to: Time) {
        let ends = from.map(|t| (t, self.ahead.upto(t)));
        let upto = self.ahead.upto(to);
        self.weigh(|w, s, pace| {
            let chance = |t: Time, upto: &(Sums, f64)| {
                if t <= s.at {
                    return 0.0;
                }
                let out = w.out(s, upto, rest);
                let (middle, width) = Self::given(&out, pace);
                normal((out.x - middle) / width)
            };
            SLIP + (chance(to, &upto) - ends.as_ref().map_or(0.0, |(t, u)| chance(*t, u))).max(0.0)
        });
    }

    /// Multiplies every weight; weights that would all vanish stay as they were: what cannot be tells nothing.
    fn weigh(&mut self, likely: impl Fn(&Self, &Start, f64) -> f64) {
        let mut starts = self.starts.clone();
        for s in &mut starts {
            let unchanged = s.clone();
            s.paces.iter_mut().for_each(|(pace, weight)| *weight *= likely(self, &unchanged, *pace));
        }
        let all: f64 = starts.iter().flat_map(|s| &s.paces).map(|p| p.1).sum();
        if all > 0.0 && all.is_finite() {
            starts.iter_mut().flat_map(|s| &mut s.paces).for_each(|p| p.1 /= all);
            self.starts = starts;
        }
    }

    /// ln(had / need) of a stage that came at a time between two, evenly, and its variance by where counting began, that
    /// time and what widens e; `None` where it cannot have come by then.
    pub(crate) fn measured(&self, rest: &Rest, from: Time, to: Time) -> Option<(f64, f64)> {
        let times = evenly(from, to, 2);
        let at = |t: &Time| {
            let upto = self.ahead.upto(*t);
            self.starts.iter().map(move |s| self.out(s, &upto, rest)).collect::<Vec<Out>>()
        };
        let told = |out: Out| (out.x > -1.0).then(|| (out.x.ln_1p(), out.all / (1.0 + out.x)));
        let all: Vec<(f64, f64)> = times.iter().flat_map(at).filter_map(told).collect();
        let mean = |of: &dyn Fn(&(f64, f64)) -> f64| all.iter().map(of).sum::<f64>() / all.len() as f64;
        let y = mean(&|a| a.0);
        (!all.is_empty()).then(|| (y, mean(&|a| (a.0 - y).powi(2) + a.1 * a.1)))
    }

    /// Counting begins anew, at times with weights; the paces stay as they were weighed.
    pub(crate) fn begin_at(&mut self, times: &[(Time, f64)]) {
        let paces = self.paces();
        let scaled = |by: f64| paces.iter().map(|(p, w)| (*p, w * by)).collect();
        self.starts = times.iter().map(|(t, w)| start(self.ahead, *t, scaled(*w))).collect();
    }

    /// Times between two looks with the chance that a stage came then.
    pub(crate) fn when(&self, rest: &Rest, from: Time, to: Time) -> Vec<(Time, f64)> {
        let middles = evenly(from, to, 2);
        let step = Span::from_millis((to - from).millis() / middles.len().max(1) as i64);
        let half = Span::from_millis(step.millis() / 2);
        let chance = |t: Time| self.reached(rest, t + half) - self.reached(rest, t - half);
        let all: Vec<(Time, f64)> = middles.iter().map(|t| (*t, chance(*t).max(0.0))).collect();
        let sum: f64 = all.iter().map(|a| a.1).sum();
        if sum > 0.0 {
            return all.into_iter().map(|(t, w)| (t, w / sum)).collect();
        }
        let n = all.len().max(1) as f64;
        all.into_iter().map(|(t, _)| (t, 1.0 / n)).collect()
    }

    fn paces(&self) -> Vec<(f64, f64)> {
        let mut paces: Vec<(f64, f64)> = self.starts.first().map(|s| s.paces.clone()).unwrap_or_default();
        paces.iter_mut().for_each(|p| p.1 = 0.0);
        for s in &self.starts {
            paces.iter_mut().zip(&s.paces).for_each(|(p, q)| p.1 += q.1);
        }
        paces
    }

    /// Whether anything was seen that tells of the pace.
    pub(crate) fn tells(&self) -> bool {
        self.by_pace
    }

    /// When counting began, in the middle.
    pub(crate) fn start(&self) -> Time {
        let weight = |s: &Start| s.paces.iter().map(|p| p.1).sum::<f64>();
        let Some(first) = self.starts.first().map(|s| s.at) else { return Time::from_millis(0) };
        let all: f64 = self.starts.iter().map(weight).sum();
        let after = |s: &Start| (s.at - first).millis() as f64 * weight(s);
        let mean = self.starts.iter().map(after).sum::<f64>() / all.max(1e-300);
        first + Span::from_millis(mean.round() as i64)
    }

    /// First and last time at which counting may have begun that hold four of five.
    pub(crate) fn start_window(&self) -> Option<(Time, Time)> {
        let weight = |s: &Start| s.paces.iter().map(|p| p.1).sum::<f64>();
        let all: f64 = self.starts.iter().map(weight).sum();
        let at = |share: f64| {
            let mut had = 0.0;
            self.starts.iter().find(|s| {
                had += weight(s);
                had >= share * all
            })
        };
        Some((at(0.1)?.at, at(0.9)?.at))
    }

    /// The time by which the chance is `share`; `None` beyond the horizon. `guess` is where to begin looking.
    pub(crate) fn quantile(&self, rest: &Rest, share: f64, guess: Time) -> Option<Time> {
        let first = self.starts.iter().map(|s| s.at).min()?;
        let last = first + HORIZON;
        let over = |t: Time| self.reached(rest, t) - share;
        let (mut low, mut high) = (guess.max(first), guess.max(first));
        let mut step = Span::hours(2);
        while low > first && over(low) >= 0.0 {
            (high, low) = (low, (low - step).max(first));
            step = step + step;
        }
        let mut step = Span::hours(2);
        while over(high) < 0.0 {
            if high >= last {
                return None;
            }
            (low, high) = (high, (high + step).min(last));
            step = step + step;
        }
        Some(root(low, high, over))
    }
}

/// The millisecond at which a rising function reaches 0 between two times: false position, halved where that is slow
/// (the Illinois way).
fn root(low: Time, high: Time, f: impl Fn(Time) -> f64) -> Time {
    let (mut a, mut b) = (low.millis(), high.millis());
    let (mut fa, mut fb) = (f(low), f(high));
    let (mut side, mut rounds) = (0, 0);
    while b - a > 1 {
        rounds += 1;
        let share = if fb > fa && rounds < 60 { (-fa / (fb - fa)).clamp(0.0, 1.0) } else { 0.5 };
        let middle = (a + ((b - a) as f64 * share).round() as i64).clamp(a + 1, b - 1);
        let fm = f(Time::from_millis(middle));
        if fm >= 0.0 {
            (b, fb) = (middle, fm);
            fa = if side == 1 { 0.5 * fa } else { fa };
            side = 1;
        } else {
            (a, fa) = (middle, fm);
            fb = if side == -1 { 0.5 * fb } else { fb };
            side = -1;
        }
    }
    Time::from_millis(b)
}

fn start(ahead: &Ahead<'_>, at: Time, paces: Vec<(f64, f64)>) -> Start {
    let (sums, ahead_days) = ahead.upto(at);
    Start { at, sums, ahead_days, paces }
}

/// Middles of equal parts, one for every so many hours, at least 5 and at most 60 of them; one where there is no width.
fn evenly(from: Time, to: Time, hours: i64) -> Vec<Time> {
    let width = (to - from).millis();
    if width <= 0 {
        return vec![from];
    }
    let n = (width / Span::hours(hours).millis()).clamp(5, 60);
    (0..n).map(|i| from + Span::from_millis(width * (2 * i + 1) / (2 * n))).collect()
}

fn normal_grid() -> Vec<(f64, f64)> {
    (-PACES..=PACES).map(|i| f64::from(i) * PACE_STEP).map(|u| (u, density(u))).collect()
}

/// Density of the normal distribution.
fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt()
}

/// The normal distribution.
fn normal(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}
