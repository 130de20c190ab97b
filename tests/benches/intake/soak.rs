//! Memory at 5,000 messages a second from 1,000 probes.

use crate::load::probes;
use crate::machine::{Cpu, resident_kb};
use crate::paced::Pace;
use crate::report::{Report, round};
use crate::rig::{Rig, Way};
use serde_json::json;
use std::time::Duration;
use tokio::time::{Instant, interval};

/// Most resident memory, in kB.
const MOST: u64 = 40 * 1024;
/// Most growth in the second half, in kB.
const GROWTH: i64 = 1024;
/// Between two looks.
const LOOK: Duration = Duration::from_secs(5);

/// Publishes and looks at the memory meanwhile.
pub(crate) async fn run(length: Duration, report: &mut Report) {
    let probes = probes(1_000);
    let rig = Rig::start(&probes, Way::Door).await;
    let (id, begun) = (rig.id(), Instant::now());
    let cpu = Cpu::look(&[id]);
    let mut looks = vec![(0, resident_kb(id))];
    let mut timer = interval(LOOK);
    let mut publish = std::pin::pin!(Pace::five_thousand(length).publish(rig.port, probes.clone()));
    let waits = loop {
        tokio::select! {
            waits = &mut publish => break waits,
            _ = timer.tick() => looks.push((begun.elapsed().as_secs(), resident_kb(id))),
        }
    };
    let used = cpu.since();
    tell(&looks, length, used.processes[0], used.foreign, report);
    rig.assert_fed(&probes).await;
    rig.end(waits.len()).await;
}

fn tell(looks: &[(u64, u64)], length: Duration, cores: f64, foreign: f64, report: &mut Report) {
    let half = length.as_secs() / 2;
    let at_half = looks.iter().find(|l| l.0 >= half).map_or(0, |l| l.1);
    let last = looks.last().map_or(0, |l| l.1);
    let most = looks.iter().map(|l| l.1).max().unwrap_or(0);
    report.row(json!({
        "run": "soak", "seconds": length.as_secs(), "cores": round(cores), "foreign_cores": round(foreign),
        "resident_kb": looks,
    }));
    let mb = |kb: u64| kb as f64 / 1024.0;
    let growth = last as i64 - at_half as i64;
    let seconds = length.as_secs();
    report.goal(
        &format!("memory at 5,000/s for {seconds} s: under 40 MB"),
        format!("{:.1} MB", mb(most)),
        most < MOST,
    );
    report.goal("its growth in the second half: under 1 MB", format!("{growth} kB"), growth < GROWTH);
}
