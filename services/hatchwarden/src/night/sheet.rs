//! A night as CSV: one line for each vessel, or for each clutch that was in it.

use units::{Span, Time};
use web::review::{ClutchNight, Review, Stop, Stretch, VesselNight};

/// Its columns, with units in their names; a figure that is not known is empty.
const COLUMNS: [&str; 36] = [
    "date",
    "room",
    "dusk",
    "dawn",
    "vessel",
    "kind",
    "verdict",
    "water_read_h",
    "min_c",
    "usual_min_c",
    "max_c",
    "usual_max_c",
    "mean_c",
    "usual_mean_c",
    "below_h",
    "above_h",
    "outside_h",
    "usual_outside_h",
    "water_gaps",
    "water_gaps_h",
    "air_read_h",
    "air_stops",
    "air_still_min",
    "air_longest_min",
    "usual_air_still_min",
    "air_gaps",
    "air_gaps_min",
    "refused",
    "clutch",
    "base_c",
    "gained_cd",
    "usual_gained_cd",
    "stage",
    "put_at_dawn",
    "later_h",
    "remarks",
];

/// The whole sheet (RFC 4180), with its header.
pub(crate) fn csv(r: &Review) -> Result<String, String> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let fault = |e: csv::Error| format!("the sheet cannot be written: {e}");
    writer.write_record(COLUMNS).map_err(fault)?;
    for v in &r.vessels {
        let none = v.clutches.is_empty().then_some(None);
        for clutch in v.clutches.iter().map(Some).chain(none) {
            writer.write_record(row(r, v, clutch)).map_err(fault)?;
        }
    }
    let bytes = writer.into_inner().map_err(|e| format!("the sheet cannot be written: {e}"))?;
    String::from_utf8(bytes).map_err(|e| format!("the sheet cannot be written: {e}"))
}

fn number(x: Option<f64>) -> String {
    x.map(|x| format!("{x:.4}")).unwrap_or_default()
}

fn hours(span: Option<Span>) -> String {
    number(span.map(Span::as_hours))
}

fn sum(parts: impl Iterator<Item = Span>) -> Span {
    parts.fold(Span::ZERO, |sum, part| sum + part)
}

fn row(r: &Review, v: &VesselNight, clutch: Option<&ClutchNight>) -> Vec<String> {
    let mut row = vec![
        r.date.to_string(),
        r.room.clone(),
        r.dusk.to_string(),
        r.dawn.to_string(),
        v.vessel.to_string(),
        v.kind.to_string(),
        v.verdict.word().to_owned(),
    ];
    row.extend(water(v));
    row.extend(air(v));
    row.push(v.refusals.iter().map(|x| x.count).sum::<u64>().to_string());
    row.extend(clutch.map_or_else(|| vec![String::new(); 7], |c| of_clutch(c, r.dawn)));
    row.push(v.remarks.join(" "));
    row
}

fn water(v: &VesselNight) -> Vec<String> {
    let w = &v.water;
    let mut all = vec![hours(Some(w.read))];
    all.extend([w.min, w.max, w.mean].iter().flat_map(|f| [number(f.value), number(f.usual)]));
    all.extend([
        hours(w.below),
        hours(w.above),
        number(w.outside_hours.value),
        number(w.outside_hours.usual),
    ]);
    all.extend([w.gaps.len().to_string(), hours(Some(sum(w.gaps.iter().map(Stretch::length))))]);
    all
}

fn air(v: &VesselNight) -> Vec<String> {
    let Some(a) = v.air.as_ref().filter(|a| a.needed) else { return vec![String::new(); 7] };
    let longest = a.stops.iter().map(Stop::length).max().filter(|_| a.heard);
    vec![
        hours(Some(a.read)),
        a.stops.len().to_string(),
        number(a.still_minutes.value),
        number(longest.map(Span::as_minutes)),
        number(a.still_minutes.usual),
        a.gaps.len().to_string(),
        number(Some(sum(a.gaps.iter().map(Stretch::length)).as_minutes())),
    ]
}

/// The stage that comes next, else the last one.
fn of_clutch(c: &ClutchNight, dawn: Time) -> Vec<String> {
    let next = c.shifts.iter().find(|s| s.after > dawn).or(c.shifts.last());
    vec![
        c.clutch.to_string(),
        number(c.base),
        number(c.gained.value),
        number(c.gained.usual),
        next.map(|s| s.stage.to_string()).unwrap_or_default(),
        next.map(|s| s.after.to_string()).unwrap_or_default(),
        number(next.map(|s| s.later.as_hours())),
    ]
}
