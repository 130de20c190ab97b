//! A room of 100 probes: ten tanks with six each, and forty tumblers with their air.

use serde_json::json;
use std::fmt::Write;
use testkit::{Api, Hatchwarden, RoomFile};

/// Tanks, each with these.
pub(crate) const TANKS: usize = 10;
/// The probes of a tank, with a usual value and how far it swings.
pub(crate) const OF_A_TANK: [(&str, f64, f64); 6] = [
    ("temperature", 27.0, 0.6),
    ("ph", 8.0, 0.15),
    ("dissolved-oxygen", 7.2, 0.4),
    ("conductivity", 600.0, 15.0),
    ("level", 30.0, 0.8),
    ("power", 80.0, 40.0),
];
/// Tumblers.
pub(crate) const TUMBLERS: usize = 40;
/// Clutches in hand.
const CLUTCHES: usize = 20;

/// The keys of all probes, with a usual value and how far it swings.
pub(crate) fn probes() -> Vec<(String, f64, f64)> {
    let tanks = (1..=TANKS)
        .flat_map(|n| OF_A_TANK.map(|(quantity, middle, swing)| (format!("V{n}/{quantity}"), middle, swing)));
    let tumblers = (1..=TUMBLERS).map(|n| (format!("TU{n}/air-flow"), 0.9, 0.05));
    tanks.chain(tumblers).collect()
}

/// Its configuration and its store.
pub(crate) struct Room {
    pub(crate) file: RoomFile,
}

impl Room {
    pub(crate) fn new() -> Self {
        let mut more = String::new();
        for n in 3..=TANKS {
            let _ = write!(more, "[[vessel]]\nid = \"V{n}\"\nkind = \"tank\"\nband = [25.5, 28.5]\n");
        }
        for n in 5..=TUMBLERS {
            let host = n % TANKS + 1;
            let _ = write!(more, "[[vessel]]\nid = \"TU{n}\"\nkind = \"tumbler\"\nhost = \"V{host}\"\n");
        }
        Self { file: RoomFile::with_front_door(&more).0 }
    }

    pub(crate) async fn start(&self) -> Hatchwarden {
        Hatchwarden::run(&self.file).await
    }
}

/// Twenty clutches, five days old, in tumblers.
pub(crate) async fn clutches(api: &Api) {
    let spawned = (crate::history::now() - 5 * 86_400_000) / 1000;
    let spawned = units::Time::from_millis(spawned * 1000).to_string();
    for n in 1..=CLUTCHES {
        let new = json!({"id": format!("C{n:02}"), "fish": "Astatotilapia burtoni", "species": "generic-mouthbrooder", "mother": format!("m{n}"),
            "day0_earliest": spawned, "day0_grade": "seen", "vessel": format!("TU{n}"), "by": "the bench"});
        let (status, said) = api.post("api/v1/clutches", &new).await;
        assert_eq!(status, 201, "{said}");
        let taken = json!({"what": "strip", "at": spawned, "vessel": format!("TU{n}"), "alive": 30 + n, "dead": 0, "by": "the bench"});
        let (status, said) = api.post(&format!("api/v1/clutches/C{n:02}/records"), &taken).await;
        assert!(status < 300, "{said}");
    }
    api.until("twenty clutches with dates", "api/v1/room", |r| {
        let all = r["clutches"].as_array()?;
        (all.len() == CLUTCHES && all.iter().all(|c| c["hatch"].is_object())).then_some(())
    })
    .await;
}
