//! Messages a second, in interleaved rounds, as ratios to the bare floor.

use crate::counter::Counter;
use crate::flood::Flood;
use crate::load::{Probe, probes};
use crate::machine::{Cpu, fsync_ms, median, spread_ms};
use crate::report::{Report, round};
use crate::rig::{Rig, Way, everything, mosquitto};
use serde_json::json;
use std::time::{Duration, Instant};

/// Behind mosquitto: decode, judge, commit, ack, projections and alarms fed.
const BEHIND: f64 = 0.9;
/// The same through the front door.
const DOOR: f64 = 2.0;
/// More foreign processor time than this, in cores, makes a run suspect.
const FOREIGN: f64 = 0.2;

/// One measured flood.
struct Run {
    rate: f64,
    foreign: f64,
}

/// All rounds.
pub(crate) async fn run(rounds: usize, messages: usize, report: &mut Report) {
    let probes = probes(1_000);
    let (mut floor, mut behind, mut door) = (Vec::new(), Vec::new(), Vec::new());
    for n in 0..rounds {
        floor.push(bare(&probes, messages, n, report).await);
        behind.push(behind_broker(&probes, messages, n, report).await);
        door.push(front_door(&probes, messages, n, report).await);
    }
    let rate = |runs: &[Run]| median(runs.iter().map(|r| r.rate).collect());
    let foreign = median(floor.iter().chain(&behind).chain(&door).map(|r| r.foreign).collect());
    let base = rate(&floor);
    let found = |r: f64| format!("{:.2} F ({r:.0} / {base:.0} msg/s)", r / base);
    let (b, d) = (rate(&behind), rate(&door));
    report.goal("behind mosquitto, all of the way: at least 0.9 F", found(b), b >= BEHIND * base);
    report.goal("front door, all of the way: at least 2.0 F", found(d), d >= DOOR * base);
    let met = foreign <= FOREIGN;
    report.goal("foreign processor time at most 0.2 cores (median)", format!("{foreign:.2} cores"), met);
}

async fn bare(probes: &[Probe], messages: usize, round: usize, report: &mut Report) -> Run {
    let broker = mosquitto().await;
    let flood = Flood::new(probes, messages);
    let counter = Counter::start(broker.port, &everything(), messages).await;
    let measure = Measure::begin(&[broker.id()]);
    let flooded = flood.publish(broker.port).await;
    let (delivered, last) = counter.end().await;
    assert_eq!(delivered, messages, "delivered = published");
    let run = measure.end(
        "floor",
        round,
        messages,
        flooded.begun,
        last.max(flooded.acknowledged),
        flooded.waits,
        report,
    );
    broker.kill().await;
    run
}

async fn behind_broker(probes: &[Probe], messages: usize, round: usize, report: &mut Report) -> Run {
    let broker = mosquitto().await;
    let rig = Rig::start(probes, Way::Broker(broker.port)).await;
    let flood = Flood::new(probes, messages);
    let last = flood.last.clone();
    let measure = Measure::begin(&[broker.id(), rig.id()]);
    let flooded = flood.publish(broker.port).await;
    let committed = all_there(&rig, &last).await;
    let run = measure.end("behind", round, messages, flooded.begun, committed, flooded.waits, report);
    rig.assert_fed(probes).await;
    rig.end(messages).await;
    broker.kill().await;
    run
}

async fn front_door(probes: &[Probe], messages: usize, round: usize, report: &mut Report) -> Run {
    let rig = Rig::start(probes, Way::Door).await;
    let flood = Flood::new(probes, messages);
    let measure = Measure::begin(&[rig.id()]);
    let flooded = flood.publish(rig.port).await;
    let run =
        measure.end("door", round, messages, flooded.begun, flooded.acknowledged, flooded.waits, report);
    rig.assert_fed(probes).await;
    rig.end(messages).await;
    run
}

/// Waits until the last reading of each connection is committed: those before it then are too, for a broker delivers
/// in order ([MQTT-4.6.0-6]). The store is asked for four rows every 2 ms; all rows are counted afterwards.
async fn all_there(rig: &Rig, last: &[(String, i64)]) -> Instant {
    let store = rig.store();
    let sql =
        "SELECT count(*) FROM readings WHERE probe = (SELECT id FROM probes WHERE key = ?1) AND time = ?2";
    let there = |(key, time): &(String, i64)| {
        store.query_row(sql, rusqlite::params![key, time], |r| r.get::<_, i64>(0)).unwrap() == 1
    };
    let begun = Instant::now();
    while !last.iter().all(there) {
        assert!(begun.elapsed() < testkit::PATIENCE, "not delivered: {last:?}");
        tokio::time::sleep(Duration::from_millis(2)).await;
    }
    Instant::now()
}

struct Measure {
    fsync: (f64, f64),
    cpu: Cpu,
}

impl Measure {
    fn begin(processes: &[u32]) -> Self {
        let fsync = fsync_ms();
        Self { fsync, cpu: Cpu::look(processes) }
    }

    #[expect(clippy::too_many_arguments, reason = "one row of the table")]
    fn end(
        &self,
        what: &str,
        number: usize,
        messages: usize,
        begun: Instant,
        ended: Instant,
        waits: Vec<u32>,
        report: &mut Report,
    ) -> Run {
        let used = self.cpu.since();
        let rate = messages as f64 / (ended - begun).as_secs_f64();
        let (p50, p99, worst) = spread_ms(waits);
        let each = |cores: f64| round(cores * used.wall.as_secs_f64() * 1e6 / messages as f64);
        report.row(json!({
            "run": what, "round": number, "msg_per_s": rate.round(), "foreign_cores": round(used.foreign),
            "fsync_p50_ms": round(self.fsync.0), "fsync_p99_ms": round(self.fsync.1),
            "puback_ms": [round(p50), round(p99), round(worst)], "bench_us_per_msg": each(used.own),
            "process_us_per_msg": used.processes.iter().map(|c| each(*c)).collect::<Vec<_>>(),
        }));
        Run { rate, foreign: used.foreign }
    }
}
