//! An entry of the topic map that will not do.

/// An entry of the topic map that will not do.
///
/// ```
/// use readings::{MapEntry, TopicMap};
/// let entry = MapEntry { topic: "cellar/t+".into(), ..MapEntry::default() };
/// let said = TopicMap::new("undercroft".parse().unwrap(), vec![entry]).unwrap_err().to_string();
/// assert_eq!(said, "map entry 1: topic \"cellar/t+\" will not do: \
///     write a topic or filter of MQTT: '+' must fill a whole level");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("map entry {entry}: {field} {value:?} will not do: {cure}")]
pub struct MapError {
    /// Which entry, counted from 1.
    pub entry: usize,
    /// Which of its fields.
    pub field: &'static str,
    /// What stands there.
    pub value: String,
    /// What to write instead.
    pub cure: String,
}

/// The same before the entry's number is known.
pub(crate) struct Fault {
    field: &'static str,
    value: String,
    cure: String,
}

pub(crate) fn fault(field: &'static str, value: &str, cure: String) -> Fault {
    Fault { field, value: value.to_owned(), cure }
}

impl Fault {
    /// With the number of its entry, counted from 1.
    pub(crate) fn in_entry(self, entry: usize) -> MapError {
        let Self { field, value, cure } = self;
        MapError { entry, field, value, cure }
    }
}
