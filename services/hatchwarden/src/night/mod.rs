//! A night looked back on: what each vessel's water and air did, and what that did for its clutches.
//!
//! `read` gathers what is needed from the store; `review` computes from it, with no clock and no file. Page, API, command
//! and mail all show what it gives.

mod air;
mod figures;
mod judge;
mod read;
mod sheet;
mod trace;

pub(crate) mod letters;
pub mod look;

pub(crate) use read::{Readings, read};
pub(crate) use sheet::csv;

use crate::config::Vessel;
use crate::room::{Asked, AskedClutch, COMPARED, Night, SLOT, Stay};
use air::{Air, Piece};
use alarms::{AlarmKey, Condition, State};
use figures::{Airs, Waters, stays_in};
use judge::{Case, judge};
use store::AlarmRow;
use trace::Trace;
use units::{ProbeKey, Span, Time, VesselKind};
use web::review::{AlarmRaised, ClutchNight, Refused, Review, Slot, StageShift, Verdict, VesselNight};
use web::whatif::{Moved, PartMoved, StageMoved};

/// A cause that moved a date by less is not named: nobody plans by it. A planning value.
const SMALL: Span = Span::minutes(5);
/// So many causes are named, the largest first.
const CAUSES: usize = 2;

/// The review of a night from what was asked and read.
pub(crate) fn review(asked: &Asked, readings: &Readings) -> Review {
    let (setup, night) = (&asked.setup, &asked.night);
    let raised: Vec<AlarmRaised> = readings.alarms.iter().filter_map(raised).collect();
    let vessels: Vec<VesselNight> =
        setup.vessels.iter().map(|v| vessel(v, asked, readings, &raised)).collect();
    let of_room = raised.iter().any(|a| place(a).is_some_and(|key| key.vessel().is_none()));
    let worst = vessels.iter().map(|v| v.verdict).max().unwrap_or(Verdict::NotKnown);
    let refused = refused(readings);
    let known = |place: &str| setup.vessels.iter().any(|v| is_of(place, v));
    Review {
        room: setup.room.to_string(),
        zone: setup.zone.name().to_owned(),
        date: night.date,
        dusk: night.dusk,
        dawn: night.dawn,
        length: night.length(),
        verdict: if of_room { Verdict::NotRight } else { worst },
        compared_with: usize::try_from(COMPARED).unwrap_or(usize::MAX),
        vessels,
        refusals: refused.into_iter().filter(|r| !known(&r.place)).collect(),
        more_refusals: readings.refused.more,
        alarms: raised,
    }
}

fn place(alarm: &AlarmRaised) -> Option<AlarmKey> {
    alarm.id.parse().ok()
}

/// The moment of an alarm's log at which it called for a person; `None` for other moments, and for drills.
fn raised(row: &AlarmRow) -> Option<AlarmRaised> {
    let called = State::Unacknowledged.word();
    let key: AlarmKey = row.key.parse().ok()?;
    let drill = key.condition == Condition::Drill;
    // From the same state to the same: it only called again.
    (row.to == called && row.from != called && !drill).then(|| AlarmRaised {
        id: row.key.clone(),
        at: row.at,
        text: row.text.clone(),
    })
}

fn refused(readings: &Readings) -> Vec<Refused> {
    let of = |(place, reason, count): &(String, String, u64)| Refused {
        place: place.clone(),
        reason: reason.clone(),
        count: *count,
    };
    readings.refused.counts.iter().map(of).collect()
}

/// Whether a place is a probe of a vessel.
fn is_of(place: &str, vessel: &Vessel) -> bool {
    place.parse::<ProbeKey>().is_ok_and(|probe| probe.vessel == vessel.id)
}

fn vessel(v: &Vessel, asked: &Asked, readings: &Readings, raised: &[AlarmRaised]) -> VesselNight {
    let setup = &asked.setup;
    let nights: Vec<Night> = [asked.night].into_iter().chain(asked.before.iter().map(|(n, _)| *n)).collect();
    let water_of = setup.water_of(&v.id);
    let waters = Waters { nights: &nights, points: readings.water.get(water_of).map_or(&[], Vec::as_slice) };
    let airs = airs(v, asked, readings);
    let band = setup.vessel(water_of).and_then(|tank| tank.band);
    let (water, air) = (waters.figures(band), (v.kind != VesselKind::Tank).then(|| airs.figures()));
    let clutches = clutches(v, asked, readings, &waters);
    let of_vessel = |a: &&AlarmRaised| place(a).is_some_and(|key| key.vessel() == Some(&v.id));
    let alarms: Vec<&AlarmRaised> = raised.iter().filter(of_vessel).collect();
    let case = Case {
        band,
        water: &water,
        counts: *water_of == v.id || !clutches.is_empty(),
        air: air.as_ref(),
        alarms: &alarms,
        clock: &|t| setup.clock_text(t),
    };
    let judged = judge(&case);
    VesselNight {
        vessel: v.id.clone(),
        kind: v.kind,
        water_of: water_of.clone(),
        band,
        verdict: judged.verdict,
        remarks: judged.remarks,
        slots: slots(&asked.night, &waters.this(), &airs.this()),
        water,
        air,
        clutches,
        refusals: refused(readings).into_iter().filter(|r| is_of(&r.place, v)).collect(),
    }
}

fn airs<'a>(vessel: &'a Vessel, asked: &Asked, readings: &'a Readings) -> Airs<'a> {
    let stays: Vec<Stay> = asked.clutches.iter().flat_map(|c| c.stays.clone()).collect();
    let nights = [(asked.night, stays)].into_iter().chain(asked.before.iter().cloned()).collect();
    Airs { vessel, nights, said: readings.air.get(&vessel.id).map_or(&[], Vec::as_slice) }
}

fn clutches(v: &Vessel, asked: &Asked, readings: &Readings, waters: &Waters<'_>) -> Vec<ClutchNight> {
    let of = |(clutch, moved): (&AskedClutch, &Result<Moved, String>)| {
        stays_in(&v.id, &clutch.stays)
            .into_iter()
            .map(|stay| clutch_night(clutch, stay, moved, waters))
            .collect::<Vec<_>>()
    };
    asked.clutches.iter().zip(&readings.moved).flat_map(of).collect()
}

fn clutch_night(
    clutch: &AskedClutch,
    (from, to): (Time, Time),
    moved: &Result<Moved, String>,
    waters: &Waters<'_>,
) -> ClutchNight {
    let (gained, usual_nights) =
        clutch.species.as_ref().map(|s| waters.gained(s, (from, to))).unwrap_or_default();
    ClutchNight {
        clutch: clutch.id.clone(),
        fish: clutch.fish.clone(),
        from,
        to,
        base: clutch.species.as_ref().map(|s| s.base.likely),
        gained,
        usual_nights,
        shifts: moved.as_ref().map_or_else(|_| Vec::new(), |m| shifts(m, from)),
        no_shift: moved.as_ref().err().cloned(),
    }
}

/// A stage that was seen before the night is no news.
fn shifts(m: &Moved, from: Time) -> Vec<StageShift> {
    let news = m.stages.iter().filter(|s| s.after >= from || s.before != s.after);
    news.map(shift).collect()
}

fn shift(s: &StageMoved) -> StageShift {
    let mut parts: Vec<&PartMoved> = s.parts.iter().filter(|p| p.gained.abs() >= SMALL).collect();
    parts.sort_by_key(|p| std::cmp::Reverse(p.gained.abs()));
    let causes = parts.into_iter().take(CAUSES).map(|p| p.cause.clone()).collect();
    StageShift { stage: s.stage, before: s.before, after: s.after, later: s.after - s.before, causes }
}

/// The night in slots, for the picture.
fn slots(night: &Night, water: &Trace, air: &[Piece]) -> Vec<Slot> {
    let mut all = Vec::new();
    let mut from = night.dusk;
    while from < night.dawn {
        let to = (from + SLOT).min(night.dawn);
        let part = water.part(from, to);
        all.push(Slot { from, low: part.min(), high: part.max(), air: letter(air, from, to) });
        from = to;
    }
    all
}

/// Still where it stood for longer than a reading's moment, else moving where it was heard.
fn letter(air: &[Piece], from: Time, to: Time) -> char {
    let first = air.partition_point(|p| p.to <= from);
    let here = air.get(first..).unwrap_or_default().iter().take_while(|p| p.from < to);
    let long = |kind: Air| {
        let parts = here.clone().filter(|p| p.air == kind).filter_map(|p| p.cut(from, to));
        parts.fold(Span::ZERO, |sum, p| sum + p.length())
    };
    if long(Air::Still) >= Span::seconds(20) {
        's'
    } else if long(Air::Moving) > Span::ZERO {
        't'
    } else {
        '.'
    }
}
