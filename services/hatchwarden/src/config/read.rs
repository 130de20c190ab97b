//! From the text of a file to a checked [`Config`].

use super::table::{Sheet, Table};
use super::{
    AIR_LINE, ASK, BEAT, Config, ConfigError, DRILLS, Heartbeat, MOVES_OVER, PROBE_ACCURACY, STILL_AT,
    STILL_BUBBLES, Tuning, Vessel, Watch,
};
use super::{calls, map, mqtt, page};
use alarms::{Condition, Deadlines};
use chrono_tz::Tz;
use readings::MapEntry;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};
use std::time::Duration;
use toml::de::DeTable;
use units::{Band, RoomId, Span, VesselId, VesselKind};

/// Reads and checks the text of a configuration file. Paths in it are taken from `folder`, where the file lies.
///
/// # Errors
/// [`ConfigError`] with every fault found, each with its line and cure.
pub fn read(text: &str, file: &str, folder: &Path) -> Result<Config, ConfigError> {
    let (root, errors) = DeTable::parse_recoverable(text);
    let sheet = Sheet::new(text);
    for e in &errors {
        let cure = "see the commented example config/room.toml for the form of a file";
        sheet.fault(e.span().map(|s| s.start), "syntax", e.message().to_owned(), cure);
    }
    let config = if errors.is_empty() {
        let mut root = Table::new(&sheet, "", 0, root.get_ref());
        let config = whole(&mut root, folder);
        root.leftovers();
        config
    } else {
        None
    };
    let faults = sheet.into_faults();
    match config {
        Some(config) if faults.is_empty() => Ok(config),
        _ => Err(ConfigError { file: file.to_owned(), faults }),
    }
}

/// Reads the topic map alone, with the room that it belongs to: from a whole configuration, or from a file with nothing
/// but `[[map]]` entries, whose room is then called `room`.
///
/// # Errors
/// [`ConfigError`] with every fault found.
pub fn read_map(text: &str, file: &str) -> Result<(RoomId, Vec<MapEntry>), ConfigError> {
    let sheet = Sheet::new(text);
    let alone = match DeTable::parse(text) {
        Ok(root) if !root.get_ref().contains_key("room") => {
            let mut root = Table::new(&sheet, "", 0, root.get_ref());
            let room = RoomId::new("room").ok();
            let entries = room.map(|room| (room.clone(), map::entries(&mut root, &room, None)));
            root.leftovers();
            entries
        }
        // A fault in its syntax is told by the reader of the whole.
        _ => return read(text, file, Path::new("")).map(|c| (c.room, c.maps)),
    };
    let faults = sheet.into_faults();
    alone.filter(|_| faults.is_empty()).ok_or_else(|| ConfigError { file: file.to_owned(), faults })
}

fn whole(root: &mut Table<'_>, folder: &Path) -> Option<Config> {
    let room = section(root, "room", |t| Some((room_name(t)?, zone(t)?)));
    let store =
        section(root, "store", |t| path(t, "file", folder, "name the store's file, e.g. \"undercroft.db\""));
    let page = section(root, "page", page::read);
    let mqtt = section(root, "mqtt", |t| mqtt::read(t, folder));
    let vessels = vessels(root);
    let heartbeat = match root.table("heartbeat") {
        Some(mut t) => Some(finishing(&mut t, heartbeat)?),
        None => None,
    };
    let calling = calls::read(root, folder);
    let deadlines =
        root.table("act_within").map_or_else(Deadlines::default, |mut t| finishing(&mut t, calls::deadlines));
    let first_steps =
        root.table("first_step").map(|mut t| finishing(&mut t, first_steps)).unwrap_or_default();
    let drills = match root.table("drill") {
        Some(mut t) => finishing(&mut t, calls::drills),
        None => Some(DRILLS),
    };
    let watch = match root.table("watch") {
        Some(mut t) => Some(finishing(&mut t, watch)?),
        None => None,
    };
    let moves_over = match root.table("calendar") {
        Some(mut t) => finishing(&mut t, moves_over),
        None => MOVES_OVER,
    };
    let (species, learn) = match root.table("species") {
        Some(mut t) => finishing(&mut t, |t| (species_file(t, folder), t.flag("learn").unwrap_or(true))),
        None => (None, true),
    };
    let ((room, zone), (way_in, listen)) = (room?, mqtt?);
    let maps = map::entries(root, &room, Some(&vessels));
    let (store, page) = (store?, page?);
    Some(Config {
        room,
        zone,
        store,
        page: page.listen,
        way_in,
        vessels,
        maps,
        listen,
        moves_over,
        address: page.address.clone(),
        access: page,
        mail: calling.mail,
        webhooks: calling.webhooks,
        calls: calling.calls,
        sirens: calling.sirens,
        night: calling.night,
        deadlines,
        first_steps,
        drills,
        watch,
        heartbeat,
        species,
        learn,
    })
}

fn section<'t, T>(
    root: &mut Table<'t>,
    key: &'static str,
    read: impl FnOnce(&mut Table<'t>) -> Option<T>,
) -> Option<T> {
    match root.table(key) {
        Some(mut t) => finishing(&mut t, read),
        None => {
            root.missing(key, &format!("add a [{key}] table; config/room.toml shows one"));
            None
        }
    }
}

/// Reads a table and then reports what is left in it.
pub(super) fn finishing<'t, T>(t: &mut Table<'t>, read: impl FnOnce(&mut Table<'t>) -> T) -> T {
    let read = read(t);
    t.leftovers();
    read
}

fn room_name(t: &mut Table<'_>) -> Option<RoomId> {
    t.required("name", "name the room, e.g. \"undercroft\"")
}

fn zone(t: &mut Table<'_>) -> Option<Tz> {
    t.required("time_zone", "write an IANA zone name, e.g. \"Europe/Lisbon\"")
}

pub(super) fn path(t: &mut Table<'_>, key: &'static str, folder: &Path, cure: &str) -> Option<PathBuf> {
    t.required::<PathBuf>(key, cure).map(|p| folder.join(p))
}

fn species_file(t: &mut Table<'_>, folder: &Path) -> Option<PathBuf> {
    if t.has("learn") && !t.has("file") {
        t.known("file");
        return None;
    }
    path(t, "file", folder, "name a file of species entries")
}

fn watch(t: &mut Table<'_>) -> Option<Watch> {
    let url = t.required("url", "write the other service's address, e.g. \"http://127.0.0.1:4872/live\"");
    let every = t.number("every_s", 5.0..=3600.0).map_or(ASK, Duration::from_secs_f64);
    Some(Watch { url: url?, every })
}

/// Words of the keeper's own for what to do first, by condition.
fn first_steps(t: &mut Table<'_>) -> BTreeMap<Condition, String> {
    let text = |c: Condition| t.text(c.slug()).map(|found| (c, found.value));
    Condition::ALL.into_iter().filter_map(text).collect()
}

fn heartbeat(t: &mut Table<'_>) -> Option<Heartbeat> {
    let url = t
        .required("url", "write the address that waits for signs of life, e.g. \"https://example.org/beat\"");
    let every = t.number("every_s", 10.0..=3600.0).map_or(BEAT, Duration::from_secs_f64);
    Some(Heartbeat { url: url?, every })
}

fn moves_over(t: &mut Table<'_>) -> Span {
    let hours = t.number("moves_over_h", 0.5..=240.0);
    hours.map_or(MOVES_OVER, |h| Span::from_days(h / 24.0))
}

fn vessels(root: &mut Table<'_>) -> Vec<Vessel> {
    let tables = root.tables("vessel");
    if tables.is_empty() && !root.has("watch") {
        root.missing("vessel", "add one [[vessel]] for each tank, tumbler and jar");
    }
    let mut read: Vec<(Vessel, usize)> = Vec::new();
    for mut t in tables {
        let Some((vessel, host_at)) = finishing(&mut t, vessel) else { continue };
        if read.iter().any(|(v, _)| v.id == vessel.id) {
            t.fault(
                t.offset(),
                "id",
                format!("{:?} is named twice", vessel.id.as_str()),
                "give each vessel its own name",
            );
            continue;
        }
        read.push((vessel, host_at));
    }
    let tanks: BTreeSet<VesselId> =
        read.iter().filter(|(v, _)| v.kind == VesselKind::Tank).map(|(v, _)| v.id.clone()).collect();
    for (v, at) in &read {
        if let Some(host) = v.host.as_ref().filter(|h| !tanks.contains(h)) {
            let problem = format!("{:?} is not a tank of this room", host.as_str());
            root.fault(
                *at,
                &format!("vessel {:?}.host", v.id.as_str()),
                problem,
                "name a [[vessel]] of kind \"tank\"",
            );
        }
    }
    read.into_iter().map(|(v, _)| v).collect()
}

fn seconds(t: &mut Table<'_>, key: &'static str, within: RangeInclusive<f64>) -> Option<Span> {
    t.number(key, within).map(|s| Span::from_millis((s * 1000.0) as i64))
}

fn vessel(t: &mut Table<'_>) -> Option<(Vessel, usize)> {
    let id: Option<VesselId> = t.required("id", "name the vessel, e.g. \"TU1\"");
    if let Some(id) = &id {
        t.rename(format!("vessel {:?}", id.as_str()));
    }
    let kind = kind(t);
    let host_at = t.offset_of("host");
    let host = t.parsed("host", "name the tank it hangs in");
    let band = band(t);
    let set_point = t.number("set_point", 5.0..=45.0);
    let probe_accuracy = t.number("probe_accuracy", 0.01..=2.0).unwrap_or(PROBE_ACCURACY);
    let still_at = t.number("still_at", 0.0..=200.0).unwrap_or(STILL_AT);
    let still_bubbles = t.number("still_bubbles", 0.0..=1000.0).unwrap_or(STILL_BUBBLES);
    let silent_after = seconds(t, "silent_after_s", 5.0..=86_400.0);
    let air_line = t.text("air_line").map_or_else(|| AIR_LINE.to_owned(), |f| f.value);
    let litres = t.number("litres", 0.1..=1_000_000.0);
    let ph_band = ph_band(t);
    let level_low = t.number("level_low", 0.0..=100.0);
    let tuning = Tuning {
        band_deadband: t.number("band_deadband_k", 0.0..=5.0),
        band_on_delay: seconds(t, "band_on_delay_s", 0.0..=7200.0),
        band_off_delay: seconds(t, "band_off_delay_s", 0.0..=7200.0),
        still_on_delay: seconds(t, "still_on_delay_s", 0.0..=600.0),
        still_off_delay: seconds(t, "still_off_delay_s", 0.0..=600.0),
    };
    let (id, kind) = (id?, kind?);
    if matches!(id.as_str(), "alarm" | "service" | "acknowledge" | "room") {
        t.fault(host_at, "id", format!("{:?} is a word of our own", id.as_str()), "choose another name");
        return None;
    }
    let always = false;
    let vessel = Vessel {
        id,
        kind,
        host,
        band,
        set_point,
        probe_accuracy,
        still_at,
        still_bubbles,
        silent_after,
        air_line,
        ph_band,
        level_low,
        litres,
        tuning,
        always,
    };
    Some((vessel, host_at))
}

fn ph_band(t: &mut Table<'_>) -> Option<Band> {
    let cure = "write the lowest and highest wanted pH, e.g. [7.8, 8.6]";
    let found = t.pair("ph_band", cure)?;
    let (low, high) = found.value;
    let band = Band::new(low, high).filter(|b| b.low < b.high && b.low >= 0.0 && b.high <= 14.0);
    if band.is_none() {
        t.fault(found.offset, "ph_band", format!("[{low}, {high}] is no band of pH"), cure);
    }
    band
}

fn kind(t: &mut Table<'_>) -> Option<VesselKind> {
    let offset = t.offset_of("kind");
    let word: String = t.required("kind", "write \"tank\", \"tumbler\" or \"jar\"")?;
    match word.as_str() {
        "tank" => Some(VesselKind::Tank),
        "tumbler" => Some(VesselKind::Tumbler),
        "jar" => Some(VesselKind::Jar),
        _ => {
            t.fault(
                offset,
                "kind",
                format!("{word:?} is not a kind"),
                "write \"tank\", \"tumbler\" or \"jar\"",
            );
            None
        }
    }
}

fn band(t: &mut Table<'_>) -> Option<Band> {
    let cure = "write the lowest and highest wanted °C, e.g. [26.0, 28.0]";
    let found = t.pair("band", cure)?;
    let (low, high) = found.value;
    let band = Band::new(low, high).filter(|b| b.low < b.high && b.low >= 5.0 && b.high <= 45.0);
    if band.is_none() {
        t.fault(found.offset, "band", format!("[{low}, {high}] is no band between 5 and 45 °C"), cure);
    }
    band
}
