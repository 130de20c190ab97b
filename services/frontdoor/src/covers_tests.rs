//! Whether one filter lies within another: cases, and all short filters against all short topic names.

use super::{check_filter, covers, matches};

#[test]
fn cases() {
    for (permitted, wanted, expected) in [
        ("a/b", "a/b", true),
        ("a/+", "a/b", true),
        ("a/+", "a/+", true),
        ("a/+", "a/#", false),
        ("a/#", "a/+/c", true),
        ("a/#", "a", true),
        ("a/#", "a/#", true),
        ("a", "a/#", false),
        ("a/b", "a/+", false),
        ("#", "+/+", true),
        ("#", "$SYS/#", false),
        ("+/x", "$SYS/x", false),
        ("$SYS/#", "$SYS/x", true),
        ("$SYS/#", "#", false),
        ("+/#", "#", true),
        ("+", "#", false),
        ("a//+", "a//b", true),
    ] {
        assert_eq!(covers(permitted, wanted), expected, "{permitted} covers {wanted}");
    }
}

/// All sequences of up to three of the levels, joined.
fn joined(levels: &[&str]) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    let mut last = vec![String::new()];
    for depth in 0..3 {
        let next = |stem: &String| {
            let stem = if depth == 0 { String::new() } else { format!("{stem}/") };
            levels.iter().map(move |level| format!("{stem}{level}")).collect::<Vec<_>>()
        };
        last = last.iter().flat_map(next).collect();
        all.extend(last.iter().cloned());
    }
    all
}

#[test]
fn covering_means_that_every_topic_is_covered() {
    // Four levels of two names tell all filters of three levels apart; expectation: the definition itself, by trying all.
    let topics: Vec<String> =
        joined(&["a", "b", "$a"]).into_iter().flat_map(|t| [format!("{t}/b"), t]).collect();
    let mut filters = joined(&["a", "+", "#", "$a"]);
    filters.retain(|filter| check_filter(filter).is_ok());
    let mut covering = 0;
    for permitted in &filters {
        for wanted in &filters {
            let whole = topics.iter().all(|t| !matches(wanted, t) || matches(permitted, t));
            // A name that only the first level may begin with `$`; deeper it is a name like any other.
            assert_eq!(covers(permitted, wanted), whole, "{permitted} covers {wanted}");
            covering += usize::from(whole);
        }
    }
    assert!(covering > filters.len(), "more than each by itself: {covering} of {}", filters.len());
}
