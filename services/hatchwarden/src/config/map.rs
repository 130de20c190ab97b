//! The topic map in the configuration.

use super::Vessel;
use super::table::Table;
use readings::{MapEntry, TopicMap};
use units::{RoomId, VesselId};

/// Every `[[map]]` of the file. Each is checked as the map itself will check it, and for its vessels where they are known.
pub(super) fn entries(root: &mut Table<'_>, room: &RoomId, vessels: Option<&[Vessel]>) -> Vec<MapEntry> {
    let mut good: Vec<MapEntry> = Vec::new();
    for mut t in root.tables("map") {
        let at: Vec<(&str, usize)> = MapEntry::FIELDS.iter().map(|k| (*k, t.offset_of(k))).collect();
        let read = t.whole::<MapEntry>(MapEntry::FIELDS, cure);
        t.leftovers();
        let Some(entry) = read else { continue };
        let place = |field: &str| at.iter().find(|(k, _)| *k == field).map_or(t.offset(), |(_, o)| *o);
        good.push(entry);
        let fault = TopicMap::new(room.clone(), good.clone()).err().map(|e| (e.field, e.value, e.cure));
        let fault = fault.or_else(|| unknown_vessel(good.last()?, vessels?.iter().map(|v| &v.id)));
        if let Some((field, value, cure)) = fault {
            good.pop();
            match value.as_str() {
                "" => t.missing(field, &cure),
                value => t.fault(place(field), field, format!("{value:?} will not do"), &cure),
            }
        }
    }
    good
}

/// A vessel that an entry names and the room does not have: field, value and cure.
pub(crate) fn unknown_vessel<'v>(
    entry: &MapEntry,
    mut vessels: impl Iterator<Item = &'v VesselId> + Clone,
) -> Option<(&'static str, String, String)> {
    let named = entry.vessel.as_deref().filter(|v| !v.starts_with('+')).map(|v| ("vessel", v));
    let renamed = entry.vessels.values().map(|v| ("vessels", v.as_str()));
    let (field, odd) =
        named.into_iter().chain(renamed).find(|(_, name)| !vessels.clone().any(|v| v.as_str() == *name))?;
    let known: Vec<&str> = vessels.by_ref().map(VesselId::as_str).collect();
    let cure =
        format!("it is not a vessel of this room; add it as [[vessel]], or use one of {}", known.join(", "));
    Some((field, odd.to_owned(), cure))
}

/// What to write under a key whose value has the wrong form.
fn cure(key: &str) -> &'static str {
    match key {
        "quantity" => "say what it measures, e.g. \"temperature\" or \"air-flow\"",
        "unit" => "write the unit the device sends, e.g. \"°F\"",
        "format" => {
            "write \"plain\", \"json\", \"senml\", \"words\", \"list\", \"key-value\" or \"float32-le\""
        }
        "says" => "write \"reading\", \"availability\" or \"sign-of-life\"",
        "scale" | "zero_band" | "max_step" | "max_step_s" | "every_s" => "write a number",
        "column" => "write a whole number from 0 on",
        "hard_band" => "write the lowest and the highest value it can send, e.g. [5, 45]",
        "words" => "write each word and its value, e.g. { ON = 1, OFF = 0 }",
        "vessels" => "write what a '+' stands for and the vessel, e.g. { tum1 = \"TU1\" }",
        "outliers" => "write { of = 7, beyond = 3 }",
        "decimal_comma" | "any_case" => "write true or false",
        _ => "write text in quotes",
    }
}
