//! Reading TOML tables strictly: every fault is kept, none stops the reading.

use std::fmt;
use toml::{Table, Value};

/// One thing wrong in a species table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The entry it is in.
    pub entry: String,
    /// The field.
    pub field: String,
    /// What stands there.
    pub value: String,
    /// What to do.
    pub cure: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "species {:?}, {} = {}: {}", self.entry, self.field, self.value, self.cure)
    }
}

/// A species table that cannot be used, with all that is wrong in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpeciesError {
    /// Every fault, in the order of the entries.
    pub faults: Vec<Fault>,
}

impl fmt::Display for SpeciesError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> = self.faults.iter().map(Fault::to_string).collect();
        f.write_str(&lines.join("\n"))
    }
}

impl std::error::Error for SpeciesError {}

/// One table of one entry while it is read; `path` is where it stands in the entry.
pub(crate) struct Reader<'a> {
    pub(crate) entry: &'a str,
    pub(crate) path: String,
    pub(crate) table: &'a Table,
}

impl<'a> Reader<'a> {
    /// The full name of a field.
    pub(crate) fn field(&self, name: &str) -> String {
        if self.path.is_empty() { name.to_owned() } else { format!("{}.{name}", self.path) }
    }

    pub(crate) fn fault(&self, name: &str, value: impl fmt::Display, cure: impl Into<String>) -> Fault {
        Fault {
            entry: self.entry.to_owned(),
            field: self.field(name),
            value: value.to_string(),
            cure: cure.into(),
        }
    }

    /// Refuses every key that is not in the list.
    pub(crate) fn only(&self, known: &[&str], faults: &mut Vec<Fault>) {
        for (key, value) in self.table.iter().filter(|(k, _)| !known.contains(&k.as_str())) {
            faults.push(self.fault(
                key,
                value,
                format!("unknown key; known keys here are {}", known.join(", ")),
            ));
        }
    }

    pub(crate) fn has(&self, name: &str) -> bool {
        self.table.contains_key(name)
    }

    /// A piece of text that must be there and say something.
    pub(crate) fn text(&self, name: &str, faults: &mut Vec<Fault>) -> Option<&'a str> {
        match self.table.get(name) {
            Some(Value::String(s)) if !s.trim().is_empty() => Some(s.trim()),
            other => {
                faults.push(self.wrong(name, other, "write a text in quotes"));
                None
            }
        }
    }

    /// A number within bounds that must be there.
    pub(crate) fn number(&self, name: &str, low: f64, high: f64, faults: &mut Vec<Fault>) -> Option<f64> {
        let found = self.table.get(name);
        let number = found.and_then(as_number).filter(|x| (low..=high).contains(x));
        if number.is_none() {
            faults.push(self.wrong(name, found, &format!("write a number from {low} to {high}")));
        }
        number
    }

    /// A table within this one; `None` without a fault where it is missing.
    pub(crate) fn inner(&self, name: &str, faults: &mut Vec<Fault>) -> Option<Reader<'a>> {
        match self.table.get(name)? {
            Value::Table(table) => Some(Reader { entry: self.entry, path: self.field(name), table }),
            other => {
                faults.push(self.fault(
                    name,
                    other,
                    "write a table here; config/species.toml shows the form",
                ));
                None
            }
        }
    }

    /// The tables of a list; none where it is missing.
    pub(crate) fn list(&self, name: &str, faults: &mut Vec<Fault>) -> Vec<Reader<'a>> {
        let written = self.table.get(name);
        let all = match written {
            None => return Vec::new(),
            Some(Value::Array(all)) => all.iter().map(Value::as_table).collect::<Option<Vec<_>>>(),
            Some(_) => None,
        };
        let Some(all) = all else {
            faults.push(self.wrong(name, written, "write a list of tables, each under [[…]]"));
            return Vec::new();
        };
        let reader =
            |(i, table)| Reader { entry: self.entry, path: self.field(&format!("{name}[{i}]")), table };
        all.into_iter().enumerate().map(reader).collect()
    }

    /// Yes or no; no where it is missing.
    pub(crate) fn flag(&self, name: &str, faults: &mut Vec<Fault>) -> bool {
        match self.table.get(name) {
            None => false,
            Some(Value::Boolean(b)) => *b,
            other => {
                faults.push(self.wrong(name, other, "write true or false"));
                false
            }
        }
    }

    fn wrong(&self, name: &str, found: Option<&Value>, cure: &str) -> Fault {
        match found {
            Some(value) => self.fault(name, value, cure),
            None => self.fault(name, "(missing)", cure),
        }
    }
}

pub(crate) fn as_number(value: &Value) -> Option<f64> {
    match value {
        Value::Float(x) if x.is_finite() => Some(*x),
        Value::Integer(i) => Some(*i as f64),
        _ => None,
    }
}
