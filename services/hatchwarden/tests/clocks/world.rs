//! A tumbler with a clutch in its tank, watched by the whole service in a box, and three clocks: real time, that of the
//! service's machine, and that of the device.

use hatchwarden::boxed::Boxed;
use hatchwarden::config::{Config, read};
use std::path::Path;
use store::{Reader, ReadingRow};
use units::{Grade, ProbeKey, Span, Time};
use web::keeper::{Keeper, NewClutch, Record};
use web::view::RoomView;

pub const AIR: &str = "TU2.air-stopped";
pub const CLOCK: &str = "room.clock-moved";
/// Settings of the air alarm (`alarms::Settings::air_stopped`).
pub const ON_DELAY: Span = Span::seconds(20);
pub const OFF_DELAY: Span = Span::seconds(30);
pub const AGAIN: Span = Span::minutes(5);
/// `config::SILENT_AFTER`.
pub const SILENT: Span = Span::minutes(3);
/// The air flow comes so often, the temperature every third time.
pub const RHYTHM: Span = Span::seconds(10);

pub fn at(text: &str) -> Time {
    Time::parse_rfc3339(text).unwrap()
}

/// Lisbon keeps UTC in November.
pub fn begin() -> Time {
    at("2026-11-20T12:00:00Z")
}

pub fn config(folder: &Path) -> Config {
    let text = include_str!("../../../../config/room.toml");
    Config { store: folder.join("room.db"), ..read(text, "room.toml", Path::new("")).unwrap() }
}

/// A change of an alarm.
#[derive(Debug, Clone, PartialEq)]
pub struct Move {
    /// In real time.
    pub at: Time,
    pub key: String,
    pub to: String,
    pub text: String,
}

pub struct World {
    pub service: Boxed,
    config: Config,
    _folder: tempfile::TempDir,
    /// Real time.
    pub now: Time,
    /// How far the machine's clock is ahead.
    pub off: Span,
    /// How far the device's clock is ahead, if it sends times.
    pub device: Option<Span>,
    pub air: f64,
    pub talks: bool,
    /// What the device has measured while it could not send.
    pub kept: Vec<(String, String)>,
    told: u64,
    pub moves: Vec<Move>,
}

impl World {
    pub async fn start(device: Option<Span>) -> Self {
        Self::start_by(device, begin(), |config| config).await
    }

    pub async fn start_by(device: Option<Span>, now: Time, how: impl FnOnce(Config) -> Config) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let config = how(config(folder.path()));
        let service = Boxed::start(&config, now).await.unwrap();
        let mut world = Self {
            service,
            config,
            _folder: folder,
            now,
            off: Span::ZERO,
            device,
            air: 0.8,
            talks: true,
            kept: Vec::new(),
            told: 0,
            moves: Vec::new(),
        };
        world.open_clutch().await;
        world
    }

    async fn open_clutch(&mut self) {
        let id: units::ClutchId = "C11".parse().unwrap();
        let new = NewClutch {
            id: id.clone(),
            fish: "Astatotilapia burtoni".to_owned(),
            species: "generic-mouthbrooder".to_owned(),
            mother: None,
            day0_earliest: self.now - Span::days(4),
            day0_latest: None,
            day0_grade: Grade::Seen,
            vessel: "V1".parse().unwrap(),
        };
        let desk = self.service.desk();
        desk.open_clutch(new, "keeper".to_owned()).await.unwrap();
        let vessel = "TU2".parse().unwrap();
        let strip = Record::Strip { at: self.now - Span::hours(2), vessel, alive: 44, dead: 0 };
        desk.record(id, strip, "keeper".to_owned()).await.unwrap();
    }

    /// Real time passes.
    pub async fn run(&mut self, span: Span) {
        let end = self.now + span;
        while self.now + RHYTHM <= end {
            self.now += RHYTHM;
            self.service.move_to(self.now + self.off).await.unwrap();
            self.measure("TU2/air-flow", self.air).await;
            if self.now.millis() % 30_000 == 0 {
                self.measure("V1/temperature", 27.0).await;
            }
        }
        self.now = end;
        self.service.move_to(end + self.off).await.unwrap();
        self.listen();
    }

    async fn measure(&mut self, probe: &str, value: f64) {
        let payload = match self.device {
            Some(ahead) => format!(r#"{{"v":{value},"t":{}}}"#, (self.now + ahead).millis() / 1_000),
            None => value.to_string(),
        };
        let topic = format!("hatchwarden/undercroft/{probe}");
        if self.talks {
            self.service.deliver(&topic, payload, false).await.unwrap();
        } else {
            self.kept.push((topic, payload));
        }
    }

    /// Sends what was kept, ten a second, and talks again.
    pub async fn send_kept(&mut self) {
        self.talks = true;
        for (topic, payload) in std::mem::take(&mut self.kept) {
            self.now += Span::from_millis(100);
            self.service.move_to(self.now + self.off).await.unwrap();
            self.service.deliver(&topic, payload, false).await.unwrap();
        }
        self.listen();
        let next = self.now.millis().div_euclid(30_000) * 30_000 + 30_000;
        self.run(Time::from_millis(next) - self.now).await;
    }

    /// The machine's clock jumps.
    pub async fn jump(&mut self, by: Span) {
        self.off = self.off + by;
        self.service.jump(by).await.unwrap();
        self.listen();
    }

    /// The service is away for a while, and the machine's clock is `by` ahead of what it would be when it comes again.
    pub async fn restart(self, away: Span, by: Span) -> Self {
        let (now, off) = (self.now + away, self.off + by);
        let Self { service, config, _folder, device, air, talks, kept, told, moves, .. } = self;
        service.stop().await;
        let service = Boxed::start(&config, now + off).await.unwrap();
        let mut world = Self { service, config, _folder, now, off, device, air, talks, kept, told, moves };
        world.service.move_to(now + off).await.unwrap();
        world.listen();
        world
    }

    fn reader(&self) -> Reader {
        Reader::open(&self.config.store).unwrap()
    }

    /// Takes in what has come to the alarm log since, in the order in which it came.
    fn listen(&mut self) {
        let mut items = self.reader().alarm_log(10_000, None).unwrap();
        items.retain(|i| i.id > self.told);
        items.sort_by_key(|i| i.id);
        self.told = items.last().map_or(self.told, |i| i.id);
        let real = |i: store::AlarmLogItem| Move {
            at: i.row.at - self.off,
            key: i.row.key,
            to: i.row.to,
            text: i.row.text,
        };
        self.moves.extend(items.into_iter().map(real));
    }

    /// Time from `from` and state of each change of an alarm.
    pub fn of(&self, key: &str, from: Time) -> Vec<(Span, &str)> {
        self.moves.iter().filter(|m| m.key == key).map(|m| (m.at - from, m.to.as_str())).collect()
    }

    /// Everything that was told but of one alarm.
    pub fn but(&self, key: &str) -> Vec<&Move> {
        self.moves.iter().filter(|m| m.key != key).collect()
    }

    pub async fn page(&self) -> RoomView {
        self.service.desk().look().await.unwrap();
        self.service.desk().room().borrow().as_ref().clone()
    }

    /// What is stored of a probe between two times.
    pub fn stored(&self, probe: &str, from: Time, to: Time) -> Vec<ReadingRow> {
        let probe: ProbeKey = probe.parse().unwrap();
        self.reader().range_rows(&probe, from, to).unwrap()
    }
}
