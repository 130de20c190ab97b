//! A small room with everything in it: its bytes stay the same for ever.

use sensors_sim::{Room, Scenario, record};
use units::{Span, Time};

const EVERYTHING: &str = include_str!("everything.toml");

/// Fowler-Noll-Vo 1a, 64 bit.
fn hash(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |h: u64, b| (h ^ u64::from(*b)).wrapping_mul(0x100_0000_01b3))
}

/// Two days as `record` writes them: messages and truth.
fn recorded(step: Span) -> (Vec<u8>, Vec<u8>) {
    let start = Time::parse_rfc3339("2031-03-14T00:00:00Z").unwrap();
    let mut room = Room::new(Scenario::from_toml(EVERYTHING).unwrap(), 42, start);
    let (mut messages, mut truths, mut happened) = (Vec::new(), Vec::new(), Vec::new());
    while room.now() < start + Span::days(2) {
        room.play((room.now() + step).min(start + Span::days(2)), &mut happened);
        record::both(&mut messages, &mut truths, &happened).unwrap();
        happened.clear();
    }
    (messages, truths)
}

#[test]
fn the_bytes_of_messages_and_truth_stay_the_same_for_ever() {
    let (messages, truths) = recorded(Span::hours(1));
    let text = String::from_utf8(truths.clone()).unwrap();
    for word in [
        "\"begins\"",
        "\"ends\"",
        "\"act\"",
        "\"away\"",
        "\"back\"",
        "\"still\"",
        "\"turning\"",
        "\"fewer\"",
        "\"reached\"",
        "\"water\"",
        "\"clutch\"",
        "\"forgotten\"",
    ] {
        assert!(text.contains(&format!("\"what\":{word}")), "{word} does not happen");
    }
    assert_eq!(
        (hash(&messages), hash(&truths)),
        GOLDEN,
        "the bytes of seed 42 have changed: ({:#x}, {:#x})",
        hash(&messages),
        hash(&truths)
    );
}

const GOLDEN: (u64, u64) = (0xcc0f_de44_032e_8391, 0x7e78_b421_e6e6_cb7a);

#[test]
fn the_steps_make_no_difference_to_either() {
    assert!(recorded(Span::from_millis(1_234_567)) == recorded(Span::days(2)));
}
