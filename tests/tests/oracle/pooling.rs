//! What the clutches of a room teach, solved again by numpy and scipy in another way. `development::Learnt` is held against
//! the same answers by the tests of its own crate, which need no Python; here the answers themselves are tried.

use super::python;
use serde_json::Value;

const CASES: &str = include_str!("../../../services/development/tests/pooled.json");

#[test]
fn the_answers_that_learning_is_held_against_are_those_of_numpy_and_scipy() {
    let cases: Vec<Value> = serde_json::from_str(CASES).unwrap();
    let theirs = python(include_str!("pooling.py"), CASES);
    assert!(cases.len() >= 12 && cases.len() == theirs.len());
    for (case, theirs) in cases.iter().zip(&theirs) {
        let (kept, theirs) = (case["answers"].as_array().unwrap(), theirs.as_array().unwrap());
        assert!(kept.len() == 6 && theirs.len() == 6);
        for (kept, theirs) in kept.iter().zip(theirs) {
            assert!(kept["mother"] == theirs["mother"] && kept["stage"] == theirs["stage"]);
            for figure in ["mean", "variance"] {
                let (a, b) = (kept[figure].as_f64().unwrap(), theirs[figure].as_f64().unwrap());
                assert!((a - b).abs() < 1e-8, "{figure}: kept {a}, numpy {b}");
            }
        }
    }
}
