//! What a probe says, before anybody writes it down.

/// What a probe says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Said {
    Number(f64),
    Nan,
    Null,
    Word,
    Nothing,
}
