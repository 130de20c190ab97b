//! PUBACK latency at 5,000 messages a second: durable at the front door, against mosquitto that keeps nothing.

use crate::counter::Counter;
use crate::load::probes;
use crate::machine::{Cpu, fsync_ms, spread_ms};
use crate::paced::Pace;
use crate::report::{Report, round};
use crate::rig::{Rig, Way, everything, mosquitto};
use serde_json::json;
use std::time::Duration;

/// Durable against not durable, 99th percentiles.
const TIMES: f64 = 4.0;

/// Mosquitto alone, mosquitto with a counting subscriber, the front door.
pub(crate) async fn run(length: Duration, report: &mut Report) {
    let alone = broker(length, false, report).await;
    let counted = broker(length, true, report).await;
    let (door, fsync) = door(length, report).await;
    let found = format!(
        "{:.1} x ({:.2} / {:.2} ms, fsync p50 {:.2} p99 {:.2})",
        door / alone,
        door,
        alone,
        fsync.0,
        fsync.1
    );
    report.goal("PUBACK p99 at 5,000/s: at most 4 x mosquitto's alone", found, door <= TIMES * alone);
    let found = format!("{:.1} x ({door:.2} / {counted:.2} ms)", door / counted);
    report.goal("the same against mosquitto with a subscriber", found, door <= TIMES * counted);
}

async fn broker(length: Duration, subscribed: bool, report: &mut Report) -> f64 {
    let broker = mosquitto().await;
    let pace = Pace::five_thousand(length);
    let count = 5 * length.as_millis() as usize;
    let counter = match subscribed {
        true => Some(Counter::start(broker.port, &everything(), count).await),
        false => None,
    };
    let cpu = Cpu::look(&[broker.id()]);
    let waits = pace.publish(broker.port, probes(1_000)).await;
    if let Some(counter) = counter {
        assert_eq!(counter.end().await.0, count, "delivered = published");
    }
    let name = if subscribed { "latency, mosquitto and counter" } else { "latency, mosquitto alone" };
    let p99 = tell(name, waits, &cpu, fsync_ms(), report);
    broker.kill().await;
    p99
}

async fn door(length: Duration, report: &mut Report) -> (f64, (f64, f64)) {
    let probes = probes(1_000);
    let rig = Rig::start(&probes, Way::Door).await;
    let fsync = fsync_ms();
    let cpu = Cpu::look(&[rig.id()]);
    let waits = Pace::five_thousand(length).publish(rig.port, probes.clone()).await;
    let count = waits.len();
    let p99 = tell("latency, front door", waits, &cpu, fsync, report);
    rig.end(count).await;
    (p99, fsync)
}

fn tell(name: &str, waits: Vec<u32>, cpu: &Cpu, fsync: (f64, f64), report: &mut Report) -> f64 {
    let used = cpu.since();
    let (p50, p99, worst) = spread_ms(waits);
    report.row(json!({
        "run": name, "puback_ms": [round(p50), round(p99), round(worst)], "cores": round(used.processes[0]),
        "foreign_cores": round(used.foreign), "fsync_p50_ms": round(fsync.0), "fsync_p99_ms": round(fsync.1),
    }));
    p99
}
