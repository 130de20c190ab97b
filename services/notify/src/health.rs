//! Which ways out fail, so that a person can be told by another one.

use crate::fate::Fate;
use std::collections::BTreeMap;
use tokio::sync::watch;

/// Failures in a row from which on a way is in trouble: one alone is often over at the next try, two seconds later.
/// A planning value.
const IN_A_ROW: u32 = 2;

/// Why nothing leaves by a way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// Of the newest failure: what happened, and the cure where it is known.
    pub reason: String,
    /// Seconds since 1970 at the first failure that was seen since the last delivery.
    pub since_unix_seconds: i64,
}

/// The ways in trouble, by name: nothing was delivered since they failed twice in a row or had to give an item up.
/// A way leaves it with its next delivery.
pub type Troubles = BTreeMap<String, Trouble>;

/// What is known of one way.
#[derive(Default)]
struct Record {
    /// Failures since the last delivery.
    in_a_row: u32,
    since_unix_seconds: i64,
    has_delivered: bool,
}

/// Keeps the record of all ways and publishes their troubles.
pub(crate) struct Health {
    records: BTreeMap<String, Record>,
    troubles: watch::Sender<Troubles>,
}

impl Health {
    pub(crate) fn new<'a>(ways: impl Iterator<Item = &'a str>, troubles: watch::Sender<Troubles>) -> Self {
        let records = ways.map(|way| (way.to_owned(), Record::default())).collect();
        Self { records, troubles }
    }

    /// Takes down how a try ended. Ways that were removed from the configuration are passed over: they would never get well.
    pub(crate) fn note(&mut self, way: &str, tries: u32, fate: &Fate, unix_seconds: i64) {
        let Some(record) = self.records.get_mut(way) else { return };
        match fate {
            Fate::Delivered => {
                *record = Record { has_delivered: true, ..Record::default() };
                self.troubles.send_if_modified(|t| t.remove(way).is_some());
            }
            Fate::Failed { reason, next_in } => {
                record.fail(tries, unix_seconds);
                if record.in_a_row >= IN_A_ROW || next_in.is_none() {
                    let trouble =
                        Trouble { reason: reason.clone(), since_unix_seconds: record.since_unix_seconds };
                    publish(&self.troubles, way, trouble);
                }
            }
        }
    }
}

impl Record {
    /// Before the first delivery the item's own tries count too: they were made before a restart.
    fn fail(&mut self, tries: u32, unix_seconds: i64) {
        if self.in_a_row == 0 {
            self.since_unix_seconds = unix_seconds;
        }
        self.in_a_row = self.in_a_row.saturating_add(1);
        if !self.has_delivered {
            self.in_a_row = self.in_a_row.max(tries);
        }
    }
}

fn publish(troubles: &watch::Sender<Troubles>, way: &str, trouble: Trouble) {
    troubles.send_if_modified(|known| {
        let news = known.get(way) != Some(&trouble);
        if news {
            known.insert(way.to_owned(), trouble);
        }
        news
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    fn health() -> (Health, watch::Receiver<Troubles>) {
        let (troubles, seen) = watch::channel(Troubles::new());
        (Health::new(["mail", "webhook"].into_iter(), troubles), seen)
    }

    fn failed(reason: &str) -> Fate {
        Fate::Failed { reason: reason.to_owned(), next_in: Some(Duration::from_secs(2)) }
    }

    fn trouble(reason: &str, since_unix_seconds: i64) -> Trouble {
        Trouble { reason: reason.to_owned(), since_unix_seconds }
    }

    #[test]
    fn one_failure_is_no_trouble_and_two_in_a_row_are() {
        let (mut health, seen) = health();
        health.note("mail", 1, &Fate::Delivered, 10);
        health.note("mail", 1, &failed("busy"), 20);
        assert!(seen.borrow().is_empty());
        health.note("mail", 1, &failed("still busy"), 30);
        assert_eq!(*seen.borrow(), [("mail".to_owned(), trouble("still busy", 20))].into());
    }

    #[test]
    fn a_delivery_between_two_failures_starts_the_count_anew() {
        let (mut health, seen) = health();
        for _ in 0..3 {
            health.note("mail", 1, &Fate::Delivered, 0);
            health.note("mail", 4, &failed("busy"), 1);
        }
        assert!(seen.borrow().is_empty());
    }

    #[test]
    fn a_way_gets_well_by_a_delivery_of_its_own_and_not_of_another_way() {
        let (mut health, seen) = health();
        for way in ["mail", "mail", "webhook", "webhook"] {
            health.note(way, 1, &failed("busy"), 5);
        }
        assert_eq!(seen.borrow().len(), 2);
        health.note("webhook", 1, &Fate::Delivered, 6);
        assert_eq!(*seen.borrow(), [("mail".to_owned(), trouble("busy", 5))].into());
    }

    #[test]
    fn what_is_given_up_is_told_at_once() {
        let (mut health, seen) = health();
        health.note("mail", 1, &Fate::Failed { reason: "gone".to_owned(), next_in: None }, 7);
        assert_eq!(seen.borrow()["mail"], trouble("gone", 7));
    }

    #[test]
    fn tries_before_a_restart_count() {
        let (mut health, seen) = health();
        health.note("mail", 2, &failed("busy"), 8);
        assert_eq!(seen.borrow()["mail"], trouble("busy", 8));
    }

    #[test]
    fn a_removed_way_is_not_told() {
        let (mut health, seen) = health();
        health.note("fax", 9, &Fate::Failed { reason: "there is no way".to_owned(), next_in: None }, 7);
        assert!(seen.borrow().is_empty());
    }

    #[test]
    fn the_same_news_is_told_once_and_a_new_reason_anew() {
        let (mut health, mut seen) = health();
        health.note("mail", 2, &failed("busy"), 1);
        assert!(seen.has_changed().unwrap());
        seen.mark_unchanged();
        health.note("mail", 3, &failed("busy"), 2);
        assert!(!seen.has_changed().unwrap());
        health.note("mail", 4, &failed("refused"), 3);
        assert_eq!(seen.borrow_and_update()["mail"], trouble("refused", 1));
        health.note("mail", 5, &Fate::Delivered, 4);
        assert!(seen.has_changed().unwrap() && seen.borrow().is_empty());
    }
}
