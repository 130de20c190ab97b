//! Normative cases of topic matching and of topic and filter validity, each list under the source it was taken from.

use super::*;
use crate::trie::Trie;

/// (source, filter, topic, matches)
const MATCHES: &[(&str, &str, &str, bool)] = &[
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "sport/tennis/player1/#",
        "sport/tennis/player1",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "sport/tennis/player1/#",
        "sport/tennis/player1/score/wimbledon",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "#",
        "sport/tennis/player1",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "sport/tennis/+",
        "sport/tennis/player2",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "sport/tennis/+",
        "sport/tennis/player1/ranking",
        false,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "sport/+",
        "sport",
        false,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "sport/+",
        "sport/",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "+",
        "sport",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "sport/+/player1",
        "sport/tennis/player1",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "/+",
        "/finance",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "#",
        "$SYS/a",
        false,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "+/monitor/Clients",
        "$SYS/monitor/Clients",
        false,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7 and OASIS MQTT 5.0 (2019) section 4.7 [MQTT-4.7.1-2, 4.7.1-3, 4.7.2-1]",
        "$SYS/#",
        "$SYS/a",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "/#",
        "/a/topic",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "a/topic/#",
        "a/topic/",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "hw/+/air/flow",
        "hw/T1/air/flow",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "hw/+/air/flow",
        "hw/T1/T2/air/flow",
        false,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "HW/#",
        "hw/T1",
        false,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "a/b",
        "a/b/",
        false,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "/",
        "/",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "#",
        "/",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "hw//#",
        "hw//x",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "hw//#",
        "hw/x",
        false,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "sport/tennis",
        "sport/tennis",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "Accounts payable",
        "Accounts payable",
        true,
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7; mosquitto mqtt(7) manual page for the empty-level cases",
        "ACCOUNTS",
        "Accounts",
        false,
    ),
    ("OASIS MQTT 5.0 (2019) section 4.8.2", "$share/g/sport/+", "sport/tennis", true),
];

/// (source, filter, valid, reason)
const FILTERS: &[(&str, &str, bool, &str)] = &[
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "sport/tennis/#",
        true,
        "valid",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "#",
        true,
        "valid",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "+",
        true,
        "valid",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "+/tennis/#",
        true,
        "valid",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "sport/+/player1",
        true,
        "valid",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "sport/tennis#",
        false,
        "# must follow a separator",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "sport/tennis/#/ranking",
        false,
        "# must be last",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "sport+",
        false,
        "+ must fill a level",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "a/#b",
        false,
        "# must be last and alone",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "##",
        false,
        "# must be alone",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "#/a",
        false,
        "# must be last",
    ),
    (
        "OASIS MQTT 3.1.1 (2014) section 4.7.1, 4.7.3 [MQTT-4.7.1-2, 4.7.1-3, 4.7.3-1, 4.7.3-2]",
        "",
        false,
        "at least one character",
    ),
    ("OASIS MQTT 5.0 (2019) section 4.8.2", "$share/group/a/+", true, "valid"),
    ("OASIS MQTT 5.0 (2019) section 4.8.2", "$share//a", false, "share name needs one character"),
    ("OASIS MQTT 5.0 (2019) section 4.8.2", "$share/g+/a", false, "no wildcard in the share name"),
];

/// (source, topic, valid)
const TOPICS: &[(&str, &str, bool)] = &[
    ("OASIS MQTT 3.1.1 (2014) [MQTT-3.3.2-2, 4.7.1-1, 4.7.3-1, 4.7.3-2]", "hw/T1/air/flow", true),
    ("OASIS MQTT 3.1.1 (2014) [MQTT-3.3.2-2, 4.7.1-1, 4.7.3-1, 4.7.3-2]", "sport/#", false),
    ("OASIS MQTT 3.1.1 (2014) [MQTT-3.3.2-2, 4.7.1-1, 4.7.3-1, 4.7.3-2]", "", false),
    ("OASIS MQTT 3.1.1 (2014) [MQTT-3.3.2-2, 4.7.1-1, 4.7.3-1, 4.7.3-2]", "hw/T\0", false),
];

#[test]
fn topics_match_filters_as_the_standard_says() {
    for (source, filter, topic, expected) in MATCHES {
        let (_, filter) = split_share(filter).unwrap();
        assert_eq!(check_filter(filter), Ok(()), "{filter} ({source})");
        assert!(valid_topic(topic), "{topic} ({source})");
        assert_eq!(matches(filter, topic), *expected, "{filter} against {topic} ({source})");
        let mut trie = Trie::default();
        trie.insert(filter, 1, ());
        let mut hits = 0;
        trie.matching(topic, &mut |_, ()| hits += 1);
        assert_eq!(hits == 1, *expected, "trie: {filter} against {topic} ({source})");
    }
}

#[test]
fn filters_are_valid_as_the_standard_says() {
    for (source, filter, expected, reason) in FILTERS {
        let verdict = split_share(filter).and_then(|(_, inner)| check_filter(inner));
        assert_eq!(verdict.is_ok(), *expected, "{filter:?}: {reason}, {verdict:?} ({source})");
    }
}

#[test]
fn topic_names_are_valid_as_the_standard_says() {
    for (source, topic, expected) in TOPICS {
        assert_eq!(valid_topic(topic), *expected, "{topic:?} ({source})");
    }
}

#[test]
fn the_lists_are_whole() {
    assert_eq!((MATCHES.len(), FILTERS.len(), TOPICS.len()), (27, 15, 4));
}

#[test]
fn a_shared_filter_needs_a_name_and_a_filter() {
    assert_eq!(split_share("$share/g/a"), Ok((Some("g"), "a")));
    assert_eq!(split_share("$share/g"), Err(FilterFault::ShareFilter));
    assert_eq!(split_share("$share/g/"), Err(FilterFault::ShareFilter));
    assert_eq!(split_share("$share//a"), Err(FilterFault::ShareName));
    assert_eq!(check_filter("a\0"), Err(FilterFault::Nul));
}

#[test]
fn levels_are_counted_with_the_empty_ones() {
    assert_eq!([levels("a"), levels("/"), levels("a//b")], [1, 2, 3]);
}
