//! A device whose clock has leapt back, told from one that sends again what it had kept.
//!
//! Both send readings that are old by their own times. What was kept comes in a burst: many own times in a short while,
//! with lags that shrink to nothing. A device that measures now, by a clock that is wrong, sends readings whose own times
//! go on as fast as they arrive, and their lag stays. So the first such reading is taken for an old one, and the next
//! shows by its pace that it is new.
//!
//! A burst that stalls has a pace too, but its last step has none: there much time passes and little is measured, and then the
//! other way round. What is sent again about as fast as it was measured can be mistaken.

use super::when::BACKFILL_AFTER;
use std::collections::VecDeque;
use units::{Span, Time};

/// Lags that differ by less are one lag: Wi-Fi holds a reading back for so long at most. A planning value.
const SAME: Span = Span::seconds(90);
/// Readings that arrive closer together show no pace yet. A planning value.
const LEAST: Span = Span::seconds(5);
/// A reading that was held back may be followed by those of so long. A planning value.
const SLACK: Span = Span::seconds(4);
/// How many own times of a wrong clock are remembered, so that a repeat is told: as many as a client has under way.
const OWN: usize = 128;

/// A reading by both clocks.
#[derive(Debug, Clone, Copy)]
struct Mark {
    own: Time,
    arrived: Time,
}

impl Mark {
    fn lag(self) -> Span {
        self.arrived - self.own
    }

    fn is_behind(self) -> bool {
        self.lag() > BACKFILL_AFTER
    }

    fn near(self, other: Self) -> bool {
        (self.lag() - other.lag()).abs() <= SAME
    }

    /// Whether own times went on from there at least half as fast as real time, and `slack` more.
    fn keeps_pace(self, from: Self, slack: Span) -> bool {
        let (own, real) = (self.own - from.own, self.arrived - from.arrived);
        own > Span::ZERO && own <= real + real + slack
    }
}

impl Mark {
    /// Whether the step from the reading before is that of a device that measures now: neither clock went more than twice as
    /// far as the other.
    fn follows(self, before: Self) -> bool {
        let (own, real) = (self.own - before.own, self.arrived - before.arrived);
        own > Span::ZERO && own <= real + real && real <= own + own + SLACK
    }
}

/// What is known of the clock of a device.
#[derive(Debug, Clone, Copy, Default)]
enum State {
    /// Nothing is known of it.
    #[default]
    Unheard,
    /// Nothing is known to be wrong; with the newest reading, or the first of a lag that may turn out to stay.
    Heard(Mark),
    /// It is wrong, with the newest reading that showed by how much; and the first of another lag, which may turn out to
    /// stay.
    Wrong(Mark, Option<Mark>),
    /// It was wrong before a restart, and by how much is not known any more.
    WasWrong,
}

/// Tells whether a device's clock is behind.
#[derive(Debug, Default)]
pub(super) struct Leap {
    state: State,
    /// The reading before.
    last: Option<Mark>,
    /// Own times of readings that were taken by their arrival.
    taken: VecDeque<Time>,
    /// The last arrival of what was remembered from before a restart.
    remembered: Option<Time>,
}

impl Leap {
    /// Whether a reading with that own time was taken by its arrival before.
    pub(super) fn has(&self, own: Time) -> bool {
        self.taken.contains(&own)
    }

    /// Takes a new reading in; true if its clock is behind and it is to be taken by its arrival.
    pub(super) fn look(&mut self, own: Time, arrived: Time) -> bool {
        let wrong = self.step(Mark { own, arrived });
        if wrong {
            if self.taken.len() == OWN {
                self.taken.pop_front();
            }
            self.taken.push_back(own);
        }
        wrong
    }

    fn step(&mut self, new: Mark) -> bool {
        let follows = self.last.replace(new).is_some_and(|last| new.follows(last));
        let (state, wrong) = match self.state {
            _ if !new.is_behind() => (State::Heard(new), false),
            State::WasWrong => (State::Wrong(new, None), true),
            State::Wrong(last, _) if new.near(last) => {
                // One that was held up is no measure for the next.
                let measure = new.keeps_pace(last, Span::ZERO) && new.lag() <= last.lag() + SLACK;
                let newest = if measure { new } else { last };
                (State::Wrong(newest, None), new.keeps_pace(last, SLACK))
            }
            State::Wrong(last, first) => match confirmed(first, new, follows) {
                Some(true) => (State::Wrong(new, None), true),
                Some(false) => (self.state, false),
                None => (State::Wrong(last, Some(new)), false),
            },
            State::Heard(first) => match confirmed(Some(first), new, follows) {
                Some(true) => (State::Wrong(new, None), true),
                Some(false) => (self.state, false),
                None => (State::Heard(new), false),
            },
            State::Unheard => (State::Heard(new), false),
        };
        self.state = state;
        wrong
    }

    /// Takes in a stored reading at a restart: by its own time, or `None` where that was behind and is not known any more.
    /// They come in the order of their times; what counts is which arrived last.
    pub(super) fn remember(&mut self, own: Option<Time>, arrived: Time) {
        if self.remembered.is_some_and(|last| arrived < last) {
            return;
        }
        self.remembered = Some(arrived);
        match own {
            Some(own) => {
                self.step(Mark { own, arrived });
            }
            None => self.state = State::WasWrong,
        }
    }

    /// Our own clock was set: lags have changed by that, and no device has.
    pub(super) fn clock_moved(&mut self, by: Span) {
        let moved = |m: Mark| Mark { arrived: m.arrived + by, ..m };
        self.last = self.last.map(moved);
        self.state = match self.state {
            State::Heard(first) => State::Heard(moved(first)),
            State::Wrong(last, first) => State::Wrong(moved(last), first.map(moved)),
            same => same,
        };
    }
}

/// Whether a lag stays: `None` if this is another lag, false if it came too soon to tell.
fn confirmed(first: Option<Mark>, new: Mark, follows: bool) -> Option<bool> {
    let first = first.filter(|f| new.near(*f))?;
    Some(follows && new.arrived - first.arrived >= LEAST && new.keeps_pace(first, Span::ZERO))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(s: i64) -> Time {
        Time::from_millis(2_000_000_000_000 + s * 1_000)
    }

    /// What is said of readings as (own time, arrival) in seconds.
    fn said(leap: &mut Leap, readings: impl IntoIterator<Item = (i64, i64)>) -> Vec<bool> {
        readings.into_iter().map(|(own, arrived)| leap.look(at(own), at(arrived))).collect()
    }

    /// A device that talks every `every` seconds, its clock `behind`.
    fn live(every: i64, behind: i64, from: i64, n: i64) -> Vec<(i64, i64)> {
        (0..n).map(|i| (from + i * every - behind, from + i * every)).collect()
    }

    #[test]
    fn the_second_reading_of_a_wrong_clock_is_believed() {
        for behind in [3_600, 86_400 * 3, 86_400 * 365] {
            for every in [5, 10, 60, 600, 3_600] {
                let mut leap = Leap::default();
                assert!(said(&mut leap, live(every, 0, 0, 5)).iter().all(|wrong| !wrong));
                let then = said(&mut leap, live(every, behind, 5 * every, 5));
                assert_eq!(then, [false, true, true, true, true], "every {every} s, {behind} s behind");
                assert_eq!(
                    said(&mut leap, live(every, 0, 10 * every, 2)),
                    [false, false],
                    "it was set right"
                );
            }
        }
    }

    #[test]
    fn one_that_talks_every_second_shows_its_pace_after_five() {
        let mut leap = Leap::default();
        let told = said(&mut leap, live(1, 3_600, 0, 20));
        assert_eq!(told.iter().position(|wrong| *wrong), Some(5));
        assert!(told[5..].iter().all(|wrong| *wrong));
    }

    #[test]
    fn a_burst_is_never_taken_for_a_pace() {
        for every in [1, 5, 10, 60, 600] {
            for per_second in [3, 10, 1_000] {
                let mut leap = Leap::default();
                let burst = (0..7_200 / every).map(|i| {
                    let arrived = 7_200_000 + i * 1_000 / per_second;
                    leap.look(
                        at(0) + Span::from_millis(i * every * 1_000),
                        at(0) + Span::from_millis(arrived),
                    )
                });
                let wrong = burst.filter(|wrong| *wrong).count();
                assert_eq!(wrong, 0, "every {every} s, {per_second} a second");
            }
        }
    }

    #[test]
    fn what_was_kept_is_never_taken_for_a_pace_in_any_order() {
        // The newest first, one every five seconds.
        let mut leap = Leap::default();
        assert!(said(&mut leap, (0..60).map(|i| (-60 * i, 1_000 + 5 * i))).iter().all(|wrong| !wrong));
        // One old reading with each live one.
        let mut leap = Leap::default();
        let mixed = (0..60).flat_map(|i| [(60 * i, 60 * i), (60 * i - 3_600, 60 * i + 1)]);
        assert!(said(&mut leap, mixed).iter().all(|wrong| !wrong));
    }

    #[test]
    fn a_burst_that_stalls_for_a_minute_costs_one_reading() {
        let mut leap = Leap::default();
        let burst = (0..60).map(|i| (60 * i, 3_600 + i / 10 + if i > 20 { 60 } else { 0 }));
        assert_eq!(said(&mut leap, burst).iter().filter(|wrong| **wrong).count(), 1);
    }

    /// A full disk holds a burst up, now and then, for longer than what it holds.
    #[test]
    fn a_burst_that_stalls_for_longer_than_a_step_costs_nothing() {
        let mut leap = Leap::default();
        let ms = Time::from_millis;
        let burst = (0..600).map(|i| (ms(2_500 * i), ms(9_000_000 + i + 50_000 * (i / 100))));
        assert_eq!(burst.filter(|(own, arrived)| leap.look(*own, *arrived)).count(), 0);
    }

    #[test]
    fn a_wrong_clock_may_be_held_up_and_leap_again() {
        let mut leap = Leap::default();
        said(&mut leap, live(60, 3_600, 0, 3));
        // Two readings held up for 40 s, then on time again.
        assert_eq!(said(&mut leap, [(180 - 3_600, 220), (240 - 3_600, 240)]), [true, true]);
        assert_eq!(said(&mut leap, live(60, 7_200, 300, 3)), [false, true, true]);
        // A stray old one changes nothing.
        assert_eq!(said(&mut leap, [(-90_000, 481), (480 - 7_200, 482)]), [false, true]);
        // After an hour without Wi-Fi what was kept has other lags, the last of it has its own again.
        let kept: Vec<(i64, i64)> = (1..=60).map(|i| (480 + 60 * i - 7_200, 4_080)).collect();
        let told = said(&mut leap, kept);
        assert!(told[..57].iter().all(|wrong| !wrong), "{told:?}");
        assert_eq!(said(&mut leap, live(60, 7_200, 4_140, 2)), [true, true]);
    }

    #[test]
    fn a_clock_of_ours_that_was_set_leaves_no_reading_out() {
        let hour = 3_600;
        let mut leap = Leap::default();
        said(&mut leap, live(60, 0, 0, 5));
        leap.clock_moved(Span::seconds(hour));
        // The device is right, and an hour behind us from now on.
        let told = said(&mut leap, live(60, hour, 300 + hour, 3));
        assert_eq!(told, [true, true, true]);
        leap.clock_moved(Span::seconds(-hour));
        assert_eq!(said(&mut leap, live(60, 0, 480, 2)), [false, false]);
    }

    #[test]
    fn own_times_that_were_not_used_are_remembered() {
        let mut leap = Leap::default();
        said(&mut leap, live(60, 3_600, 0, 300));
        assert!(!leap.has(at(-3_600)), "the first stands at its own time");
        assert!(leap.has(at(60 * 299 - 3_600)) && leap.has(at(60 * (300 - OWN as i64) - 3_600)));
        assert_eq!(leap.taken.len(), OWN);
    }
}
