//! Any rows, in any form: what is read is what was written.

use super::{Cell, Form, Kind, Table, sink, source};
use proptest::collection::vec;
use proptest::prelude::*;
use units::Time;

fn cell(kind: Kind) -> BoxedStrategy<Cell> {
    // 1970 to 9999: what is taken in.
    let times = 0..=253_402_300_799_999_i64;
    let words = "[ -~\u{e4}\u{5d0}\u{1f41f}\r\n\t\"',;#=|]{1,12}";
    match kind {
        Kind::Time => times.prop_map(|ms| Cell::Time(Time::from_millis(ms))).boxed(),
        Kind::Text => words.prop_map(Cell::text).boxed(),
        Kind::Number => any::<f64>().prop_filter("finite", |x| x.is_finite()).prop_map(Cell::Number).boxed(),
        Kind::Count => any::<u64>().prop_map(Cell::Count).boxed(),
        Kind::Flag => any::<bool>().prop_map(Cell::Flag).boxed(),
        Kind::Json => {
            words.prop_map(|text| Cell::Json(serde_json::json!({ "event": text }).to_string().into())).boxed()
        }
    }
}

fn row(table: Table) -> impl Strategy<Value = Vec<Cell>> {
    let cells: Vec<BoxedStrategy<Cell>> = table
        .columns()
        .iter()
        .map(|c| if c.needed { cell(c.kind) } else { prop_oneof![Just(Cell::Empty), cell(c.kind)].boxed() })
        .collect();
    cells
}

fn written(form: Form, table: Table, rows: &[Vec<Cell>]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut out = sink(form, table, &[("room", "undercroft".to_owned())], &mut bytes).unwrap();
    rows.iter().for_each(|r| out.row(r).unwrap());
    out.end().unwrap();
    bytes
}

fn there_and_back(table: Table, rows: &[Vec<Cell>]) {
    for form in [Form::Csv, Form::Jsonl, Form::Parquet] {
        let bytes = written(form, table, rows);
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), &bytes).unwrap();
        let source = source(form, file.path()).unwrap();
        assert_eq!(source.table, table);
        let read: Vec<Vec<Cell>> =
            source.rows.map(|r| r.unwrap().cells.unwrap_or_else(|f| panic!("{form:?}: {f:?}"))).collect();
        assert_eq!(read, rows, "{form:?}");
        assert_eq!(written(form, table, &read), bytes, "{form:?}: the same bytes");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn readings_are_read_as_they_were_written(rows in vec(row(Table::Readings), 1..12)) {
        there_and_back(Table::Readings, &rows);
    }

    #[test]
    fn entries_are_read_as_they_were_written(rows in vec(row(Table::Account), 1..12)) {
        there_and_back(Table::Account, &rows);
    }

    #[test]
    fn comparisons_are_read_as_they_were_written(rows in vec(row(Table::Comparisons), 1..12)) {
        there_and_back(Table::Comparisons, &rows);
    }
}
