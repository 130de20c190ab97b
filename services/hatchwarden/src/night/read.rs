//! Reading from the store what a review needs.

use super::air::Said;
use crate::config::Vessel;
use crate::room::{Asked, Night, Setup, is_witness, moved};
use std::collections::{BTreeMap, BTreeSet};
use store::{AlarmRow, ReadError, Reader, RefusedBetween};
use units::{ProbeKey, Quantity, Span, Time, VesselId};
use web::whatif::Moved;

/// Readings so long before dusk fill a gap at its beginning: the hour before a gap, and a straight line into it.
const BEFORE: Span = Span::minutes(91);
/// Readings so long after dawn tell what it was at dawn.
const AFTER: Span = Span::minutes(31);

/// What was read: of the night itself first, then of the nights before it.
#[derive(Debug, Default)]
pub(crate) struct Readings {
    /// Temperatures (°C), corrected, by whose thermometer it is; one list for each night.
    pub(crate) water: BTreeMap<VesselId, Vec<Vec<(Time, f64)>>>,
    /// What witnesses of moving air said, by vessel; one list of them for each night.
    pub(crate) air: BTreeMap<VesselId, Vec<Vec<Said>>>,
    /// What moved the dates of each clutch, or why nothing can be said of them.
    pub(crate) moved: Vec<Result<Moved, String>>,
    pub(crate) alarms: Vec<AlarmRow>,
    pub(crate) refused: RefusedBetween,
}

/// Reads all that a review needs. Takes its time: fifteen nights, and the whole water of each clutch.
///
/// # Errors
/// [`ReadError`] when the store cannot be read.
pub(crate) fn read(reader: &Reader, asked: &mut Asked) -> Result<Readings, ReadError> {
    let setup = asked.setup.clone();
    let nights: Vec<Night> =
        [asked.night].into_iter().chain(asked.before.iter().map(|(night, _)| *night)).collect();
    let probes: BTreeSet<ProbeKey> = reader.probes()?.into_iter().filter(|p| p.mark.is_none()).collect();
    let mut readings = Readings {
        alarms: reader.alarm_log_between(asked.night.dusk, asked.night.dawn)?,
        refused: reader.refused_between(asked.night.dusk, asked.night.dawn)?,
        ..Readings::default()
    };
    for vessel in &setup.vessels {
        let water = setup.water_of(&vessel.id);
        if !readings.water.contains_key(water) {
            let probe = ProbeKey::new(water.clone(), Quantity::Temperature);
            let read = nights
                .iter()
                .map(|night| temperatures(reader, &probe, night, asked))
                .collect::<Result<_, _>>()?;
            readings.water.insert(water.clone(), read);
        }
        let witnesses: Vec<&ProbeKey> =
            probes.iter().filter(|p| p.vessel == vessel.id && is_witness(p.quantity)).collect();
        let said = nights
            .iter()
            .map(|night| said(reader, &witnesses, night, (vessel, asked)))
            .collect::<Result<_, _>>()?;
        readings.air.insert(vessel.id.clone(), said);
    }
    let clutches = std::mem::take(&mut asked.clutches);
    for clutch in clutches {
        let (clutch, known) = clutch.apart();
        readings.moved.push(dates(reader, &setup, known));
        asked.clutches.push(clutch);
    }
    Ok(readings)
}

fn temperatures(
    reader: &Reader,
    probe: &ProbeKey,
    night: &Night,
    asked: &Asked,
) -> Result<Vec<(Time, f64)>, ReadError> {
    let read = reader.range(probe, night.dusk - BEFORE, night.dawn + AFTER)?;
    Ok(read.into_iter().map(|(t, raw)| (t, asked.offsets.corrected(probe, t, raw))).collect())
}

fn said(
    reader: &Reader,
    witnesses: &[&ProbeKey],
    night: &Night,
    (vessel, asked): (&Vessel, &Asked),
) -> Result<Vec<Said>, ReadError> {
    let of = |probe: &&ProbeKey| {
        let still = |(t, raw)| (t, vessel.lies_still(probe.quantity, asked.offsets.corrected(probe, t, raw)));
        let read = reader.range(probe, night.dusk - AFTER, night.dawn + AFTER)?;
        Ok(read.into_iter().map(still).collect())
    };
    witnesses.iter().map(of).collect()
}

fn dates(
    reader: &Reader,
    setup: &Setup,
    known: Result<Box<(crate::room::Known, crate::room::Known)>, String>,
) -> Result<Moved, String> {
    let read = |probe: &ProbeKey, from, to| reader.range_rows(probe, from, to);
    moved(setup, *known?, &read).map_err(|e| match e {
        web::keeper::Trouble::Refused { reason, .. } => reason,
        e => e.to_string(),
    })
}
