//! Reading, also of what other programs have written: times in milli- or microseconds, whole numbers of any width.

use crate::exchange::{Cell, Column, Flaw, Kind, Row, Source, Table, missing, table_of, unreadable};
use parquet::basic::{ConvertedType, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::errors::ParquetError;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::{Field, Row as Record};
use parquet::schema::types::ColumnDescriptor;
use std::fs::File;
use std::path::Path;
use units::Time;

/// Opens a file; its columns may come in any order, and those that are not needed may be missing.
pub(in crate::exchange) fn source(file: &Path) -> Result<Source, String> {
    let file = File::open(file).map_err(|e| unreadable(&e))?;
    let reader = SerializedFileReader::new(file).map_err(|e| damaged(&e))?;
    let schema = reader.metadata().file_metadata().schema_descr_ptr();
    let names: Vec<&str> = schema.columns().iter().map(|c| c.path().parts()[0].as_str()).collect();
    let table = table_of(&names)?;
    let nanos = schema.columns().iter().map(|c| fits(table, c)).collect::<Result<Vec<bool>, String>>()?;
    let places: Vec<(Option<usize>, bool)> = table
        .columns()
        .iter()
        .map(|c| {
            let place = names.iter().position(|n| *n == c.name);
            (place, place.is_some_and(|i| nanos[i]))
        })
        .collect();
    let judged = names.contains(&"fresh");
    let rows = (1..).zip(reader).map(move |(number, record)| match record {
        Ok(record) => Ok(Row { number, cells: cells(table, &places, record) }),
        Err(e) => Err(format!("row {number}: {}", damaged(&e))),
    });
    Ok(Source { table, judged, counted: "row", rows: Box::new(rows) })
}

fn damaged(e: &ParquetError) -> String {
    format!("cannot be read as Parquet: {e}; write it anew, compressed by snappy or not at all")
}

/// Whether a column can be read; says whether it counts nanoseconds.
fn fits(table: Table, found: &ColumnDescriptor) -> Result<bool, String> {
    use ConvertedType as C;
    let name = found.name();
    let Some(column) = table.index(name).map(|i| table.columns()[i]) else { return Ok(false) };
    let (physical, converted) = (found.physical_type(), found.converted_type());
    let odd = |cure: &str| {
        let logical = found.logical_type_ref().map_or_else(|| format!("{converted}"), |l| format!("{l:?}"));
        Err(format!("column {name}: it is {physical} ({logical}); write {cure}"))
    };
    if found.path().parts().len() != 1
        || found.self_type().get_basic_info().repetition() == Repetition::REPEATED
    {
        return odd("one plain value in each row");
    }
    let whole = matches!(physical, Physical::INT32 | Physical::INT64)
        && matches!(
            converted,
            C::NONE
                | C::INT_8
                | C::INT_16
                | C::INT_32
                | C::INT_64
                | C::UINT_8
                | C::UINT_16
                | C::UINT_32
                | C::UINT_64
        );
    let text = physical == Physical::BYTE_ARRAY && matches!(converted, C::UTF8 | C::ENUM | C::JSON);
    match column.kind {
        Kind::Time => match found.logical_type_ref() {
            Some(LogicalType::Timestamp(t)) if t.is_adjusted_to_u_t_c && physical == Physical::INT64 => {
                Ok(t.unit == TimeUnit::NANOS)
            }
            _ => odd("a timestamp of INT64 with time zone UTC"),
        },
        Kind::Text | Kind::Json if !text => odd("strings"),
        Kind::Number if !(physical == Physical::DOUBLE || physical == Physical::FLOAT || whole) => {
            odd("numbers, best as DOUBLE")
        }
        Kind::Count if !whole => odd("whole numbers"),
        Kind::Flag if physical != Physical::BOOLEAN => odd("BOOLEAN"),
        _ => Ok(false),
    }
}

fn cells(table: Table, places: &[(Option<usize>, bool)], record: Record) -> Result<Vec<Cell>, Vec<Flaw>> {
    let mut fields: Vec<Field> = record.into_columns().into_iter().map(|(_, field)| field).collect();
    let mut flaws = Vec::new();
    let mut cells = Vec::with_capacity(places.len());
    for (column, (place, nanos)) in table.columns().iter().zip(places) {
        let field =
            place.and_then(|i| fields.get_mut(i)).map_or(Field::Null, |f| std::mem::replace(f, Field::Null));
        match cell(column, field, *nanos) {
            Ok(cell) => cells.push(cell),
            Err(flaw) => flaws.push(flaw),
        }
    }
    if flaws.is_empty() { Ok(cells) } else { Err(flaws) }
}

fn cell(column: &Column, field: Field, nanos: bool) -> Result<Cell, Flaw> {
    let odd =
        |field: &Field, cure: &str| Flaw::new(column.name, format!("{field} will not do; write {cure}"));
    if field == Field::Null {
        return if column.needed { Err(missing(column)) } else { Ok(Cell::Empty) };
    }
    match column.kind {
        Kind::Time => time(&field, nanos)
            .map(Cell::Time)
            .ok_or_else(|| odd(&field, "a whole number of milliseconds; no time is kept finer")),
        Kind::Text | Kind::Json => match field {
            Field::Str(text) if text.is_empty() && column.needed => Err(missing(column)),
            Field::Str(text) if text.is_empty() => Ok(Cell::Empty),
            Field::Str(text) if column.kind == Kind::Json => Ok(Cell::Json(text.into())),
            Field::Str(text) => Ok(Cell::text(text)),
            other => Err(odd(&other, "text")),
        },
        Kind::Number => match number(&field) {
            Some(x) if x.is_finite() => Ok(Cell::Number(x)),
            _ => Err(odd(&field, "a number")),
        },
        Kind::Count => count(&field).map(Cell::Count).ok_or_else(|| odd(&field, "a whole number from 0")),
        Kind::Flag => match field {
            Field::Bool(yes) => Ok(Cell::Flag(yes)),
            other => Err(odd(&other, "true or false")),
        },
    }
}

/// A time that is a whole number of milliseconds: another one would not come out again as it went in.
fn time(field: &Field, nanos: bool) -> Option<Time> {
    let whole = |n: i64, per: i64| (n % per == 0).then(|| Time::from_millis(n / per));
    match *field {
        Field::TimestampMillis(ms) => Some(Time::from_millis(ms)),
        Field::TimestampMicros(us) => whole(us, 1_000),
        Field::Long(ns) if nanos => whole(ns, 1_000_000),
        _ => None,
    }
}

fn number(field: &Field) -> Option<f64> {
    match *field {
        Field::Double(x) => Some(x),
        Field::Float(x) => Some(f64::from(x)),
        // Whole numbers beyond 2^53 are no readings.
        ref whole => signed(whole).map(|n| n as f64),
    }
}

fn signed(field: &Field) -> Option<i64> {
    match *field {
        Field::Byte(n) => Some(n.into()),
        Field::Short(n) => Some(n.into()),
        Field::Int(n) => Some(n.into()),
        Field::Long(n) => Some(n),
        Field::UByte(n) => Some(n.into()),
        Field::UShort(n) => Some(n.into()),
        Field::UInt(n) => Some(n.into()),
        Field::ULong(n) => i64::try_from(n).ok(),
        _ => None,
    }
}

fn count(field: &Field) -> Option<u64> {
    match *field {
        Field::ULong(n) => Some(n),
        ref other => signed(other).and_then(|n| u64::try_from(n).ok()),
    }
}
