//! A room in a box with two weeks of readings behind it, and the command beside it on the same store.

use hatchwarden::boxed::Boxed;
use hatchwarden::config::{Config, read};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use store::{Batch, ReadingRow};
use units::{Grade, Span, Time};
use web::keeper::{Keeper, NewClutch, Record};
use web::review::{Review, VesselNight};

pub fn at(text: &str) -> Time {
    Time::parse_rfc3339(text).unwrap()
}

/// The example room in a zone, its first tank held at 26 °C, so that what is to come does not follow the last day.
fn text(zone: &str, more: &str) -> String {
    let text = include_str!("../../../../config/room.toml");
    let tank = "id = \"V1\"\nkind = \"tank\"\n";
    assert!(text.contains(tank));
    let text =
        text.replace(tank, &format!("{tank}set_point = 26.0\n")).replace("../data/undercroft.db", "room.db");
    format!("{}\n{more}", text.replace("Europe/Lisbon", zone))
}

pub struct House {
    pub service: Boxed,
    config: Config,
    file: PathBuf,
    pub dusk: Time,
    pub dawn: Time,
}

impl House {
    /// The service starts half an hour after dawn.
    pub async fn start(folder: &Path, zone: &str, night: (&str, &str), more: &str) -> Self {
        let (dusk, dawn) = (at(night.0), at(night.1));
        let text = text(zone, more);
        let file = folder.join("room.toml");
        std::fs::write(&file, &text).unwrap();
        let config = read(&text, "room.toml", folder).unwrap();
        let service = Boxed::start(&config, dawn + Span::minutes(30)).await.unwrap();
        Self { service, config, file, dusk, dawn }
    }

    /// Stops the service, and starts it at another time on the same store.
    pub async fn again(self, at: Time) -> Self {
        self.service.stop().await;
        Self { service: Boxed::start(&self.config, at).await.unwrap(), ..self }
    }

    /// Readings that came in when they were measured: every `every` from two weeks and a day before dusk to an hour after dawn.
    pub async fn fill(&self, probe: &str, every: Span, value: impl Fn(Time) -> Option<f64>) {
        let mut t = self.dusk - Span::days(15);
        let mut readings = Vec::new();
        while t <= self.dawn + Span::hours(1) {
            readings.extend(value(t).map(|value| ReadingRow {
                probe: probe.parse().unwrap(),
                time: t,
                value,
                received: t,
                sequence: None,
                fresh: true,
                flags: 0,
            }));
            t += every;
        }
        self.service.store().commit(Batch { readings, ..Batch::default() }).await.unwrap();
    }

    /// C11, laid twenty hours before dusk in V1 and taken into TU2 two hours before it, all of it written down now.
    pub async fn clutch(&self) {
        let desk = self.service.desk();
        let id: units::ClutchId = "C11".parse().unwrap();
        let new = NewClutch {
            id: id.clone(),
            fish: "Astatotilapia burtoni".to_owned(),
            species: "oreochromis-niloticus".to_owned(),
            mother: None,
            day0_earliest: self.dusk - Span::hours(20),
            day0_latest: None,
            day0_grade: Grade::Seen,
            vessel: "V1".parse().unwrap(),
        };
        desk.open_clutch(new, "keeper".to_owned()).await.unwrap();
        let taken = Record::Strip {
            at: self.dusk - Span::hours(2),
            vessel: "TU2".parse().unwrap(),
            alive: 41,
            dead: 0,
        };
        desk.record(id, taken, "keeper".to_owned()).await.unwrap();
    }

    pub async fn review(&self, date: &str) -> Review {
        self.service.desk().night(Some(web::review::date(date).unwrap())).await.unwrap()
    }

    /// `hatchwarden night` with more arguments.
    pub fn command(&self, args: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_hatchwarden"));
        command.args(["night", "--config", self.file.to_str().unwrap()]).args(args).output().unwrap()
    }
}

pub fn vessel<'a>(r: &'a Review, name: &str) -> &'a VesselNight {
    r.vessels.iter().find(|v| v.vessel.as_str() == name).unwrap()
}

/// What Python makes of a text; it fails by an exception.
pub fn python(program: &str, input: &str) -> serde_json::Value {
    use std::io::Write;
    let mut child = Command::new("python3")
        .args(["-c", program])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success(), "python with scipy; run tests/run once to install it");
    serde_json::from_slice(&out.stdout).unwrap()
}
