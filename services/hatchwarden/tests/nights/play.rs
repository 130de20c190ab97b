//! One night: a drawn room and the whole service, on one clock.

use crate::house::House;
use futures::future::join_all;
use hatchwarden::boxed::Boxed;
use hatchwarden::config::{Config, read};
use sensors_sim::{Happening, Room, Sent, Truth, configuration};
use std::path::Path;
use store::{AlarmRow, Options, OutboxItem, Store};
use units::{Grade, Span, Time};
use web::keeper::{Keeper, NewClutch, Record};

/// Rooms play from one o'clock in the afternoon on: by the evening the service knows them.
pub(crate) fn noon() -> Time {
    Time::parse_rfc3339("2031-03-01T13:00:00Z").unwrap()
}

/// One person is called for everything at every hour.
const CALLS: &str = "\n[mail]\nhost = 'smtp.example.org'\nfrom = 'room@example.org'\n\
                     [[call]]\nperson = 'Ada'\nmail = 'ada@example.org'\n[drill]\nevery_days = 0\n";

/// A moment of the night by the hour: 18 is the evening, 32 eight in the morning.
pub(crate) fn hour(h: f64) -> Time {
    noon() + Span::seconds(((h - 13.0) * 3600.0) as i64)
}

/// A room at play and the service that watches it.
pub(crate) struct Night {
    pub(crate) room: Room,
    pub(crate) service: Boxed,
    /// What really happened.
    pub(crate) truths: Vec<Truth>,
    /// While the broker is away nothing is delivered.
    pub(crate) deaf: bool,
    start: Time,
    config: Config,
    _folder: tempfile::TempDir,
}

impl Night {
    /// Begins at `start`.
    pub(crate) async fn begin(house: &House, seed: u64, start: Time) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let whole = configuration(&house.scenario) + CALLS;
        let whole = read(&whole, "night.toml", Path::new("")).unwrap();
        let config = Config { store: folder.path().join("room.db"), ..whole };
        let service = Boxed::start(&config, start).await.unwrap();
        open_clutches(&service, house, start).await;
        let room = Room::new(house.scenario.clone(), seed, start);
        Self { room, service, truths: Vec::new(), deaf: false, start, config, _folder: folder }
    }

    /// Plays on, and delivers what is sent meanwhile.
    pub(crate) async fn to(&mut self, to: Time) {
        let mut happened = Vec::new();
        self.room.play(to, &mut happened);
        let mut sent: Vec<Sent> = Vec::new();
        for h in happened {
            match h {
                Happening::Sent(message) if !self.deaf => sent.push(message),
                Happening::Truth(truth) => self.truths.push(truth),
                Happening::Sent(_) | Happening::Link { .. } => {}
            }
        }
        for moment in sent.chunk_by(|a, b| a.at == b.at) {
            self.service.move_to(moment[0].at).await.unwrap();
            let all = moment.iter().map(|s| self.service.deliver(&s.topic, s.payload.clone(), false));
            join_all(all).await.into_iter().for_each(|done| done.unwrap());
        }
    }

    /// Ends at the room's time; the log of alarms, and what was sent to people, in order.
    pub(crate) async fn end(self) -> (Vec<AlarmRow>, Vec<Message>) {
        let end = self.room.now();
        self.service.move_to(end).await.unwrap();
        self.service.stop().await;
        let store = Store::open(&self.config.store, Options::default()).unwrap();
        let reader = store.reader().unwrap();
        let mut sent: Vec<Message> = reader.outbox_pending().unwrap().iter().map(message).collect();
        sent.sort_by_key(|m| m.at);
        (reader.alarm_log_between(self.start, end + Span::seconds(1)).unwrap(), sent)
    }
}

/// What one person was sent.
pub(crate) struct Message {
    pub(crate) at: Time,
    /// Whether it asks to get up.
    pub(crate) calls: bool,
    /// The alarms that it is about.
    pub(crate) about: Vec<String>,
    pub(crate) text: String,
}

fn message(item: &OutboxItem) -> Message {
    let body: serde_json::Value = serde_json::from_str(&item.row.body).unwrap();
    let data = &body["data"];
    let one = |alarm: &serde_json::Value| alarm["id"].as_str().unwrap().to_owned();
    let about = match data["changes"].as_array() {
        Some(all) => all.iter().map(|change| one(&change["alarm"])).collect(),
        None => vec![one(data)],
    };
    let calls =
        ["alarm.raised", "alarm.repeated", "alarm.escalated"].contains(&body["type"].as_str().unwrap());
    Message { at: item.row.created, calls, about, text: data["message"].as_str().unwrap().to_owned() }
}

/// Whether a line of the log calls somebody: an alarm that was not there before, or had gone.
pub(crate) fn calls(row: &AlarmRow) -> bool {
    row.to == "unacknowledged" && row.from != row.to
}

async fn open_clutches(service: &Boxed, house: &House, start: Time) {
    for plan in &house.scenario.clutches {
        let id: units::ClutchId = plan.name.parse().unwrap();
        let new = NewClutch {
            id: id.clone(),
            fish: "Labidochromis caeruleus".to_owned(),
            species: "generic-mouthbrooder".to_owned(),
            mother: None,
            day0_earliest: plan.laid.after(start),
            day0_latest: None,
            day0_grade: Grade::Seen,
            vessel: "V1".parse().unwrap(),
        };
        service.desk().open_clutch(new, "keeper".to_owned()).await.unwrap();
        let vessel = plan.place.parse().unwrap();
        let strip = Record::Strip { at: start - Span::hours(1), vessel, alive: plan.eggs, dead: 0 };
        service.desk().record(id, strip, "keeper".to_owned()).await.unwrap();
    }
}
