//! The table of species.

use crate::entry;
use crate::parse::{Fault, Reader, SpeciesError};
use crate::species::Species;
use std::collections::BTreeMap;
use std::sync::OnceLock;
use toml::{Table, Value};

/// The table that is shipped, as text.
const SHIPPED: &str = include_str!("../../../config/species.toml");

/// Species entries by key.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SpeciesTable {
    entries: BTreeMap<String, Species>,
}

impl SpeciesTable {
    /// Reads a table; the commented `config/species.toml` shows the form.
    ///
    /// # Errors
    /// [`SpeciesError`] with every fault at once: entry, field, value and cure. Unknown keys are faults.
    ///
    /// ```
    /// use development::SpeciesTable;
    /// let error = SpeciesTable::from_toml("[species.guppy]\nname = \"Guppy\"\ncolour = 3").unwrap_err();
    /// let said = error.to_string();
    /// assert!(said.contains("colour = 3: unknown key"), "{said}");
    /// assert!(said.contains("base = (missing)") && said.contains("stage = (missing)"), "{said}");
    /// ```
    pub fn from_toml(text: &str) -> Result<Self, SpeciesError> {
        let file = text.parse::<Table>().map_err(|e| not_toml(&e))?;
        let (mut entries, mut faults) = (BTreeMap::new(), Vec::new());
        let root = Reader { entry: "", path: String::new(), table: &file };
        root.only(&["species"], &mut faults);
        if let Some(species) = root.inner("species", &mut faults) {
            for (key, value) in species.table {
                if let Some(entry) = one(key, value, &mut faults) {
                    entries.insert(key.clone(), entry);
                }
            }
        }
        if faults.is_empty() { Ok(Self { entries }) } else { Err(SpeciesError { faults }) }
    }

    /// The table that comes with the program, read once. A test proves that it reads; were it ever not to, it is empty.
    pub fn shipped() -> Self {
        static TABLE: OnceLock<SpeciesTable> = OnceLock::new();
        TABLE.get_or_init(|| Self::from_toml(SHIPPED).unwrap_or_default()).clone()
    }

    /// This table with another's entries beside it; where both have a key the other's stands.
    #[must_use]
    pub fn with(mut self, other: Self) -> Self {
        self.entries.extend(other.entries);
        self
    }

    /// The entry of that key.
    pub fn get(&self, key: &str) -> Option<&Species> {
        self.entries.get(key)
    }

    /// All entries in order of their keys.
    pub fn iter(&self) -> impl Iterator<Item = &Species> {
        self.entries.values()
    }

    /// How many entries there are.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }
}

fn one(key: &str, value: &Value, faults: &mut Vec<Fault>) -> Option<Species> {
    let fault = |value: String, cure: &str| Fault {
        entry: key.to_owned(),
        field: "species".to_owned(),
        value,
        cure: cure.to_owned(),
    };
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if key.is_empty() || !key.chars().all(plain) {
        faults.push(fault(format!("{key:?}"), "name an entry with a-z, 0-9 and '-' only"));
    }
    let Value::Table(table) = value else {
        faults.push(fault(
            value.to_string(),
            "write a table [species.NAME]; config/species.toml shows the form",
        ));
        return None;
    };
    entry::read(&Reader { entry: key, path: String::new(), table }, faults)
}

fn not_toml(e: &toml::de::Error) -> SpeciesError {
    let fault = Fault {
        entry: String::new(),
        field: "file".to_owned(),
        value: e.message().to_owned(),
        cure: format!("correct the TOML: {}", e.to_string().trim()),
    };
    SpeciesError { faults: vec![fault] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_table_has_no_fault() {
        let table = SpeciesTable::from_toml(SHIPPED).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(SpeciesTable::shipped(), table);
    }
}
