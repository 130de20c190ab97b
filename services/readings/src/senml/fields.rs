//! The fields of one record as they stand in the pack.

use crate::Reason;

/// What a record can carry; each at most once.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Fields {
    pub(super) base_name: Option<String>,
    pub(super) base_time: Option<f64>,
    pub(super) base_unit: Option<String>,
    pub(super) base_value: Option<f64>,
    pub(super) base_sum: Option<f64>,
    pub(super) version: Option<f64>,
    pub(super) name: Option<String>,
    pub(super) unit: Option<String>,
    pub(super) value: Option<f64>,
    pub(super) text: Option<String>,
    pub(super) truth: Option<bool>,
    pub(super) data: bool,
    pub(super) sum: Option<f64>,
    pub(super) time: Option<f64>,
    pub(super) update: Option<f64>,
}

/// The value of a field, in JSON or CBOR.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Content {
    Number(f64),
    Text(String),
    Truth(bool),
    Data,
    Other,
}

/// CBOR labels (RFC 8428, table 4) by the name of the field in JSON.
pub(super) const LABELS: [(&str, i128); 15] = [
    ("bver", -1),
    ("bn", -2),
    ("bt", -3),
    ("bu", -4),
    ("bv", -5),
    ("bs", -6),
    ("n", 0),
    ("u", 1),
    ("v", 2),
    ("vs", 3),
    ("vb", 4),
    ("s", 5),
    ("t", 6),
    ("ut", 7),
    ("vd", 8),
];

impl Fields {
    /// Takes one field in. Unknown fields are passed over, unless their name ends in `_`: then the pack must not be
    /// read by who does not understand it (section 4.4).
    pub(super) fn put(&mut self, name: &str, content: Content) -> Result<(), Reason> {
        match name {
            "bver" => number(&mut self.version, &content),
            "bn" => text(&mut self.base_name, content),
            "bt" => number(&mut self.base_time, &content),
            "bu" => text(&mut self.base_unit, content),
            "bv" => number(&mut self.base_value, &content),
            "bs" => number(&mut self.base_sum, &content),
            "n" => text(&mut self.name, content),
            "u" => text(&mut self.unit, content),
            "v" => number(&mut self.value, &content),
            "vs" => text(&mut self.text, content),
            "vb" => truth(&mut self.truth, &content),
            "vd" => data(&mut self.data, &content),
            "s" => number(&mut self.sum, &content),
            "t" => number(&mut self.time, &content),
            "ut" => number(&mut self.update, &content),
            other if other.ends_with('_') => Err(Reason::BadSenml),
            _ => Ok(()),
        }
    }

    /// How many values it carries; more than one is an error.
    pub(super) fn values(&self) -> usize {
        let present = [self.value.is_some(), self.text.is_some(), self.truth.is_some(), self.data];
        present.into_iter().filter(|p| *p).count()
    }
}

fn number(place: &mut Option<f64>, content: &Content) -> Result<(), Reason> {
    match content {
        Content::Number(x) if x.is_finite() => once(place, *x),
        _ => Err(Reason::BadSenml),
    }
}

fn text(place: &mut Option<String>, content: Content) -> Result<(), Reason> {
    match content {
        Content::Text(t) => once(place, t),
        _ => Err(Reason::BadSenml),
    }
}

fn truth(place: &mut Option<bool>, content: &Content) -> Result<(), Reason> {
    match content {
        Content::Truth(b) => once(place, *b),
        _ => Err(Reason::BadSenml),
    }
}

/// Data is text in JSON and bytes in CBOR; nothing of it is read.
fn data(place: &mut bool, content: &Content) -> Result<(), Reason> {
    let twice = std::mem::replace(place, true);
    let fits = matches!(content, Content::Text(_) | Content::Data);
    if twice || !fits { Err(Reason::BadSenml) } else { Ok(()) }
}

fn once<T>(place: &mut Option<T>, x: T) -> Result<(), Reason> {
    match place.replace(x) {
        None => Ok(()),
        Some(_) => Err(Reason::BadSenml),
    }
}
