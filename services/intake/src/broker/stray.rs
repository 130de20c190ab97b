//! Messages of subscriptions that nobody asks for any more.
//!
//! A broker that keeps our session keeps the subscriptions of former configurations in it, and
//! MQTT 3.1.1 has no means of asking which. But only a limited number of filters can have brought
//! a message on a given topic, and giving up a subscription that does not exist does no harm:
//! [MQTT-3.10.4-5]. So all of them are given up when the first such message comes.

use std::collections::BTreeSet;

/// Topics with more levels than this are left alone: the number of filters doubles with each.
const LEVELS: usize = 6;

/// Stray topics remembered in one run; more are left alone.
const REMEMBERED: usize = 1000;

pub(super) struct Strays {
    filters: Vec<String>,
    /// Largest packet the filters may be sent in, in bytes.
    packet_limit: usize,
    seen: BTreeSet<String>,
}

impl Strays {
    pub(super) fn new(filters: Vec<String>, packet_limit: usize) -> Self {
        Self { filters, packet_limit, seen: BTreeSet::new() }
    }

    /// The filters to give up so that nothing more comes on this topic, if it was not asked for and
    /// has not been dealt with before.
    pub(super) fn former(&mut self, topic: &str) -> Option<Vec<String>> {
        if self.filters.iter().any(|filter| matches(topic, filter)) || self.seen.contains(topic) {
            return None;
        }
        if self.seen.len() >= REMEMBERED || !self.fits(topic) {
            return None;
        }
        self.seen.insert(topic.to_owned());
        Some(covering(topic))
    }

    /// Whether all filters go into one packet: of 6 levels there are 64 without a # and 127 with one,
    /// each with two bytes of length.
    fn fits(&self, topic: &str) -> bool {
        let most = (topic.len() + "/#".len() + 2) * (3 << LEVELS);
        most < self.packet_limit && topic.split('/').count() <= LEVELS
    }
}

/// Whether a filter lets a topic through: MQTT 3.1.1, section 4.7.
fn matches(topic: &str, filter: &str) -> bool {
    let mut levels = topic.split('/');
    for wanted in filter.split('/') {
        match (wanted, levels.next()) {
            ("#", _) => return true,
            ("+", Some(_)) => {}
            (wanted, level) if level == Some(wanted) => {}
            _ => return false,
        }
    }
    levels.next().is_none()
}

/// Every filter there is that lets this topic through.
fn covering(topic: &str) -> Vec<String> {
    let mut all = vec!["#".to_owned()];
    let mut open: Vec<String> = Vec::new();
    for level in topic.split('/') {
        open = deeper(&open, level);
        all.extend(open.iter().map(|filter| format!("{filter}/#")));
    }
    all.extend(open);
    all
}

/// The given filters with one level more: itself, or a +.
fn deeper(open: &[String], level: &str) -> Vec<String> {
    if open.is_empty() {
        return vec![level.to_owned(), "+".to_owned()];
    }
    open.iter().flat_map(|filter| [format!("{filter}/{level}"), format!("{filter}/+")]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn strays() -> Strays {
        Strays::new(vec!["tank/+/temp".to_owned(), "hall/#".to_owned()], 256 * 1024)
    }

    #[test]
    fn filters_let_through_what_the_standard_says() {
        // MQTT 3.1.1, sections 4.7.1.2 and 4.7.1.3: its own examples.
        for topic in
            ["sport/tennis/player1", "sport/tennis/player1/ranking", "sport/tennis/player1/score/wimbledon"]
        {
            assert!(matches(topic, "sport/tennis/player1/#"), "{topic}");
        }
        for (topic, filter, through) in [
            ("sport", "sport/#", true),
            ("sport/tennis/player1", "sport/tennis/+", true),
            ("sport/tennis/player1/ranking", "sport/tennis/+", false),
            ("sport", "sport/+", false),
            ("sport/", "sport/+", true),
            ("/finance", "+/+", true),
            ("/finance", "/+", true),
            ("/finance", "+", false),
        ] {
            assert_eq!(matches(topic, filter), through, "{filter} on {topic}");
        }
    }

    #[test]
    fn the_filters_given_up_are_all_that_let_the_topic_through() {
        let mut all = covering("a/b");
        all.sort();
        let mut expected =
            ["#", "a/#", "+/#", "a/b/#", "a/+/#", "+/b/#", "+/+/#", "a/b", "a/+", "+/b", "+/+"]
                .map(str::to_owned);
        expected.sort();
        assert_eq!(all, expected);
        for topic in ["a", "/a", "a//b/c", "hatchwarden/undercroft/TU3/temperature/x/y"] {
            assert!(covering(topic).iter().all(|filter| matches(topic, filter)), "{topic}");
        }
    }

    #[test]
    fn what_is_asked_for_is_no_stray_and_a_stray_is_dealt_with_once() {
        let mut strays = strays();
        assert_eq!(strays.former("tank/1/temp"), None);
        assert_eq!(strays.former("hall"), None);
        assert!(strays.former("tank/1/ph").is_some_and(|filters| filters.contains(&"tank/+/ph".to_owned())));
        assert_eq!(strays.former("tank/1/ph"), None);
    }

    #[test]
    fn however_odd_the_topics_there_is_a_bound() {
        let mut strays = strays();
        assert_eq!(strays.former("a/b/c/d/e/f/g"), None);
        assert_eq!(strays.former(&"ä".repeat(30_000)), None);
        let given_up = (0..2 * REMEMBERED).filter(|n| strays.former(&format!("stray/{n}")).is_some()).count();
        assert_eq!(given_up, REMEMBERED);
    }
}
