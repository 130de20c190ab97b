//! Reading a room's past from its store.

use crate::room::{
    ADDRESS_NOTE, CALLS_NOTE, CLAIMS_NOTE, CLOCK_NOTE, COMPARISONS_NOTE, DEVICES_NOTE, LEARNT_NOTE,
    LINK_NOTE, LOOK_BACK, MONITORS_LOOK_BACK, Past, RECENT, Room, SPECIES_NOTE, Setup, THINNED, WORK_NOTE,
    Wanted, follows, held_note, is_witness,
};
use std::sync::Arc;
use store::{ReadError, Reader, Store};
use units::{ClutchId, ProbeKey, Quantity, Time};

/// Why a room could not be restored.
#[derive(Debug, thiserror::Error)]
pub enum RestoreError {
    /// The store could not be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// A record makes no sense.
    #[error("the store holds a record that cannot be understood: {0}; restore the file from a backup")]
    Record(String),
    /// The reading task was broken off.
    #[error("reading the store was broken off: {0}")]
    Broken(#[from] tokio::task::JoinError),
}

/// A room as its store remembers it, courses included.
///
/// # Errors
/// [`RestoreError`] naming what could not be read.
pub async fn restore(store: Store, setup: Arc<Setup>, now: Time) -> Result<Room, RestoreError> {
    let past = tokio::task::spawn_blocking({
        let store = store.clone();
        move || past(&store.reader()?, now)
    })
    .await??;
    let mut room = Room::restore(setup, past, now).map_err(RestoreError::Record)?;
    let wanted = room.take_wanted();
    for (clutch, points) in courses(store, wanted).await? {
        room.fill_course(&clutch, points);
    }
    Ok(room)
}

/// Temperatures of clutches, each sorted by time.
pub(super) async fn courses(
    store: Store,
    wanted: Vec<Wanted>,
) -> Result<Vec<(ClutchId, Vec<(Time, f64)>)>, RestoreError> {
    let read = tokio::task::spawn_blocking(move || {
        let reader = store.reader()?;
        wanted.into_iter().map(|w| course(&reader, w)).collect::<Result<Vec<_>, ReadError>>()
    });
    Ok(read.await??)
}

fn course(reader: &Reader, wanted: Wanted) -> Result<(ClutchId, Vec<(Time, f64)>), ReadError> {
    let mut points = Vec::new();
    for (vessel, from, to) in wanted.spans {
        let probe = ProbeKey::new(vessel, Quantity::Temperature);
        // A place holds up to, and not at, the moment of the next move.
        let read = reader.range(&probe, from, to)?.into_iter().filter(|(t, _)| *t < to);
        points.extend(read.map(|(t, raw)| (t, wanted.offsets.corrected(&probe, t, raw))));
    }
    Ok((wanted.clutch, points))
}

/// What the store remembers of a room.
pub(crate) fn past(reader: &Reader, now: Time) -> Result<Past, ReadError> {
    let probes = reader.probes()?;
    let mut past = Past {
        entries: reader.entries()?,
        alarms: reader.alarm_states()?,
        projections: reader.projections()?,
        refusals: reader.refusals()?,
        claims: reader.note(CLAIMS_NOTE)?,
        comparisons: reader.note(COMPARISONS_NOTE)?,
        species: reader.note(SPECIES_NOTE)?,
        learnt: reader.note(LEARNT_NOTE)?,
        devices: reader.note(DEVICES_NOTE)?,
        clock: reader.note(CLOCK_NOTE)?,
        work: reader.note(WORK_NOTE)?,
        calendar_address: reader.note(ADDRESS_NOTE)?,
        calls: reader.note(CALLS_NOTE)?,
        link_secret: reader.note(LINK_NOTE)?,
        ..Past::default()
    };
    for projection in &past.projections {
        past.shifts.extend(reader.shifts(&projection.clutch)?);
    }
    for probe in probes {
        let mut recent = reader.recent(&probe, RECENT)?;
        if recent.first().is_some_and(|r| r.time > now) {
            // Our clock may have gone back: what has come in since stands before what came in then.
            recent.extend(reader.recent_until(&probe, now, RECENT)?);
        }
        recent.sort_by_key(|r| r.time);
        recent.dedup_by_key(|r| r.time);
        past.recent.push(recent);
        past.held.extend(reader.note(&held_note(&probe))?);
        if (probe.quantity == Quantity::Temperature || is_witness(probe.quantity)) && probe.mark.is_none() {
            let day = reader.range(&probe, now - LOOK_BACK, now)?;
            past.day.push((probe.clone(), day));
        }
        if follows(probe.quantity) {
            let course = reader.thinned(&probe, now - MONITORS_LOOK_BACK, now, THINNED)?;
            past.courses.push((probe, course));
        }
    }
    Ok(past)
}
