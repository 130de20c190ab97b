//! How long after an alarm is due its announcement leaves: the whole engine by the machine's clock, with every commit on
//! the disk, under 1,000 readings a second of other probes. Due is the time of the reading plus the on-delay. Once with the
//! store at rest beside that, once while something else writes big batches through the same store, as sealing would.
//!
//! `cargo bench -p hatchwarden --bench announce -- [ALARMS]`; times are to the millisecond, on a machine that does nothing
//! else. Wanted: p99 under 50 ms.
#![allow(
    clippy::unwrap_used,
    missing_docs,
    reason = "a bench: a broken expectation is the failure to report"
)]

use hatchwarden::boxed::{Boxed, Published};
use hatchwarden::config::{Config, read};
use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use store::{Batch, ReadingRow};
use tokio::time::{MissedTickBehavior, interval, sleep};
use units::{Grade, Span, Time};
use web::keeper::{Keeper, NewClutch, Record};

const TUMBLERS: usize = 8;
/// Each sends once a second.
const OTHERS: usize = 1_000;
const ALARMS: usize = 208;
/// On-delay and off-delay of air.
const DELAY: Span = Span::seconds(1);
/// One tumbler stops, turns again, and stands still anew after this.
const ROUND: Duration = Duration::from_secs(3);
/// Rows in a batch of the other writer; the engine itself takes 5,000 messages into one at most.
const BESIDE: [i64; 2] = [store::ASIDE_ROWS as i64, 10_000];

fn configuration(folder: &Path) -> Config {
    let mut text = "[room]\nname = 'bench'\ntime_zone = 'UTC'\n[store]\nfile = 'room.db'\n[page]\n\
                    listen = '127.0.0.1:4871'\n[mqtt]\nfront_door = '127.0.0.1:1883'\n"
        .to_owned();
    (0..OTHERS)
        .for_each(|n| write!(text, "[[vessel]]\nid = 'T{n}'\nkind = 'tank'\nband = [20, 30]\n").unwrap());
    for n in 0..TUMBLERS {
        // Each on a line of its own: what stops together on one is announced as one.
        write!(text, "[[vessel]]\nid = 'TU{n}'\nkind = 'tumbler'\nhost = 'T0'\nair_line = 'P{n}'\n").unwrap();
        write!(text, "still_on_delay_s = {0}\nstill_off_delay_s = {0}\n", DELAY.as_seconds()).unwrap();
    }
    read(&text, "bench.toml", folder).unwrap()
}

async fn open_clutches(service: &Boxed) {
    let now = service.clock().now();
    for n in 0..TUMBLERS {
        let id: units::ClutchId = format!("C{n}").parse().unwrap();
        let new = NewClutch {
            id: id.clone(),
            fish: "Labidochromis caeruleus".to_owned(),
            species: "generic-mouthbrooder".to_owned(),
            mother: None,
            day0_earliest: now - Span::days(4),
            day0_latest: None,
            day0_grade: Grade::Seen,
            vessel: "T0".parse().unwrap(),
        };
        service.desk().open_clutch(new, "keeper".to_owned()).await.unwrap();
        let vessel = format!("TU{n}").parse().unwrap();
        let strip = Record::Strip { at: now - Span::hours(1), vessel, alive: 30, dead: 0 };
        service.desk().record(id, strip, "keeper".to_owned()).await.unwrap();
    }
}

/// A reading of the present; its time.
async fn send(service: &Boxed, probe: &str, value: f64) -> Time {
    let now = service.clock().now();
    let (s, ms) = (now.millis() / 1000, now.millis() % 1000);
    let payload = format!("{{\"v\":{value},\"t\":{s}.{ms:03}}}");
    service.deliver(&format!("hatchwarden/bench/{probe}"), payload, false).await.unwrap();
    now
}

/// Every other probe once a second, evenly over it.
async fn flood(service: Arc<Boxed>) {
    let mut tick = interval(Duration::from_millis(10));
    // Whatever the machine does, as many come.
    tick.set_missed_tick_behavior(MissedTickBehavior::Burst);
    for n in (0..OTHERS).step_by(OTHERS / 100).cycle() {
        tick.tick().await;
        for i in n..n + OTHERS / 100 {
            let service = service.clone();
            tokio::spawn(
                async move { send(&service, &format!("T{i}/temperature"), 26.0 + i as f64 / 1e3).await },
            );
        }
    }
}

/// Batches one after another, each longer ago than any other reading, until it is told to stop; how many.
async fn write_beside(service: Arc<Boxed>, rows: i64, busy: Arc<AtomicBool>) -> u64 {
    let (mut at, mut written) = (service.clock().now() - Span::days(rows), 0);
    while busy.load(Ordering::Relaxed) {
        let row = |i| ReadingRow {
            probe: format!("T{}/ph", i % 100).parse().unwrap(),
            time: at + Span::from_millis(i),
            value: 8.0,
            received: at,
            sequence: None,
            fresh: false,
            flags: 0,
        };
        let readings = (0..rows).map(row).collect();
        service.store().commit_aside(Batch { readings, ..Batch::default() }).await.unwrap();
        at += Span::from_millis(rows);
        written += 1;
    }
    written
}

/// Lets one tumbler stop again and again; when each alarm was due.
async fn stops(service: Arc<Boxed>, tumbler: usize, times: usize) -> Vec<(String, Time)> {
    let (vessel, mut due) = (format!("TU{tumbler}"), Vec::new());
    let probe = format!("{vessel}/air-flow");
    sleep(ROUND * tumbler as u32 / TUMBLERS as u32).await; // in turn, never two at once
    for _ in 0..times {
        let stopped = send(&service, &probe, 0.0).await;
        due.push((vessel.clone(), stopped + DELAY));
        sleep(Duration::from_millis(1_600)).await;
        send(&service, &probe, 0.45).await;
        sleep(Duration::from_millis(1_100)).await;
        send(&service, &probe, 0.45).await; // an off-delay ends at a reading
        sleep(Duration::from_millis(300)).await;
    }
    due
}

/// When each alarm left, after it was due. A publication before that is of an earlier one.
fn delays(due: &[(String, Time)], published: &[Published]) -> Vec<Span> {
    let left = |(vessel, at): &(String, Time)| {
        let topic = format!("hatchwarden/bench/alarm/{vessel}");
        let fits = |p: &&Published| p.at >= *at && p.topic == topic && stands(p);
        published.iter().find(fits).map(|p| p.at - *at)
    };
    let mut all: Vec<Span> = due.iter().map(|d| left(d).expect("every alarm is announced")).collect();
    all.sort_unstable();
    all
}

fn stands(p: &Published) -> bool {
    let told: serde_json::Value = serde_json::from_slice(&p.payload).unwrap_or_default();
    let alarms = told["alarms"].as_array();
    alarms.is_some_and(|all| {
        all.iter().any(|a| a["condition"] == "air stopped" && a["state"] == "unacknowledged")
    })
}

async fn measure(service: &Arc<Boxed>, what: &str, alarms: usize) {
    let works = (0..TUMBLERS).map(|n| tokio::spawn(stops(service.clone(), n, alarms / TUMBLERS)));
    let mut due = Vec::new();
    for work in works.collect::<Vec<_>>() {
        due.extend(work.await.unwrap());
    }
    let all = delays(&due, &service.announcements());
    let at = |share: f64| all[((all.len() - 1) as f64 * share) as usize].millis();
    let (n, worst) = (all.len(), all[all.len() - 1].millis());
    println!(
        "{what:<40} | {n:>5} alarms | p50 {:>5} ms | p99 {:>5} ms | worst {worst:>5} ms",
        at(0.5),
        at(0.99)
    );
}

#[tokio::main]
async fn main() {
    let alarms = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(ALARMS).max(TUMBLERS);
    // Beside the build: a temporary folder may lie in memory.
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let config = configuration(folder.path());
    let service = Arc::new(Boxed::start_real(&config).await.unwrap());
    open_clutches(&service).await;
    println!("{OTHERS} readings a second of other probes; {TUMBLERS} tumblers in turn, on-delay {DELAY}");
    let flood = tokio::spawn(flood(service.clone()));
    sleep(Duration::from_secs(3)).await; // every probe has been heard by then
    measure(&service, "store at rest beside that", alarms).await;
    for rows in BESIDE {
        let busy = Arc::new(AtomicBool::new(true));
        let beside = tokio::spawn(write_beside(service.clone(), rows, busy.clone()));
        measure(&service, &format!("batches of {rows} rows beside that"), alarms).await;
        busy.store(false, Ordering::Relaxed);
        println!("    {} such batches were written", beside.await.unwrap());
    }
    flood.abort();
}
