//! Writing, a group of rows at a time.

use crate::exchange::{Cell, Column, Kind, Sink, Table};
use parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::Result;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::Type;
use std::io::{self, Write};
use std::sync::Arc;

/// Rows of a group: some megabytes in memory, and enough for a reader to skip by.
const GROUP: usize = 65_536;

/// Writes a table.
pub(in crate::exchange) struct Writer<W: Write + Send> {
    file: SerializedFileWriter<W>,
    columns: Vec<Buffer>,
    rows: usize,
}

impl<W: Write + Send> Writer<W> {
    pub(in crate::exchange) fn new(table: Table, about: &[(&str, String)], out: W) -> io::Result<Self> {
        let properties = WriterProperties::builder()
            .set_compression(Compression::SNAPPY)
            .set_created_by(concat!("hatchwarden version ", env!("CARGO_PKG_VERSION")).to_owned())
            .set_key_value_metadata(Some(metadata(table, about)))
            .build();
        let schema = schema(table).map_err(io::Error::other)?;
        let file = SerializedFileWriter::new(out, Arc::new(schema), Arc::new(properties));
        let columns = table.columns().iter().map(Buffer::new).collect();
        Ok(Self { file: file.map_err(io::Error::other)?, columns, rows: 0 })
    }

    fn group(&mut self) -> Result<()> {
        if self.rows == 0 {
            return Ok(());
        }
        let mut group = self.file.next_row_group()?;
        for buffer in &mut self.columns {
            if let Some(mut column) = group.next_column()? {
                buffer.write(&mut column)?;
                column.close()?;
            }
        }
        group.close()?;
        self.rows = 0;
        Ok(())
    }
}

impl<W: Write + Send> Sink for Writer<W> {
    fn row(&mut self, row: &[Cell]) -> io::Result<()> {
        self.columns.iter_mut().zip(row).for_each(|(buffer, cell)| buffer.push(cell));
        self.rows += 1;
        if self.rows == GROUP { self.group().map_err(io::Error::other) } else { Ok(()) }
    }

    fn end(mut self: Box<Self>) -> io::Result<()> {
        self.group().map_err(io::Error::other)?;
        let mut out = self.file.into_inner().map_err(io::Error::other)?;
        out.flush()
    }
}

fn metadata(table: Table, about: &[(&str, String)]) -> Vec<KeyValue> {
    let mut all: Vec<KeyValue> =
        about.iter().map(|(name, value)| KeyValue::new((*name).to_owned(), value.clone())).collect();
    let columns: serde_json::Map<_, _> =
        table.columns().iter().map(|c| (c.name.to_owned(), c.about.into())).collect();
    all.push(KeyValue::new("table".to_owned(), table.word().to_owned()));
    all.push(KeyValue::new("columns".to_owned(), serde_json::Value::Object(columns).to_string()));
    all
}

fn schema(table: Table) -> Result<Type> {
    let fields = table.columns().iter().map(|c| field(c).map(Arc::new)).collect::<Result<_>>()?;
    Type::group_type_builder("hatchwarden").with_fields(fields).build()
}

fn field(column: &Column) -> Result<Type> {
    let (physical, logical) = match column.kind {
        Kind::Time => (Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MILLIS))),
        Kind::Text | Kind::Json => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Kind::Number => (Physical::DOUBLE, None),
        Kind::Count => (Physical::INT64, Some(LogicalType::integer(64, false))),
        Kind::Flag => (Physical::BOOLEAN, None),
    };
    let repetition = if column.needed { Repetition::REQUIRED } else { Repetition::OPTIONAL };
    Type::primitive_type_builder(column.name, physical)
        .with_logical_type(logical)
        .with_repetition(repetition)
        .build()
}

/// The values of one column that wait for their group to be full.
struct Buffer {
    needed: bool,
    /// 1 where there is a value, 0 where there is none.
    levels: Vec<i16>,
    values: Values,
}

enum Values {
    Whole(Vec<i64>),
    Number(Vec<f64>),
    Flag(Vec<bool>),
    Text(Vec<ByteArray>),
}

impl Buffer {
    fn new(column: &Column) -> Self {
        let values = match column.kind {
            Kind::Time | Kind::Count => Values::Whole(Vec::new()),
            Kind::Number => Values::Number(Vec::new()),
            Kind::Flag => Values::Flag(Vec::new()),
            Kind::Text | Kind::Json => Values::Text(Vec::new()),
        };
        Self { needed: column.needed, levels: Vec::new(), values }
    }

    fn push(&mut self, cell: &Cell) {
        match (&mut self.values, cell) {
            (Values::Whole(all), Cell::Time(t)) => all.push(t.millis()),
            (Values::Whole(all), Cell::Count(n)) => all.push(n.cast_signed()),
            (Values::Number(all), Cell::Number(x)) => all.push(*x),
            (Values::Flag(all), Cell::Flag(yes)) => all.push(*yes),
            (Values::Text(all), Cell::Text(text) | Cell::Json(text)) => all.push((&**text).into()),
            // A row has the kinds of its table: what is left is a cell without a value.
            _ => return self.levels.push(0),
        }
        self.levels.push(1);
    }

    fn write(&mut self, out: &mut SerializedColumnWriter<'_>) -> Result<()> {
        let levels = (!self.needed).then_some(&*self.levels);
        match &mut self.values {
            Values::Whole(all) => {
                out.typed::<Int64Type>().write_batch(all, levels, None)?;
                all.clear();
            }
            Values::Number(all) => {
                out.typed::<DoubleType>().write_batch(all, levels, None)?;
                all.clear();
            }
            Values::Flag(all) => {
                out.typed::<BoolType>().write_batch(all, levels, None)?;
                all.clear();
            }
            Values::Text(all) => {
                out.typed::<ByteArrayType>().write_batch(all, levels, None)?;
                all.clear();
            }
        }
        self.levels.clear();
        Ok(())
    }
}
