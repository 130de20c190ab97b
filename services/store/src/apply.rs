//! Writing one batch inside a transaction.

use crate::table::readings::Known;
use crate::table::{
    Fault, access, account, alarms, answers, audit, clutches, notes, outbox, readings, refusals,
};
use crate::{Batch, Committed};
use rusqlite::Connection;

/// Says what in a batch can never be kept, before it waits for anything.
pub(crate) fn check(batch: &Batch) -> Result<(), String> {
    readings::check(&batch.readings)?;
    account::check(&batch.entries)
}

/// Writes all of a batch; after an error the transaction is to be rolled back.
pub(crate) fn apply(conn: &Connection, batch: &Batch, known: &mut Known) -> Result<Committed, Fault> {
    let done = readings::insert(conn, &batch.readings, known)?;
    refusals::count(conn, &batch.refusals)?;
    account::insert(conn, &batch.entries)?;
    alarms::log(conn, &batch.alarm_log)?;
    alarms::set_states(conn, &batch.alarm_states)?;
    clutches::project(conn, &batch.projections)?;
    clutches::shift(conn, &batch.shifts)?;
    outbox::insert(conn, &batch.outbox)?;
    outbox::change(conn, &batch.outbox_changes)?;
    notes::set(conn, &batch.notes)?;
    access::change(conn, &batch.access)?;
    audit::insert(conn, &batch.audit)?;
    answers::keep(conn, &batch.answers)?;
    Ok(done)
}
