//! One scenario, played through the whole service.

use hatchwarden::boxed::Boxed;
use hatchwarden::config::{Config, read};
use sensors_sim::{Happening, Known, Room, Scenario, configuration, shipped};
use std::path::Path;
use store::{AlarmRow, Options, Store};
use units::{Grade, Span, Time};
use web::keeper::{Keeper, NewClutch, Record};

/// From when until when something held; to the end where it has no end.
#[derive(Debug, Clone)]
pub(crate) struct Spell {
    pub(crate) vessel: String,
    pub(crate) from: Time,
    pub(crate) to: Option<Time>,
}

/// What a scenario brought, and what the service made of it.
pub(crate) struct Night {
    pub(crate) start: Time,
    pub(crate) end: Time,
    pub(crate) log: Vec<AlarmRow>,
    /// Eggs or young that lay still.
    pub(crate) stops: Vec<Spell>,
    /// Alarms of stopped air, and of flow probes that are not heard.
    pub(crate) air_alarms: Vec<Spell>,
    pub(crate) silences: Vec<Spell>,
}

fn start() -> Time {
    Time::parse_rfc3339("2031-03-01T00:00:00Z").unwrap()
}

/// Plays a shipped scenario; every device measures at this rhythm.
pub(crate) async fn night(name: &str, seed: u64, rhythm: Span) -> Night {
    let scenario = Scenario::from_toml(&shipped(name).unwrap().text).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let whole = read(&configuration(&scenario), name, Path::new("")).unwrap();
    let config = Config { store: folder.path().join("room.db"), ..whole };
    let service = Boxed::start(&config, start()).await.unwrap();
    open_clutches(&service, &scenario).await;
    let end = start() + scenario.length.span();
    let mut room = Room::new(scenario, seed, start());
    room.set_rhythm(rhythm);
    let mut happened = Vec::new();
    room.play(end, &mut happened);
    let mut stops = Vec::new();
    for h in happened {
        match h {
            Happening::Sent(sent) => {
                service.move_to(sent.at).await.unwrap();
                service.deliver(&sent.topic, sent.payload, false).await.unwrap();
            }
            Happening::Truth(truth) => note(&mut stops, truth.at, truth.what),
            Happening::Link { .. } => {}
        }
    }
    service.move_to(end).await.unwrap();
    service.stop().await;
    let store = Store::open(&config.store, Options::default()).unwrap();
    let log = store.reader().unwrap().alarm_log_between(start(), end).unwrap();
    let air_alarms = spells(&log, &[".air-stopped"]);
    let silences = spells(&log, &[".silent.air-flow", ".silent.water-flow"]);
    Night { start: start(), end, log, stops, air_alarms, silences }
}

fn note(stops: &mut Vec<Spell>, at: Time, what: Known) {
    match what {
        Known::Still { place, .. } => stops.push(Spell { vessel: place, from: at, to: None }),
        Known::Turning { place, .. } => {
            let open = stops.iter_mut().find(|s| s.vessel == place && s.to.is_none());
            open.unwrap().to = Some(at);
        }
        _ => {}
    }
}

/// Alarms of some kinds: each from its announcement until it is gone.
fn spells(log: &[AlarmRow], kinds: &[&str]) -> Vec<Spell> {
    let mut all: Vec<Spell> = Vec::new();
    for row in log {
        let vessel = kinds.iter().find_map(|kind| row.key.strip_suffix(kind));
        // What stands for others has no place of its own: they are in the log beneath it.
        let Some(vessel) = vessel.filter(|v| !v.contains(':')) else { continue };
        let open = all.iter_mut().find(|s| s.vessel == vessel && s.to.is_none());
        // Raised, or raised beneath an alarm that stands for it; while it is open, it calls again or is put beneath one.
        match (row.to.as_str(), open) {
            ("unacknowledged" | "suppressed" | "acknowledged", Some(_)) => {}
            ("unacknowledged" | "suppressed", None) => {
                all.push(Spell { vessel: vessel.to_owned(), from: row.at, to: None });
            }
            (_, Some(open)) => open.to = Some(row.at),
            (_, None) => {}
        }
    }
    all
}

async fn open_clutches(service: &Boxed, scenario: &Scenario) {
    for clutch in &scenario.clutches {
        let id: units::ClutchId = clutch.name.parse().unwrap();
        let host = scenario.tanks[0].vessel.parse().unwrap();
        let new = NewClutch {
            id: id.clone(),
            fish: if clutch.fish.is_empty() { "fry".to_owned() } else { clutch.fish.clone() },
            species: "generic-mouthbrooder".to_owned(),
            mother: None,
            day0_earliest: clutch.laid.after(start()),
            day0_latest: None,
            day0_grade: Grade::Seen,
            vessel: host,
        };
        service.desk().open_clutch(new, "keeper".to_owned()).await.unwrap();
        let vessel = clutch.place.parse().unwrap();
        let strip = Record::Strip { at: start() - Span::hours(1), vessel, alive: clutch.eggs, dead: 0 };
        service.desk().record(id, strip, "keeper".to_owned()).await.unwrap();
    }
}
