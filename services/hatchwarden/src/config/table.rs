//! Reading a TOML table field by field, collecting faults instead of stopping at the first.

use super::fault::Fault;
use serde::de::DeserializeOwned;
use serde::de::value::MapDeserializer;
use std::cell::RefCell;
use std::collections::BTreeMap;
use toml::Spanned;
use toml::de::{DeTable, DeValue, ValueDeserializer};

/// The text and the faults found so far; one per file.
pub(super) struct Sheet<'t> {
    text: &'t str,
    faults: RefCell<Vec<Fault>>,
}

impl<'t> Sheet<'t> {
    pub(super) fn new(text: &'t str) -> Self {
        Self { text, faults: RefCell::default() }
    }

    fn line_at(&self, offset: usize) -> usize {
        self.text.bytes().take(offset).filter(|b| *b == b'\n').count() + 1
    }

    pub(super) fn fault(&self, offset: Option<usize>, field: &str, problem: String, cure: &str) {
        let line = offset.map_or(0, |o| self.line_at(o));
        self.faults.borrow_mut().push(Fault {
            line,
            field: field.to_owned(),
            problem,
            cure: cure.to_owned(),
        });
    }

    pub(super) fn into_faults(self) -> Vec<Fault> {
        let mut faults = self.faults.into_inner();
        faults.sort_by_key(|f| f.line);
        faults
    }
}

/// One table: fields are taken out one by one; what is left at the end is unknown.
pub(super) struct Table<'t> {
    sheet: &'t Sheet<'t>,
    name: String,
    offset: usize,
    left: BTreeMap<&'t str, &'t Spanned<DeValue<'t>>>,
    known: Vec<&'static str>,
}

/// A value with the place it stands at.
pub(super) struct Found<T> {
    pub(super) value: T,
    pub(super) offset: usize,
}

impl<'t> Table<'t> {
    pub(super) fn new(sheet: &'t Sheet<'t>, name: &str, offset: usize, table: &'t DeTable<'t>) -> Self {
        let left = table.iter().map(|(k, v)| (k.get_ref().as_ref(), v)).collect();
        Self { sheet, name: name.to_owned(), offset, left, known: Vec::new() }
    }

    /// Calls the table by a better name once it is known, e.g. `vessel "TU1"`.
    pub(super) fn rename(&mut self, name: String) {
        self.name = name;
    }

    pub(super) fn field(&self, key: &str) -> String {
        if self.name.is_empty() { key.to_owned() } else { format!("{}.{key}", self.name) }
    }

    pub(super) fn fault(&self, offset: usize, key: &str, problem: String, cure: &str) {
        self.sheet.fault(Some(offset), &self.field(key), problem, cure);
    }

    pub(super) fn missing(&self, key: &str, cure: &str) {
        self.fault(self.offset, key, "is missing".to_owned(), cure);
    }

    fn take(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.known.push(key);
        self.left.remove(key)
    }

    fn wrong(&self, key: &str, value: &Spanned<DeValue<'_>>, cure: &str) {
        let problem = format!("{} is {}", self.snippet(value), article(value.get_ref().type_str()));
        self.fault(value.span().start, key, problem, cure);
    }

    /// The value as it stands in the file, shortened; a fault quotes it.
    fn snippet(&self, value: &Spanned<DeValue<'_>>) -> String {
        let raw: String = self.sheet.text.get(value.span()).unwrap_or("it").chars().take(40).collect();
        raw.lines().next().unwrap_or_default().to_owned()
    }

    pub(super) fn text(&mut self, key: &'static str) -> Option<Found<String>> {
        let value = self.take(key)?;
        match value.get_ref().as_str() {
            Some(s) => Some(Found { value: s.to_owned(), offset: value.span().start }),
            None => {
                self.wrong(key, value, "write text in quotes");
                None
            }
        }
    }

    /// Text that parses; the parser's own error is the problem shown.
    pub(super) fn parsed<T>(&mut self, key: &'static str, cure: &str) -> Option<T>
    where
        T: std::str::FromStr,
        T::Err: std::fmt::Display,
    {
        let found = self.text(key)?;
        match found.value.parse() {
            Ok(v) => Some(v),
            Err(e) => {
                self.fault(found.offset, key, format!("{:?} will not do: {e}", found.value), cure);
                None
            }
        }
    }

    pub(super) fn required<T>(&mut self, key: &'static str, cure: &str) -> Option<T>
    where
        T: std::str::FromStr,
        T::Err: std::fmt::Display,
    {
        if !self.left.contains_key(key) {
            self.known.push(key);
            self.missing(key, cure);
            return None;
        }
        self.parsed(key, cure)
    }

    pub(super) fn number(&mut self, key: &'static str, range: std::ops::RangeInclusive<f64>) -> Option<f64> {
        let value = self.take(key)?;
        let (low, high) = (range.start(), range.end());
        match as_number(value.get_ref()) {
            Some(x) if range.contains(&x) => Some(x),
            Some(x) => {
                let cure = format!("write a number from {low} to {high}");
                self.fault(value.span().start, key, format!("{x} is out of range"), &cure);
                None
            }
            None => {
                self.wrong(key, value, &format!("write a number from {low} to {high}"));
                None
            }
        }
    }

    pub(super) fn pair(&mut self, key: &'static str, cure: &str) -> Option<Found<(f64, f64)>> {
        let value = self.take(key)?;
        let numbers: Option<Vec<f64>> =
            value.get_ref().as_array().and_then(|a| a.iter().map(|v| as_number(v.get_ref())).collect());
        if let Some([a, b]) = numbers.as_deref() {
            return Some(Found { value: (*a, *b), offset: value.span().start });
        }
        self.wrong(key, value, cure);
        None
    }

    /// True or false.
    pub(super) fn flag(&mut self, key: &'static str) -> Option<bool> {
        let value = self.take(key)?;
        let found = value.get_ref().as_bool();
        if found.is_none() {
            self.wrong(key, value, "write true or false");
        }
        found
    }

    /// A list of texts, each with its place; nothing written is an empty list.
    pub(super) fn texts(&mut self, key: &'static str, cure: &str) -> Vec<(String, usize)> {
        let Some(value) = self.take(key) else { return Vec::new() };
        let texts = value.get_ref().as_array().and_then(|a| {
            a.iter().map(|v| Some((v.get_ref().as_str()?.to_owned(), v.span().start))).collect()
        });
        texts.unwrap_or_else(|| {
            self.wrong(key, value, cure);
            Vec::new()
        })
    }

    pub(super) fn table(&mut self, key: &'static str) -> Option<Table<'t>> {
        let value = self.take(key)?;
        match value.get_ref().as_table() {
            Some(t) => Some(Table::new(self.sheet, &self.field(key), value.span().start, t)),
            None => {
                self.wrong(key, value, &format!("write it as a table, [{key}]"));
                None
            }
        }
    }

    /// One table, `[key]`, or several, `[[key]]`.
    pub(super) fn one_or_more(&mut self, key: &'static str) -> Vec<Table<'t>> {
        if self.left.get(key).is_some_and(|v| v.get_ref().as_table().is_some()) {
            return self.table(key).into_iter().collect();
        }
        self.tables(key)
    }

    pub(super) fn tables(&mut self, key: &'static str) -> Vec<Table<'t>> {
        let Some(value) = self.take(key) else { return Vec::new() };
        let tables: Option<Vec<_>> = value
            .get_ref()
            .as_array()
            .and_then(|a| a.iter().map(|v| v.get_ref().as_table().map(|t| (v.span().start, t))).collect());
        let Some(tables) = tables else {
            self.wrong(key, value, &format!("write each one under its own [[{key}]]"));
            return Vec::new();
        };
        let name = |i: usize| format!("{} number {}", self.field(key), i + 1);
        tables.into_iter().enumerate().map(|(i, (o, t))| Table::new(self.sheet, &name(i), o, t)).collect()
    }

    /// The whole table as one thing that reads itself field by field. Each key is first read alone, so that a fault names
    /// its key; `cure` says what to write there.
    pub(super) fn whole<T: DeserializeOwned>(
        &mut self,
        fields: &'static [&'static str],
        cure: impl Fn(&str) -> &'static str,
    ) -> Option<T> {
        let taken: Vec<_> = fields.iter().filter_map(|k| Some((*k, self.take(k)?))).collect();
        let mut good = true;
        for (key, value) in &taken {
            if let Err(e) = read_fields::<T>(&[(key, value)]) {
                good = false;
                let problem = format!("{} will not do: {}", self.snippet(value), e.message());
                self.fault(value.span().start, key, problem, cure(key));
            }
        }
        if good { read_fields(&taken).ok() } else { None }
    }

    /// Whether the key stands in the table.
    pub(super) fn has(&self, key: &str) -> bool {
        self.left.contains_key(key)
    }

    /// Counts a key as known without reading it.
    pub(super) fn known(&mut self, key: &'static str) {
        self.known.push(key);
        self.left.remove(key);
    }

    /// Where the table begins.
    pub(super) fn offset(&self) -> usize {
        self.offset
    }

    /// Where the key's value stands, else where the table begins. Ask before the key is taken.
    pub(super) fn offset_of(&self, key: &str) -> usize {
        self.left.get(key).map_or(self.offset, |v| v.span().start)
    }

    /// Every key that nobody asked for is a fault.
    pub(super) fn leftovers(&self) {
        for (key, value) in &self.left {
            let near = self.known.iter().min_by_key(|k| distance(k, key));
            let cure = match near {
                Some(k) if distance(k, key) <= 3 => format!("did you mean {k:?}?"),
                _ => format!("known keys here are {}", self.known.join(", ")),
            };
            self.fault(value.span().start, key, "is not a key that hatchwarden knows".to_owned(), &cure);
        }
    }
}

fn read_fields<T: DeserializeOwned>(
    fields: &[(&'static str, &Spanned<DeValue<'_>>)],
) -> Result<T, toml::de::Error> {
    let each = fields.iter().map(|(k, v)| (*k, ValueDeserializer::from((*v).clone())));
    T::deserialize(MapDeserializer::new(each))
}

fn article(kind: &str) -> String {
    let an = kind.starts_with(['a', 'e', 'i', 'o', 'u']);
    format!("{} {kind}", if an { "an" } else { "a" })
}

fn as_number(value: &DeValue<'_>) -> Option<f64> {
    let text = match value {
        DeValue::Integer(i) if i.radix() == 10 => i.as_str(),
        DeValue::Float(f) => f.as_str(),
        _ => return None,
    };
    text.replace('_', "").parse().ok().filter(|x: &f64| x.is_finite())
}

/// Number of letters to change to get from one word to the other (Levenshtein 1966).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, cb) in b.iter().enumerate() {
            let cost = if ca == *cb { corner } else { 1 + corner.min(row[j]).min(row[j + 1]) };
            corner = row[j + 1];
            row[j + 1] = cost;
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::distance;

    #[test]
    fn distance_counts_letters() {
        assert_eq!(distance("kitten", "sitting"), 3); // the textbook example of Levenshtein's distance
        assert_eq!(distance("host", "host"), 0);
        assert_eq!(distance("", "abc"), 3);
    }
}
