//! The configuration of the demo's room.

use crate::config::{Config, ConfigError, FrontDoor, WayIn, read};
use chrono_tz::Tz;
use sensors_sim::{Scenario, configuration};
use std::net::{Ipv4Addr, SocketAddr};
use std::path::Path;

/// The configuration that watches the simulated room, with a store and a page of its own; the front door takes any
/// free port.
pub(super) fn config(scenario: &Scenario, store: &Path, page: SocketAddr) -> Result<Config, ConfigError> {
    let whole = read(&configuration(scenario), "the simulated room", Path::new(""))?;
    let door =
        FrontDoor { listen: SocketAddr::from((Ipv4Addr::LOCALHOST, 0)), devices: Vec::new(), tls: None };
    Ok(Config {
        zone: Tz::Atlantic__Reykjavik,
        store: store.to_owned(),
        page,
        way_in: WayIn::FrontDoor(door),
        ..whole
    })
}
