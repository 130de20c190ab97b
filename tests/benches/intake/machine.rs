//! What the machine says: processor time, memory, the disk's flush, and order in numbers.

use std::fs::File;
use std::io::Write;
use std::time::{Duration, Instant};

/// Ticks of /proc a second (`getconf CLK_TCK`; 100 on every Linux of today).
const TICKS: f64 = 100.0;

/// The wall clock, µs since 1970.
#[expect(
    clippy::disallowed_methods,
    reason = "payloads carry the time, and the service compares it with its own"
)]
pub(crate) fn unix_micros() -> i64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap();
    i64::try_from(since.as_micros()).unwrap()
}

/// Processor seconds used so far: by the whole machine, by ourselves, by each process asked about.
#[derive(Debug, Clone)]
pub(crate) struct Cpu {
    at: Instant,
    machine: f64,
    own: f64,
    processes: Vec<(u32, f64)>,
}

/// Processor time between two looks, in cores.
#[derive(Debug, Clone)]
pub(crate) struct Used {
    /// By anything that is not ours.
    pub(crate) foreign: f64,
    /// By the bench itself.
    pub(crate) own: f64,
    /// By each process asked about.
    pub(crate) processes: Vec<f64>,
    /// Wall time.
    pub(crate) wall: Duration,
}

impl Cpu {
    /// A look at these processes.
    pub(crate) fn look(processes: &[u32]) -> Self {
        Self {
            at: Instant::now(),
            machine: machine_seconds(),
            own: process_seconds("self"),
            processes: processes.iter().map(|p| (*p, process_seconds(&p.to_string()))).collect(),
        }
    }

    /// What was used since.
    pub(crate) fn since(&self) -> Used {
        let now = Self::look(&self.processes.iter().map(|p| p.0).collect::<Vec<_>>());
        let wall = now.at - self.at;
        let cores = |seconds: f64| seconds / wall.as_secs_f64();
        let processes: Vec<f64> =
            now.processes.iter().zip(&self.processes).map(|(b, a)| cores(b.1 - a.1)).collect();
        let own = cores(now.own - self.own);
        let all = cores(now.machine - self.machine);
        let foreign = (all - own - processes.iter().sum::<f64>()).max(0.0);
        Used { foreign, own, processes, wall }
    }
}

fn machine_seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/stat").unwrap();
    let ticks: Vec<f64> =
        text.lines().next().unwrap().split_whitespace().skip(1).map(|n| n.parse().unwrap()).collect();
    // user, nice, system, idle, iowait, irq, softirq: neither idle nor waiting for the disk.
    (ticks[0] + ticks[1] + ticks[2] + ticks[5] + ticks[6]) / TICKS
}

fn process_seconds(process: &str) -> f64 {
    let text = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap();
    // The name in brackets may hold blanks; user and system time are fields 14 and 15.
    let rest = text.rsplit_once(')').unwrap().1;
    let field = |n: usize| rest.split_whitespace().nth(n - 3).unwrap().parse::<f64>().unwrap();
    (field(14) + field(15)) / TICKS
}

/// Resident memory of a process in kB.
pub(crate) fn resident_kb(process: u32) -> u64 {
    let text = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = text.lines().find_map(|l| l.strip_prefix("VmRSS:")).unwrap();
    line.trim().trim_end_matches("kB").trim().parse().unwrap()
}

/// Median and 99th percentile in ms of an fsync of 4 kB appended, on the disk where the stores lie.
pub(crate) fn fsync_ms() -> (f64, f64) {
    let mut file: File = tempfile::tempfile_in(folder()).unwrap();
    let waits: Vec<u32> = (0..200)
        .map(|_| {
            file.write_all(&[7; 4096]).unwrap();
            let begun = Instant::now();
            file.sync_all().unwrap();
            crate::flood::micros(begun.elapsed())
        })
        .collect();
    let (p50, p99, _) = spread_ms(waits);
    (p50, p99)
}

/// Where stores and measurements lie: in the target folder, which is on a disk.
pub(crate) fn folder() -> &'static str {
    env!("CARGO_TARGET_TMPDIR")
}

/// Median, 99th percentile and most, µs in and ms out.
pub(crate) fn spread_ms(mut micros: Vec<u32>) -> (f64, f64, f64) {
    micros.sort_unstable();
    let at = |share: f64| f64::from(micros[((micros.len() - 1) as f64 * share).round() as usize]) / 1000.0;
    (at(0.5), at(0.99), at(1.0))
}

/// The middle one.
pub(crate) fn median(mut numbers: Vec<f64>) -> f64 {
    numbers.sort_by(f64::total_cmp);
    numbers[numbers.len() / 2]
}
