//! What the engine does at the end of a batch, for tests that drive a room by hand.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, reason = "test code")]

use hatchwarden::room::{Outcome, Room};
use store::Store;
use units::{ProbeKey, Quantity, Time};

/// The batch goes to the disk, then courses that are wanted are read from there, and what follows goes to the disk too.
pub async fn settle(room: &mut Room, store: &Store, now: Time, mut out: Outcome) {
    room.close_batch(now, &mut out);
    store.commit(out.batch).await.unwrap();
    if !room.wants_courses() {
        return;
    }
    for wanted in room.take_wanted() {
        let mut points = Vec::new();
        for (vessel, from, to) in wanted.spans {
            let probe = ProbeKey::new(vessel, Quantity::Temperature);
            let read = store.reader().unwrap().range(&probe, from, to).unwrap();
            let held = read.iter().filter(|(t, _)| *t < to);
            points.extend(held.map(|(t, raw)| (*t, wanted.offsets.corrected(&probe, *t, *raw))));
        }
        room.fill_course(&wanted.clutch, points);
    }
    let mut out = Outcome::default();
    room.close_batch(now, &mut out);
    store.commit(out.batch).await.unwrap();
}
