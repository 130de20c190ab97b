//! A room in a box whose water stands still.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, dead_code, reason = "test code")]

use hatchwarden::boxed::Boxed;
use hatchwarden::config::{Config, read};
use std::path::Path;
use units::{ClutchId, Grade, Span, Time};
use web::keeper::{Keeper, NewClutch};

pub fn begin() -> Time {
    Time::parse_rfc3339("2026-11-20T12:00:00Z").unwrap()
}

pub fn after(hours: i64) -> Time {
    begin() + Span::hours(hours)
}

pub fn c11() -> ClutchId {
    "C11".parse().unwrap()
}

/// A clutch in V1 whose water is read every ten minutes for so many hours at 26 °C.
pub async fn room(folder: &Path, hours: i64) -> Boxed {
    let text = include_str!("../../../../config/room.toml");
    let config = Config { store: folder.join("room.db"), ..read(text, "room.toml", Path::new("")).unwrap() };
    let service = Boxed::start(&config, begin()).await.unwrap();
    open(&service, "C11", begin()).await;
    for tenth in 0..=hours * 6 {
        service.move_to(begin() + Span::minutes(10 * tenth)).await.unwrap();
        water(&service, "26.0".to_owned()).await;
    }
    service
}

/// A clutch more in V1.
pub async fn open(service: &Boxed, id: &str, day0: Time) {
    let new = NewClutch {
        id: id.parse().unwrap(),
        fish: "Astatotilapia burtoni".to_owned(),
        species: "oreochromis-niloticus".to_owned(),
        mother: None,
        day0_earliest: day0,
        day0_latest: None,
        day0_grade: Grade::Seen,
        vessel: "V1".parse().unwrap(),
    };
    service.desk().open_clutch(new, "keeper".to_owned()).await.unwrap();
}

/// A message of the thermometer of V1.
pub async fn water(service: &Boxed, payload: String) {
    service.deliver("hatchwarden/undercroft/V1/temperature", payload.into_bytes(), false).await.unwrap();
}
