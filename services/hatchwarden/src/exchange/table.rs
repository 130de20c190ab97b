//! Which columns there are. Their names stand in files that people keep: none is ever renamed.

use std::sync::Arc;
use units::Time;

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Table {
    /// Readings of probes.
    Readings,
    /// Entries of the account.
    Account,
    /// Comparisons of thermometers.
    Comparisons,
    /// The log of alarms.
    Alarms,
    /// Refusals, counted.
    Refusals,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// RFC 3339 in UTC.
    Time,
    /// Text.
    Text,
    /// A number.
    Number,
    /// A whole number from 0.
    Count,
    /// true or false.
    Flag,
    /// JSON.
    Json,
}

/// One column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Column {
    /// Its name, with the unit where all rows have the same.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// Whether every row has a value.
    pub needed: bool,
    /// What it says.
    pub about: &'static str,
}

/// One value of a row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cell {
    /// None.
    Empty,
    /// A time.
    Time(Time),
    /// Text.
    Text(Arc<str>),
    /// A number.
    Number(f64),
    /// A whole number.
    Count(u64),
    /// Yes or no.
    Flag(bool),
    /// JSON as text.
    Json(Arc<str>),
}

impl Cell {
    /// Text.
    pub(crate) fn text(text: impl Into<Arc<str>>) -> Self {
        Self::Text(text.into())
    }

    /// A cell of what may be missing.
    pub(crate) fn or_empty<T>(value: Option<T>, cell: impl FnOnce(T) -> Self) -> Self {
        value.map_or(Self::Empty, cell)
    }
}

const fn needed(name: &'static str, kind: Kind, about: &'static str) -> Column {
    Column { name, kind, needed: true, about }
}

const fn maybe(name: &'static str, kind: Kind, about: &'static str) -> Column {
    Column { name, kind, needed: false, about }
}

const READINGS: &[Column] = &[
    needed("t", Kind::Time, "when it was measured, a time in UTC such as 2031-03-14T02:10:00Z"),
    needed("vessel", Kind::Text, "the vessel it was in, e.g. V1"),
    needed("quantity", Kind::Text, "what was measured, e.g. temperature or air-flow"),
    maybe("mark", Kind::Text, "which of several probes of that vessel and quantity"),
    needed("value", Kind::Number, "what the probe read, in the unit of its row, without any offset"),
    maybe(
        "corrected",
        Kind::Number,
        "the same with the offset that its comparisons give for that time; not taken in",
    ),
    maybe("unit", Kind::Text, "the unit of value and corrected"),
    maybe("received", Kind::Time, "when it arrived, UTC"),
    maybe("sequence", Kind::Count, "the device's running number"),
    maybe(
        "fresh",
        Kind::Flag,
        "true if it told the present when it arrived, false if it came late or was kept by a broker",
    ),
    maybe(
        "flags",
        Kind::Count,
        "remarks, a sum: 1 time without zone, 2 device clock never set, 4 ahead, 256 behind, 8 over 10 minutes old, \
         16 time unreadable, 32 time of the device, 64 age given by the device, 128 kept by a broker",
    ),
];

const ACCOUNT: &[Column] = &[
    needed("entry", Kind::Count, "the number of the entry"),
    needed("t", Kind::Time, "when it was written down, a time in UTC such as 2031-03-14T02:10:00Z"),
    needed("by", Kind::Text, "who wrote it down"),
    maybe("at", Kind::Time, "when it happened, UTC; not taken in, it stands in event"),
    maybe("clutches", Kind::Text, "which clutches and groups it is about, with blanks between; not taken in"),
    maybe("stands", Kind::Flag, "false if it was withdrawn by a later entry; not taken in"),
    maybe("words", Kind::Text, "what happened, in words; not taken in"),
    needed("event", Kind::Json, "what happened, as the account keeps it"),
];

const COMPARISONS: &[Column] = &[
    needed("number", Kind::Count, "the number of the comparison, 1 for the first"),
    needed("t", Kind::Time, "when it was written down, a time in UTC such as 2031-03-14T02:10:00Z"),
    needed("by", Kind::Text, "who wrote it down"),
    needed("probe", Kind::Text, "the thermometer, e.g. V1/temperature"),
    needed("at", Kind::Time, "when both were read, UTC"),
    maybe("since", Kind::Time, "from when the offset holds, UTC; from at if empty"),
    needed("read_c", Kind::Number, "what the thermometer read, °C, without any offset"),
    needed("reference_c", Kind::Number, "what the reference read, °C"),
    maybe("offset_k", Kind::Number, "what is added to readings, K; not taken in, it follows from both"),
    needed("against", Kind::Text, "which reference"),
    maybe("accuracy_k", Kind::Number, "the rated accuracy of the reference, ± K"),
    maybe("withdrawn", Kind::Time, "when it was withdrawn, UTC"),
    maybe("withdrawn_by", Kind::Text, "who withdrew it"),
];

const ALARMS: &[Column] = &[
    needed("t", Kind::Time, "when it changed, UTC"),
    needed("alarm", Kind::Text, "which alarm: place and condition"),
    needed("from", Kind::Text, "the state it left"),
    needed("to", Kind::Text, "the state it entered"),
    needed("text", Kind::Text, "what it said"),
];

const REFUSALS: &[Column] = &[
    needed("place", Kind::Text, "the topic or probe it came from"),
    needed("reason", Kind::Text, "why it was refused"),
    needed("count", Kind::Count, "how many"),
    needed("first", Kind::Time, "when the first arrived, UTC"),
    needed("last", Kind::Time, "when the last arrived, UTC"),
    needed("excerpt", Kind::Text, "a piece of the last"),
];

impl Table {
    /// Those that can be taken in again.
    pub(crate) const TAKEN: [Self; 3] = [Self::Account, Self::Comparisons, Self::Readings];

    /// Its columns in their order.
    pub(crate) const fn columns(self) -> &'static [Column] {
        match self {
            Self::Readings => READINGS,
            Self::Account => ACCOUNT,
            Self::Comparisons => COMPARISONS,
            Self::Alarms => ALARMS,
            Self::Refusals => REFUSALS,
        }
    }

    /// Its name.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Readings => "readings",
            Self::Account => "account entries",
            Self::Comparisons => "comparisons",
            Self::Alarms => "alarm changes",
            Self::Refusals => "refusals",
        }
    }

    /// Where a column stands.
    pub(crate) fn index(self, name: &str) -> Option<usize> {
        self.columns().iter().position(|c| c.name == name)
    }
}
