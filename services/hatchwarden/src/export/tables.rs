//! One table of what the store holds, in any form.

use super::{Choice, Trouble, What, each_reading};
use crate::exchange::{self, Form, Sink, Table};
use crate::room::{COMPARISONS_NOTE, KeptComparison};
use ledger::{Account, Entry};
use readings::Offsets;
use std::io::Write;
use store::Reader;

/// Writes a table; says how many rows.
pub(super) fn write(
    reader: &Reader,
    choice: &Choice,
    what: What,
    form: Form,
    room: &str,
    out: &mut (dyn Write + Send),
) -> Result<u64, Trouble> {
    let table = match what {
        What::Readings | What::Recording => Table::Readings,
        What::Account => Table::Account,
        What::Comparisons => Table::Comparisons,
        What::Alarms => Table::Alarms,
        What::Refusals => Table::Refusals,
    };
    let about =
        [("tool", concat!("hatchwarden ", env!("CARGO_PKG_VERSION")).to_owned()), ("room", room.to_owned())];
    let mut rows = Rows { sink: exchange::sink(form, table, &about, out)?, count: 0 };
    match table {
        Table::Readings => readings(reader, choice, &mut rows)?,
        Table::Account => account(reader, choice, &mut rows)?,
        Table::Comparisons => {
            for (number, kept) in (1..).zip(kept_comparisons(reader)?) {
                if (choice.from..=choice.to).contains(&kept.recorded) {
                    rows.put(&exchange::comparison(number, &kept))?;
                }
            }
        }
        Table::Alarms => {
            for change in reader.alarm_log_between(choice.from, choice.to)? {
                rows.put(&exchange::alarm(&change))?;
            }
        }
        Table::Refusals => {
            let mut all = reader.refusals()?;
            all.retain(|r| r.last >= choice.from && r.first <= choice.to);
            all.sort_by(|a, b| (&a.place, &a.reason).cmp(&(&b.place, &b.reason)));
            for counted in all {
                rows.put(&exchange::refusal(&counted))?;
            }
        }
    }
    rows.sink.end()?;
    Ok(rows.count)
}

struct Rows<'a> {
    sink: Box<dyn Sink + 'a>,
    count: u64,
}

impl Rows<'_> {
    fn put(&mut self, row: &[exchange::Cell]) -> Result<(), Trouble> {
        self.count += 1;
        Ok(self.sink.row(row)?)
    }
}

fn readings(reader: &Reader, choice: &Choice, rows: &mut Rows<'_>) -> Result<(), Trouble> {
    let kept = kept_comparisons(reader)?;
    let standing = kept.iter().filter(|k| k.withdrawn.is_none()).map(|k| &k.comparison);
    let offsets = Offsets::of(standing);
    for probe in &choice.probes {
        let row = exchange::reading(probe, &offsets);
        each_reading(reader, probe, choice, |r| rows.put(&row(r)))?;
    }
    Ok(())
}

fn account(reader: &Reader, choice: &Choice, rows: &mut Rows<'_>) -> Result<(), Trouble> {
    let mut entries = Vec::new();
    for row in reader.entries()? {
        let event = serde_json::from_str(&row.json)
            .map_err(|e| Trouble::Record(format!("account entry {}", row.id), e))?;
        entries.push(Entry { id: row.id, recorded: row.recorded, by: row.by, event });
    }
    let account = Account::restored(entries.iter().cloned());
    for e in entries.iter().filter(|e| (choice.from..=choice.to).contains(&e.recorded)) {
        let row = exchange::account(e, account.stands(e.id))
            .map_err(|fault| Trouble::Record(format!("account entry {}", e.id), fault))?;
        rows.put(&row)?;
    }
    Ok(())
}

/// Every comparison, the first in front, those that were withdrawn too.
pub(super) fn kept_comparisons(reader: &Reader) -> Result<Vec<KeptComparison>, Trouble> {
    let note = reader.note(COMPARISONS_NOTE)?.filter(|note| !note.is_empty());
    note.map_or(Ok(Vec::new()), |note| serde_json::from_str(&note))
        .map_err(|e| Trouble::Record("the comparisons of thermometers".to_owned(), e))
}
