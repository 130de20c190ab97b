//! The configuration of the demo's room.

use crate::config::{Config, FrontDoor, STILL_AT, Vessel, WayIn};
use chrono_tz::Tz;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::Path;
use units::{Band, RoomId, VesselId, VesselKind};

/// Two tanks and four tumblers; the front door takes any free port.
pub(super) fn config(store: &Path, page: SocketAddr) -> Result<Config, units::IdError> {
    let tank = |id: &str, low: f64, high: f64| vessel(id, VesselKind::Tank, None, Band::new(low, high));
    let tumbler = |id: &str, host: &str| vessel(id, VesselKind::Tumbler, Some(host), None);
    let vessels = [
        tank("V1", 25.5, 28.5),
        tank("V2", 27.5, 30.0),
        tumbler("TU1", "V1"),
        tumbler("TU2", "V1"),
        tumbler("TU3", "V1"),
        tumbler("TU4", "V2"),
    ];
    Ok(Config {
        room: RoomId::new("undercroft")?,
        zone: Tz::Europe__Lisbon,
        store: store.to_owned(),
        page,
        way_in: WayIn::FrontDoor(FrontDoor {
            listen: SocketAddr::from((Ipv4Addr::LOCALHOST, 0)),
            devices: Vec::new(),
            tls: None,
        }),
        vessels: vessels.into_iter().collect::<Result<_, _>>()?,
        maps: Vec::new(),
        listen: Vec::new(),
        webhook: None,
        species: None,
    })
}

fn vessel(
    id: &str,
    kind: VesselKind,
    host: Option<&str>,
    band: Option<Band>,
) -> Result<Vessel, units::IdError> {
    let host = host.map(VesselId::new).transpose()?;
    let id = VesselId::new(id)?;
    Ok(Vessel { id, kind, host, band, set_point: None, still_at: STILL_AT, silent_after: None })
}
