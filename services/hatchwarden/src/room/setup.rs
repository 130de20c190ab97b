//! What a room is made of, as the installer set it.

use crate::config::{Call, Config, Drills, MOVES_OVER, NightMail, Siren, Vessel, WayIn};
use alarms::{Condition, Deadlines};
use chrono::{LocalResult, TimeZone};
use chrono_tz::Tz;
use development::SpeciesTable;
use readings::{MapEntry, MapError};
use std::collections::{BTreeMap, HashMap};
use units::{RoomId, Span, Time, VesselId};

/// Everything about the room that does not change while the service runs.
#[derive(Debug)]
pub struct Setup {
    /// Name of the room.
    pub room: RoomId,
    /// The room's own clock.
    pub zone: Tz,
    /// Vessels in the order of the configuration.
    pub vessels: Vec<Vessel>,
    /// Species entries.
    pub species: SpeciesTable,
    /// Whether finished clutches teach the entries of later ones.
    pub learn: bool,
    /// Which topics mean what, as the installer wrote it.
    pub maps: Vec<MapEntry>,
    /// Filters that are heard beside those of the map.
    pub listen: Vec<String>,
    /// What is heard whatever is subscribed: everything at our own front door, nothing at a broker.
    pub hears: Vec<String>,
    /// Calendars are told anew of a date that moves by more than this.
    pub moves_over: Span,
    /// Who is called, how and when.
    pub calls: Vec<Call>,
    /// Sirens and lamps.
    pub sirens: Vec<Siren>,
    /// Who gets the review of a night.
    pub night: Option<NightMail>,
    /// Address under which people reach the page.
    pub address: Option<String>,
    /// Drills, unless they are off.
    pub drills: Option<Drills>,
    /// How long young have without moving air.
    pub deadlines: Deadlines,
    /// What to do first, in the keeper's own words.
    pub first_steps: BTreeMap<Condition, String>,
    /// Places in `vessels` by name: every message asks for its vessel, and a large room has hundreds.
    places: HashMap<VesselId, usize>,
}

impl Setup {
    /// From a checked configuration and the species entries that belong to it.
    ///
    /// # Errors
    /// [`MapError`] when the topic map does not hold together.
    pub fn new(config: &Config, species: SpeciesTable) -> Result<Self, MapError> {
        super::claims::configured(&config.room, &config.maps)?;
        Ok(Self {
            room: config.room.clone(),
            zone: config.zone,
            vessels: config.vessels.clone(),
            species,
            learn: config.learn,
            maps: config.maps.clone(),
            listen: config.listen.clone(),
            hears: match config.way_in {
                WayIn::FrontDoor(_) => vec!["#".to_owned()],
                WayIn::Broker(_) => Vec::new(),
            },
            moves_over: config.moves_over,
            calls: config.calls.clone(),
            sirens: config.sirens.clone(),
            night: config.night.clone(),
            address: config.address.clone(),
            drills: config.drills,
            deadlines: config.deadlines,
            first_steps: config.first_steps.clone(),
            places: config.vessels.iter().enumerate().map(|(i, v)| (v.id.clone(), i)).collect(),
        })
    }

    /// A room of which nothing is set: no vessel yet, our own topics, the shipped species, clocks in UTC.
    pub fn bare(room: RoomId) -> Self {
        Self {
            room,
            zone: Tz::UTC,
            vessels: Vec::new(),
            species: SpeciesTable::shipped(),
            learn: true,
            maps: Vec::new(),
            listen: Vec::new(),
            hears: Vec::new(),
            moves_over: MOVES_OVER,
            calls: Vec::new(),
            sirens: Vec::new(),
            night: None,
            address: None,
            drills: None,
            deadlines: Deadlines::default(),
            first_steps: BTreeMap::new(),
            places: HashMap::new(),
        }
    }

    /// One vessel more.
    pub fn add(&mut self, vessel: Vessel) {
        self.places.insert(vessel.id.clone(), self.vessels.len());
        self.vessels.push(vessel);
    }

    /// The vessel of that name.
    pub fn vessel(&self, id: &VesselId) -> Option<&Vessel> {
        self.places.get(id).and_then(|i| self.vessels.get(*i))
    }

    /// Whose thermometer tells the water of a vessel: its host's if it hangs in one, else its own.
    pub fn water_of<'a>(&'a self, id: &'a VesselId) -> &'a VesselId {
        self.vessel(id).and_then(|v| v.host.as_ref()).unwrap_or(id)
    }

    /// Vessels that share the water of this vessel: itself and what hangs in it.
    pub fn sharing<'a>(&'a self, vessel: &VesselId) -> Vec<&'a VesselId> {
        let shares = |v: &&Vessel| v.id == *vessel || v.host.as_ref() == Some(vessel);
        self.vessels.iter().filter(shares).map(|v| &v.id).collect()
    }

    /// Hour and minute on the room's clock; in an hour that it shows twice also which of the two: `02:14 CEST`.
    pub fn clock_text(&self, t: Time) -> String {
        self.local_text(t, "%H:%M")
    }

    /// Day, hour and minute on the room's clock: `Thu 26 Nov 02:14`.
    pub fn day_text(&self, t: Time) -> String {
        self.local_text(t, "%a %-d %b %H:%M")
    }

    fn local_text(&self, t: Time, form: &str) -> String {
        let local = t.to_chrono().with_timezone(&self.zone);
        let text = local.format(form).to_string();
        match self.zone.from_local_datetime(&local.naive_local()) {
            LocalResult::Ambiguous(..) => format!("{text} {}", local.format("%Z")),
            _ => text,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Changes of Europe/Berlin in 2026: 29 March and 25 October at 01:00 UTC (IANA time zone database).
    #[test]
    fn an_hour_that_is_shown_twice_says_which() {
        let room = Setup { zone: Tz::Europe__Berlin, ..Setup::bare("undercroft".parse().unwrap()) };
        let shown = |t: &str| room.clock_text(Time::parse_rfc3339(t).unwrap());
        let night = ["2026-10-24T23:59:00Z", "2026-10-25T00:00:00Z", "2026-10-25T00:59:00Z"];
        assert_eq!(night.map(shown), ["01:59", "02:00 CEST", "02:59 CEST"]);
        let night = ["2026-10-25T01:00:00Z", "2026-10-25T01:59:00Z", "2026-10-25T02:00:00Z"];
        assert_eq!(night.map(shown), ["02:00 CET", "02:59 CET", "03:00"]);
        let spring = ["2026-03-29T00:59:00Z", "2026-03-29T01:00:00Z"];
        assert_eq!(spring.map(shown), ["01:59", "03:00"]);
        let day = room.day_text(Time::parse_rfc3339("2026-10-25T01:14:00Z").unwrap());
        assert_eq!(day, "Sun 25 Oct 02:14 CET");
    }
}
