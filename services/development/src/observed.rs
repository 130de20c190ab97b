//! What the keeper saw, put in order.

use units::{Day0, Sighting, Sign, Stage, Time};

/// What was seen in order of life, one sighting a sign (the first), and words for what cannot be.
pub(crate) fn in_order(seen: &[Sighting], day0: &Day0, until: Option<Time>) -> (Vec<Sighting>, Vec<String>) {
    let mut usable: Vec<Sighting> = seen
        .iter()
        .filter(|o| o.sign != Sign::Stage(Stage::Egg) && until.is_none_or(|end| o.seen.by() <= end))
        .copied()
        .collect();
    usable.sort_by_key(|o| (o.sign, o.seen.by()));
    usable.dedup_by_key(|o| o.sign);
    let (mut kept, mut words): (Vec<Sighting>, Vec<String>) = (Vec::new(), Vec::new());
    for o in usable {
        let clash = kept.iter().find(|k| k.seen.not_before().is_some_and(|t| o.seen.by() < t));
        match clash {
            _ if o.seen.by() < day0.earliest => words.push(before_day0(o)),
            Some(last) => words.push(out_of_order(o, *last)),
            None => kept.push(o),
        }
    }
    (kept, words)
}

fn before_day0(o: Sighting) -> String {
    format!("{} was entered for a time before day 0 and is not used; correct it or day 0", o.sign)
}

fn out_of_order(o: Sighting, last: Sighting) -> String {
    format!("{} was entered for a time before {} and is not used; correct one of them", o.sign, last.sign)
}
