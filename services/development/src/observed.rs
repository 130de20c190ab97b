//! What the keeper saw.

use units::{Day0, Stage, Time};

/// A stage that the keeper saw reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Observed {
    /// The stage.
    pub stage: Stage,
    /// When it was seen.
    pub at: Time,
}

/// What was seen in order of life, one sighting a stage (the first), and words for what cannot be.
pub(crate) fn in_order(seen: &[Observed], day0: &Day0, until: Option<Time>) -> (Vec<Observed>, Vec<String>) {
    let mut usable: Vec<Observed> = seen
        .iter()
        .filter(|o| o.stage != Stage::Egg && until.is_none_or(|end| o.at <= end))
        .copied()
        .collect();
    usable.sort_by_key(|o| (o.stage, o.at));
    usable.dedup_by_key(|o| o.stage);
    let (mut kept, mut words): (Vec<Observed>, Vec<String>) = (Vec::new(), Vec::new());
    for o in usable {
        match kept.last() {
            _ if o.at < day0.earliest => words.push(before_day0(o)),
            Some(last) if o.at < last.at => words.push(out_of_order(o, *last)),
            _ => kept.push(o),
        }
    }
    (kept, words)
}

fn before_day0(o: Observed) -> String {
    format!("{} was entered for a time before day 0 and is not used; correct it or day 0", o.stage)
}

fn out_of_order(o: Observed, last: Observed) -> String {
    format!("{} was entered for a time before {} and is not used; correct one of them", o.stage, last.stage)
}
