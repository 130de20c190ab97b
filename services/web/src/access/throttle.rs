//! The delay at signing in: it doubles with each wrong password, for one source and one name only.
//!
//! Nobody is ever locked out by somebody else: a wrong password from another address counts for that address alone, and a
//! device from which the person has signed in before counts for itself, also behind the same proxy.

use std::collections::HashMap;
use std::net::IpAddr;
use units::{Span, Time};

/// Wrong passwords that cost nothing: fingers slip. A planning value.
const FREE: u32 = 3;
/// The longest delay. A planning value: 1,440 guesses a day from one source find no password of fifteen letters, and an
/// owner whose fingers slipped is back within a minute.
const LONGEST: Span = Span::seconds(60);
/// Failures older than this are forgotten.
const FORGOTTEN: Span = Span::hours(24);
/// Sources remembered at once; a flood from more of them pushes out the oldest.
const MOST: usize = 10_000;

/// Whom a failure counts for.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) enum Source {
    /// A device that is known, by its own number.
    Device(String),
    /// Any other, by network and name.
    Network(String, String),
}

impl Source {
    /// An address and a name. In IPv6 one customer has a network of 2^64 addresses, which count as one (RFC 6177).
    pub(crate) fn network(address: &str, name: &str) -> Self {
        let network = match address.parse::<IpAddr>().map(|a| a.to_canonical()) {
            Ok(IpAddr::V6(a)) => format!("{:x?}", &a.segments()[..4]),
            _ => address.to_owned(),
        };
        Self::Network(network, name.trim().to_lowercase())
    }
}

#[derive(Debug, Clone, Copy)]
struct Failures {
    count: u32,
    last: Time,
}

/// Failures by source.
#[derive(Debug, Default)]
pub(crate) struct Throttle {
    failures: HashMap<Source, Failures>,
}

fn delay(count: u32) -> Span {
    match count.checked_sub(FREE) {
        None => Span::ZERO,
        Some(n) => Span::seconds(1_i64 << n.min(30)).min(LONGEST),
    }
}

impl Throttle {
    /// Counts a try as failed before it is made, so that many at once do not slip through; answers how many have failed
    /// with it.
    ///
    /// # Errors
    /// How long to wait before the next try; this one is not to be made and does not count.
    pub(crate) fn begin(&mut self, source: &Source, now: Time) -> Result<u32, Span> {
        let found = self.failures.get(source).filter(|f| (now - f.last) < FORGOTTEN);
        let count = match found {
            Some(f) => {
                // A clock that was set back must not make anybody wait for the difference.
                let passed = now - f.last;
                let left = delay(f.count) - passed;
                if passed >= Span::ZERO && left > Span::ZERO {
                    return Err(left);
                }
                f.count.saturating_add(1)
            }
            None => 1,
        };
        self.make_room(now);
        self.failures.insert(source.clone(), Failures { count, last: now });
        Ok(count)
    }

    /// The password was right.
    pub(crate) fn clear(&mut self, source: &Source) {
        self.failures.remove(source);
    }

    /// The try was not made after all.
    pub(crate) fn forgive(&mut self, source: &Source) {
        if let Some(f) = self.failures.get_mut(source) {
            f.count = f.count.saturating_sub(1);
        }
    }

    fn make_room(&mut self, now: Time) {
        if self.failures.len() < MOST {
            return;
        }
        self.failures.retain(|_, f| (now - f.last) < FORGOTTEN);
        if self.failures.len() < MOST {
            return;
        }
        // A tenth at once, so that a flood does not sort at every try.
        let mut ages: Vec<Time> = self.failures.values().map(|f| f.last).collect();
        ages.sort_unstable();
        let oldest = ages[MOST / 10];
        self.failures.retain(|_, f| f.last > oldest);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: i64) -> Time {
        Time::from_millis(1_931_221_060_000 + ms)
    }

    #[test]
    fn the_delay_doubles_up_to_a_minute_and_ends_with_the_right_password() {
        let (mut throttle, source) = (Throttle::default(), Source::network("192.0.2.7", "Ada"));
        let (mut now, mut waits) = (0, Vec::new());
        for _ in 0..12 {
            if let Err(wait) = throttle.begin(&source, at(now)) {
                waits.push(wait.millis());
                now += wait.millis();
                throttle.begin(&source, at(now)).unwrap();
            }
        }
        assert_eq!(waits, [1_000, 2_000, 4_000, 8_000, 16_000, 32_000, 60_000, 60_000, 60_000]);
        throttle.clear(&source);
        assert_eq!(throttle.begin(&source, at(now)), Ok(1));
    }

    #[test]
    fn tries_during_the_delay_make_it_no_longer() {
        let (mut throttle, source) = (Throttle::default(), Source::network("192.0.2.7", "Ada"));
        for _ in 0..5 {
            let _ = throttle.begin(&source, at(0));
        }
        for ms in 0..999 {
            assert_eq!(throttle.begin(&source, at(ms)), Err(Span::from_millis(1_000 - ms)));
        }
        assert_eq!(throttle.begin(&source, at(1_000)), Ok(4));
    }

    #[test]
    fn others_do_not_wait() {
        let mut throttle = Throttle::default();
        let attacker = Source::network("192.0.2.7", "Ada");
        for ms in 0..100 {
            let _ = throttle.begin(&attacker, at(ms * 100_000));
        }
        let now = at(99 * 100_000 + 1);
        assert!(throttle.begin(&attacker, now).is_err());
        assert!(throttle.begin(&Source::network("192.0.2.8", "Ada"), now).is_ok());
        assert!(throttle.begin(&Source::network("192.0.2.7", "Bo"), now).is_ok());
        assert!(throttle.begin(&Source::Device("n".to_owned()), now).is_ok());
        assert!(throttle.begin(&Source::network("192.0.2.7", " ADA"), now).is_err(), "the same name");
    }

    #[test]
    fn one_network_of_ipv6_is_one_source() {
        let of = |a: &str| Source::network(a, "Ada");
        assert_eq!(of("2001:db8:1:2::3"), of("2001:db8:1:2:ffff::1"));
        assert_ne!(of("2001:db8:1:2::3"), of("2001:db8:1:3::3"));
        assert_eq!(of("::ffff:192.0.2.7"), of("::ffff:192.0.2.7"));
    }

    #[test]
    fn a_clock_that_goes_back_locks_nobody_out() {
        let (mut throttle, source) = (Throttle::default(), Source::network("192.0.2.7", "Ada"));
        for _ in 0..3 {
            throttle.begin(&source, at(0)).unwrap();
        }
        assert!(throttle.begin(&source, at(-86_400_000)).is_ok());
    }

    #[test]
    fn a_flood_of_sources_is_bounded_and_the_newest_stay() {
        let mut throttle = Throttle::default();
        for n in 0..25_000_i64 {
            let source = Source::Network(n.to_string(), String::new());
            throttle.begin(&source, at(n)).unwrap();
        }
        assert!(throttle.failures.len() <= MOST);
        assert!(throttle.failures.contains_key(&Source::Network("24999".to_owned(), String::new())));
    }
}
