//! Rows into the store, and what is wrong with them.

use super::{Faults, Stop, TOLD};
use crate::exchange::{Cell, Flaw, Source, Table};
use crate::room::{COMPARISONS_NOTE, KeptComparison};
use ledger::{Account, Entry, Event};
use readings::Comparison;
use std::collections::BTreeMap;
use std::str::FromStr;
use store::{EntryRow, Filling, Placed, ReadingRow};
use units::{ProbeKey, Quantity, Time};

/// What became of the rows of a file.
#[derive(Debug, Default)]
pub(super) struct Taken {
    /// Rows that were not there before.
    pub new: u64,
    /// Rows that stand already.
    pub known: u64,
    /// Readings whose probe and time stand with another value, which was kept.
    pub other: u64,
    /// Some of them, with their row.
    pub others: Vec<(u64, String)>,
}

/// A row's cells by the names of its columns.
struct Cells<'a>(Table, &'a [Cell]);

impl Cells<'_> {
    fn get(&self, column: &str) -> &Cell {
        self.0.index(column).and_then(|i| self.1.get(i)).unwrap_or(&Cell::Empty)
    }

    fn time(&self, column: &str) -> Option<Time> {
        if let Cell::Time(t) = self.get(column) { Some(*t) } else { None }
    }

    fn text(&self, column: &str) -> &str {
        if let Cell::Text(t) | Cell::Json(t) = self.get(column) { t } else { "" }
    }

    fn number(&self, column: &str) -> Option<f64> {
        if let Cell::Number(x) = self.get(column) { Some(*x) } else { None }
    }

    fn count(&self, column: &str) -> Option<u64> {
        if let Cell::Count(n) = self.get(column) { Some(*n) } else { None }
    }

    /// A time that is needed; readers have refused a row without it.
    fn needed(&self, column: &str) -> Result<Time, Flaw> {
        let t = self.time(column).unwrap_or(Time::from_millis(i64::MIN));
        let year = chrono::Datelike::year(&t.to_chrono());
        if (1970..=9999).contains(&year) {
            Ok(t)
        } else {
            Err(Flaw::new(column, format!("{t} is of the year {year}; write a time from 1970 to 9999")))
        }
    }

    fn parsed<T: FromStr<Err: std::fmt::Display>>(&self, column: &str) -> Result<T, Flaw> {
        self.text(column).parse().map_err(|e: T::Err| Flaw::new(column, e.to_string()))
    }
}

/// Goes through the rows of a file; what is wrong with one is told and does not end it.
fn each(
    source: Source,
    faults: &mut Faults,
    mut take: impl FnMut(u64, &Cells<'_>, &mut Faults) -> Result<(), Stop>,
) -> Result<(), Stop> {
    for row in source.rows {
        let row = row.map_err(Stop::File)?;
        match row.cells {
            Ok(cells) => take(row.number, &Cells(source.table, &cells), faults)?,
            Err(flaws) => flaws.into_iter().for_each(|f| faults.add(row.number, f)),
        }
    }
    Ok(())
}

/// Readings: one stands per probe and time, the first.
pub(super) fn readings(filling: &mut Filling, source: Source, faults: &mut Faults) -> Result<Taken, Stop> {
    let mut taken = Taken::default();
    let judged = source.judged;
    each(source, faults, |number, cells, faults| {
        let row = match reading(cells, judged) {
            Ok(row) => row,
            Err(flaw) => {
                faults.add(number, flaw);
                return Ok(());
            }
        };
        if faults.all > 0 {
            return Ok(()); // nothing of this file will be kept; only what else is wrong is still of interest
        }
        match filling.reading(&row)? {
            Placed::New => taken.new += 1,
            Placed::Known => taken.known += 1,
            Placed::Other(stands) => {
                taken.other += 1;
                if taken.others.len() < TOLD {
                    let said = format!(
                        "{} at {} stands with {stands}, which was kept; here it is {}",
                        row.probe, row.time, row.value
                    );
                    taken.others.push((number, said));
                }
            }
        }
        Ok(())
    })?;
    Ok(taken)
}

/// A reading; one that does not say how it was judged when it came in is judged by what its probe can send, and is late.
fn reading(cells: &Cells<'_>, judged: bool) -> Result<ReadingRow, Flaw> {
    let time = cells.needed("t")?;
    let quantity: Quantity = cells.parsed("quantity")?;
    let mut probe = ProbeKey::new(cells.parsed("vessel")?, quantity);
    if !cells.text("mark").is_empty() {
        let whole = format!("{probe}/{}", cells.text("mark"));
        probe = whole.parse().map_err(|e| Flaw::new("mark", format!("{e}")))?;
    }
    let (band, unit) = (quantity.hard_band(), quantity.unit().symbol());
    if !["", unit].contains(&cells.text("unit")) {
        let reason =
            format!("{:?} is not what {quantity} is kept in; write value in {unit}", cells.text("unit"));
        return Err(Flaw::new("unit", reason));
    }
    let value = cells.number("value").unwrap_or(f64::NAN);
    if !judged && !band.contains(value) {
        let reason = format!(
            "{value} {unit} is nothing that a probe of {quantity} reads; it goes from {} to {}: leave the row out",
            band.low, band.high
        );
        return Err(Flaw::new("value", reason));
    }
    let received = if cells.time("received").is_some() { cells.needed("received")? } else { time };
    let flags = cells.count("flags").unwrap_or(0);
    let flags = u16::try_from(flags).map_err(|_| {
        Flaw::new("flags", format!("{flags} is no sum of remarks; write 0 to 65535, or leave it out"))
    })?;
    let fresh = matches!(cells.get("fresh"), Cell::Flag(true));
    Ok(ReadingRow { probe, time, value, received, sequence: cells.count("sequence"), fresh, flags })
}

/// Entries of the account: an entry is known by its number. New ones must come behind those that stand, and fit them.
pub(super) fn account(filling: &mut Filling, source: Source, faults: &mut Faults) -> Result<Taken, Stop> {
    let mut read: BTreeMap<u64, (u64, Entry)> = BTreeMap::new();
    each(source, faults, |number, cells, faults| {
        match entry(cells) {
            Ok(e) => match read.get(&e.id) {
                Some((before, other)) if *other != e => {
                    faults.add(
                        number,
                        Flaw::new(
                            "entry",
                            format!("{} comes with other words before, as {before}; leave one out", e.id),
                        ),
                    );
                }
                _ => {
                    read.insert(e.id, (number, e));
                }
            },
            Err(flaw) => faults.add(number, flaw),
        }
        Ok(())
    })?;
    let mut stands = BTreeMap::new();
    for row in filling.entries()? {
        let event = serde_json::from_str(&row.json).map_err(|e| {
            Stop::Store(format!(
                "account entry {} cannot be understood: {e}; restore a backup of the store",
                row.id
            ))
        })?;
        stands.insert(row.id, Entry { id: row.id, recorded: row.recorded, by: row.by, event });
    }
    let last = stands.keys().next_back().copied().unwrap_or(0);
    let mut account = Account::restored(stands.values().cloned());
    let mut taken = Taken::default();
    let mut new = Vec::new();
    for (id, (number, e)) in read {
        let fits = match stands.get(&id) {
            Some(same) if *same == e => {
                taken.known += 1;
                continue;
            }
            Some(_) => Err(Flaw::new(
                "entry",
                format!(
                    "{id} is another one in this store; take a file of this room's own account, or an empty store"
                ),
            )),
            None if id <= last || id > i64::MAX.cast_unsigned() => Err(Flaw::new(
                "entry",
                format!("{id} will not do; the account of this store goes to {last}, write the next numbers"),
            )),
            None => account.apply(e.clone()).map_err(|e| Flaw::new("event", e.to_string())),
        };
        match fits.and_then(|()| row(&e)) {
            Ok(row) => new.push(row),
            Err(flaw) => faults.add(number, flaw),
        }
    }
    if faults.all == 0 {
        filling.add(&new, &[])?;
    }
    Ok(Taken { new: new.len() as u64, ..taken })
}

fn row(e: &Entry) -> Result<EntryRow, Flaw> {
    let json = serde_json::to_string(&e.event).map_err(|e| Flaw::new("event", e.to_string()))?;
    Ok(EntryRow { id: e.id, recorded: e.recorded, by: e.by.clone(), json })
}

fn entry(cells: &Cells<'_>) -> Result<Entry, Flaw> {
    let event: Event = serde_json::from_str(cells.text("event"))
        .map_err(|e| Flaw::new("event", format!("{e}; write it as `hatchwarden export account` does")))?;
    let id = cells.count("entry").filter(|n| *n > 0);
    let id = id.ok_or_else(|| Flaw::new("entry", "0 is no number of an entry; count from 1"))?;
    Ok(Entry { id, recorded: cells.needed("t")?, by: cells.text("by").to_owned(), event })
}

/// Comparisons of thermometers: one is known by its number.
pub(super) fn comparisons(filling: &mut Filling, source: Source, faults: &mut Faults) -> Result<Taken, Stop> {
    let note = filling.noted(COMPARISONS_NOTE)?.filter(|n| !n.is_empty());
    let mut all: Vec<KeptComparison> =
        note.map_or(Ok(Vec::new()), |n| serde_json::from_str(&n)).map_err(|e| {
            Stop::Store(format!(
                "the comparisons of thermometers cannot be understood: {e}; restore a backup of the store"
            ))
        })?;
    let mut taken = Taken::default();
    each(source, faults, |number, cells, faults| {
        match comparison(cells).and_then(|(n, kept)| put(&mut all, n, kept)) {
            Ok(true) => taken.new += 1,
            Ok(false) => taken.known += 1,
            Err(flaw) => faults.add(number, flaw),
        }
        Ok(())
    })?;
    if faults.all == 0 && taken.new > 0 {
        let note = serde_json::to_string(&all).map_err(|e| Stop::Store(e.to_string()))?;
        filling.note(COMPARISONS_NOTE, &note)?;
    }
    Ok(taken)
}

/// Whether it is new, or newly withdrawn.
fn put(all: &mut Vec<KeptComparison>, n: u64, kept: KeptComparison) -> Result<bool, Flaw> {
    let place = usize::try_from(n).ok().and_then(|n| n.checked_sub(1)).unwrap_or(usize::MAX);
    let next = all.len();
    match all.get_mut(place) {
        Some(same) if *same == kept => Ok(false),
        Some(stands)
            if stands.withdrawn.is_none()
                && (KeptComparison { withdrawn: None, ..kept.clone() }) == *stands =>
        {
            stands.withdrawn = kept.withdrawn;
            Ok(true)
        }
        Some(_) => Err(Flaw::new(
            "number",
            format!("{n} is another comparison in this store; take a file of this room, or an empty store"),
        )),
        None if place == next => {
            all.push(kept);
            Ok(true)
        }
        None => Err(Flaw::new("number", format!("{n} does not follow; the next number is {}", next + 1))),
    }
}

fn comparison(cells: &Cells<'_>) -> Result<(u64, KeptComparison), Flaw> {
    let number = |column| cells.number(column).unwrap_or(f64::NAN);
    let comparison = Comparison {
        probe: cells.parsed("probe")?,
        at: cells.needed("at")?,
        since: cells.time("since"),
        read: number("read_c"),
        reference: number("reference_c"),
        against: cells.text("against").to_owned(),
        accuracy: cells.number("accuracy_k"),
    };
    comparison.check().map_err(|e| Flaw::new(column_of(e.field), e.reason))?;
    let withdrawn = match (cells.time("withdrawn"), cells.text("withdrawn_by")) {
        (Some(at), by) if !by.is_empty() => Some((by.to_owned(), at)),
        (None, "") => None,
        _ => return Err(Flaw::new("withdrawn", "stands with withdrawn_by; write both or none")),
    };
    let kept = KeptComparison {
        comparison,
        by: cells.text("by").to_owned(),
        recorded: cells.needed("t")?,
        withdrawn,
    };
    Ok((cells.count("number").unwrap_or(0), kept))
}

fn column_of(field: &'static str) -> &'static str {
    match field {
        "read" => "read_c",
        "reference" => "reference_c",
        "accuracy" => "accuracy_k",
        other => other,
    }
}
