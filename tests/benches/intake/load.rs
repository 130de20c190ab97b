//! What the devices of a large room say: topics in the default shape, payloads that are accepted and fresh.

use std::fmt::Write;

/// The room that is published to.
pub(crate) const ROOM: &str = "bench";
/// Clutches that lie in the first tumblers of a full room.
pub(crate) const CLUTCHES: usize = 20;
/// Of every five vessels-and-probes: three probes at one tank, two tumblers in it.
const GROUP: usize = 5;

/// One probe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Probe {
    /// `vessel/quantity`, as the store writes it.
    pub(crate) key: String,
    /// Where it publishes.
    pub(crate) topic: String,
    /// Hundredths of its unit that it is about.
    centre: i64,
    /// Whether it says nothing but nought: a tumbler that has stopped.
    stopped: bool,
}

/// The probes of a room: of every five, temperature, pH and oxygen of a tank, and air of two tumblers that hang in it.
/// The second tumbler has stopped, so that an alarm stands.
pub(crate) fn probes(count: usize) -> Vec<Probe> {
    (0..count).map(probe).collect()
}

/// The tank and the tumblers of probe number `n`.
pub(crate) fn tank(n: usize) -> String {
    format!("V{}", n / GROUP + 1)
}

/// Tumbler number `n`, counted from 0.
pub(crate) fn tumbler(n: usize) -> String {
    format!("TU{}", n + 1)
}

fn probe(n: usize) -> Probe {
    let group = n / GROUP;
    let (vessel, quantity, centre) = match n % GROUP {
        0 => (tank(n), "temperature", 2_700),
        1 => (tank(n), "ph", 780),
        2 => (tank(n), "dissolved-oxygen", 650),
        part => (tumbler(group * 2 + part - 3), "air-flow", 250),
    };
    let key = format!("{vessel}/{quantity}");
    let topic = format!("hatchwarden/{ROOM}/{key}");
    Probe { stopped: vessel == tumbler(1), key, topic, centre }
}

impl Probe {
    /// What it says at `micros` (µs since 1970) with running number `n`: `{"v":26.91,"t":1790000000.123456,"n":7}`.
    pub(crate) fn payload(&self, n: u64, micros: i64, text: &mut String) {
        let wave = (n * 7 % 31) as i64 - 15;
        let value = if self.stopped { 0 } else { self.centre + wave };
        let (whole, part) = (value / 100, value % 100);
        let (seconds, rest) = (micros / 1_000_000, micros % 1_000_000);
        text.clear();
        let _ = write!(text, r#"{{"v":{whole}.{part:02},"t":{seconds}.{rest:06},"n":{n}}}"#);
    }
}
