//! What a quiet room costs: 100 probes, each once in ten seconds.

use crate::load::probes;
use crate::machine::{Cpu, resident_kb};
use crate::paced::Pace;
use crate::report::{Report, round};
use crate::rig::{Rig, Way};
use serde_json::json;
use std::time::Duration;

/// Of one core.
const CORES: f64 = 0.01;

/// Ten messages a second from ten devices.
pub(crate) async fn run(length: Duration, report: &mut Report) {
    let probes = probes(100);
    let rig = Rig::start(&probes, Way::Door).await;
    let pace = Pace { messages: 1, every: Duration::from_millis(100), connections: 10, length };
    let cpu = Cpu::look(&[rig.id()]);
    let waits = pace.publish(rig.port, probes).await;
    let used = cpu.since();
    let cores = used.processes[0];
    report.row(json!({
        "run": "idle", "seconds": length.as_secs(), "cores": round(cores * 10.0) / 10.0, "resident_kb": resident_kb(rig.id()),
        "foreign_cores": round(used.foreign),
    }));
    report.goal(
        "100 probes once in 10 s: under 1 % of a core",
        format!("{:.2} %", cores * 100.0),
        cores < CORES,
    );
    rig.end(waits.len()).await;
}
