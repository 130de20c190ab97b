//! What the engine does at the end of a batch, for tests that drive a room by hand.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, dead_code, reason = "test code")]

use development::SpeciesTable;
use hatchwarden::config::read;
use hatchwarden::engine::restore;
use hatchwarden::room::{Outcome, Room, Setup, Wish};
use readings::Message;
use std::path::Path;
use std::sync::Arc;
use store::{Options, Store};
use units::{Grade, ProbeKey, Quantity, Span, Time};
use web::keeper::{NewClutch, Trouble};
use web::view::Window;

pub fn begin() -> Time {
    Time::parse_rfc3339("2026-11-20T12:00:00Z").unwrap()
}

/// The batch goes to the disk, then courses that are wanted are read from there, and what follows goes to the disk too.
pub async fn settle(room: &mut Room, store: &Store, now: Time, mut out: Outcome) {
    room.close_batch(now, &mut out);
    store.commit(out.batch).await.unwrap();
    if !room.wants_courses() {
        return;
    }
    for wanted in room.take_wanted() {
        let mut points = Vec::new();
        for (vessel, from, to) in wanted.spans {
            let probe = ProbeKey::new(vessel, Quantity::Temperature);
            let read = store.reader().unwrap().range(&probe, from, to).unwrap();
            let held = read.iter().filter(|(t, _)| *t < to);
            points.extend(held.map(|(t, raw)| (*t, wanted.offsets.corrected(&probe, *t, *raw))));
        }
        room.fill_course(&wanted.clutch, points);
    }
    let mut out = Outcome::default();
    room.close_batch(now, &mut out);
    store.commit(out.batch).await.unwrap();
}

/// A room of the example configuration with one clutch, C06, driven by hand.
pub struct Play {
    pub store: Store,
    pub setup: Arc<Setup>,
    pub room: Room,
    pub now: Time,
    vessel: String,
    _folder: tempfile::TempDir,
}

impl Play {
    pub async fn start(vessel: &str) -> Self {
        Self::start_with(vessel, "").await
    }

    /// With more in its configuration.
    pub async fn start_with(vessel: &str, more: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let options = Options { synchronous_full: false, ..Options::default() };
        let store = Store::open(&folder.path().join("room.db"), options).unwrap();
        let text = include_str!("../../../../config/room.toml");
        let config = read(&format!("{text}\n{more}"), "room.toml", Path::new("")).unwrap();
        let setup = Arc::new(Setup::new(&config, SpeciesTable::shipped()).unwrap());
        let room = restore(store.clone(), setup.clone(), begin()).await.unwrap();
        let mut play = Self { store, setup, room, now: begin(), vessel: String::new(), _folder: folder };
        play.vessel = vessel.to_owned();
        play.open("C06", "generic-mouthbrooder").await.unwrap();
        play
    }

    /// A clutch more, spawned now.
    pub async fn open(&mut self, id: &str, species: &str) -> Result<(), Trouble> {
        let new = NewClutch {
            id: id.parse().unwrap(),
            fish: "Pseudocrenilabrus philander".to_owned(),
            species: species.to_owned(),
            mother: None,
            day0_earliest: self.now,
            day0_latest: None,
            day0_grade: Grade::Seen,
            vessel: self.vessel.parse().unwrap(),
        };
        self.wish(Wish::OpenClutch(new)).await
    }

    /// Why the dates of C06 moved, the newest first.
    pub fn causes(&mut self) -> Vec<String> {
        let page = self.room.clutch_page(&"C06".parse().unwrap(), self.now).unwrap();
        page.shifts.into_iter().map(|s| s.cause).collect()
    }

    pub async fn wish(&mut self, wish: Wish) -> Result<(), Trouble> {
        let mut out = Outcome::default();
        self.room.wish(wish, "keeper", self.now, &mut out)?;
        settle(&mut self.room, &self.store, self.now, out).await;
        Ok(())
    }

    /// A wish, and a reading of V1 in the same batch.
    pub async fn wish_with_reading(&mut self, wish: Wish, celsius: f64) -> Result<(), Trouble> {
        let mut out = Outcome::default();
        self.room.wish(wish, "keeper", self.now, &mut out)?;
        self.read(celsius, &mut out);
        settle(&mut self.room, &self.store, self.now, out).await;
        Ok(())
    }

    fn read(&mut self, celsius: f64, out: &mut Outcome) {
        self.now += Span::minutes(10);
        self.room.tick(self.now, out);
        let payload = format!("{celsius:.2}");
        let message = Message {
            topic: "hatchwarden/undercroft/V1/temperature",
            payload: payload.as_bytes(),
            retained: false,
            received: self.now,
        };
        self.room.message(&message, self.now, out);
    }

    /// A message on one of the room's own topics, now.
    pub async fn hear(&mut self, place: &str, payload: &str) {
        let mut out = Outcome::default();
        self.room.tick(self.now, &mut out);
        let topic = format!("hatchwarden/undercroft/{place}");
        let message =
            Message { topic: &topic, payload: payload.as_bytes(), retained: false, received: self.now };
        self.room.message(&message, self.now, &mut out);
        settle(&mut self.room, &self.store, self.now, out).await;
    }

    /// Time passes; what falls due is done at its own moment.
    pub async fn pass(&mut self, span: Span) {
        let end = self.now + span;
        loop {
            let due = self.room.next_due().filter(|due| *due <= end);
            self.now = due.unwrap_or(end).max(self.now);
            let mut out = Outcome::default();
            self.room.tick(self.now, &mut out);
            settle(&mut self.room, &self.store, self.now, out).await;
            if due.is_none() {
                return;
            }
        }
    }

    /// Time passes while a place says the same again and again.
    pub async fn pass_hearing(&mut self, span: Span, every: Span, said: &[(&str, &str)]) {
        let end = self.now + span;
        while self.now < end {
            for (place, payload) in said {
                self.hear(place, payload).await;
            }
            self.pass(every).await;
        }
    }

    /// A reading of V1 each ten minutes.
    pub async fn water(&mut self, celsius: f64, hours: i64) {
        for _ in 0..6 * hours {
            let mut out = Outcome::default();
            self.read(celsius, &mut out);
            settle(&mut self.room, &self.store, self.now, out).await;
        }
    }

    pub fn hatch(&mut self) -> Window {
        self.room.view(self.now).clutches.iter().find(|c| c.id.as_str() == "C06").unwrap().hatch.unwrap()
    }

    /// Everything the page shows.
    pub fn shown(&mut self) -> serde_json::Value {
        let (view, probes) = (self.room.view(self.now), self.room.probes_view());
        let clutch = self.room.clutch_page(&"C06".parse().unwrap(), self.now);
        serde_json::json!([view, self.room.newest(), probes.comparisons, clutch])
    }

    pub async fn restart(&mut self) {
        self.room = restore(self.store.clone(), self.setup.clone(), self.now).await.unwrap();
        settle(&mut self.room, &self.store, self.now, Outcome::default()).await;
    }
}
