//! A subscriber that never reads, under a flood: it may cost itself messages, and nobody else time.

use crate::flood::{Flood, Flooded};
use crate::load::probes;
use crate::machine::{resident_kb, spread_ms};
use crate::report::{Report, round};
use crate::rig::{Rig, Way};
use crate::wire::{connect, subscribe};
use serde_json::json;

/// How much later than without it, in ms.
const LATER: f64 = 50.0;

/// A flood without a stalled subscriber, and one with it.
pub(crate) async fn run(messages: usize, report: &mut Report) {
    let calm = flood(messages, false, report).await;
    let stalled = flood(messages, true, report).await;
    let found = format!("{:.1} ms later ({stalled:.1} against {calm:.1})", stalled - calm);
    report.goal("worst PUBACK beside a stalled subscriber: 50 ms later", found, stalled - calm <= LATER);
}

async fn flood(messages: usize, stalled: bool, report: &mut Report) -> f64 {
    let probes = probes(1_000);
    let rig = Rig::start(&probes, Way::Door).await;
    // Held open and never read: its socket fills, then its queue.
    let mut deaf = connect(rig.port, "deaf").await;
    if stalled {
        subscribe(&mut deaf, "hatchwarden/#", 1).await;
    }
    let Flooded { waits, .. } = Flood::new(&probes, messages).publish(rig.port).await;
    let (p50, p99, worst) = spread_ms(waits);
    report.row(json!({
        "run": if stalled { "flood, stalled subscriber" } else { "flood" },
        "puback_ms": [round(p50), round(p99), round(worst)], "resident_kb": resident_kb(rig.id()),
    }));
    drop(deaf);
    rig.end(messages).await;
    worst
}
