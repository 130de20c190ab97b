//! The plain format: a number as text, perhaps with its unit behind it.

use crate::Reason;
use units::Unit;

/// A number and the unit that stood behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Amount {
    pub(crate) value: f64,
    pub(crate) unit: Option<Unit>,
}

/// What devices write when they have no reading (common practice, no source). Compared without regard to case.
const NO_READING: [&str; 14] = [
    "unavailable",
    "unknown",
    "none",
    "offline",
    "n/a",
    "na",
    "nil",
    "undefined",
    "error",
    "fail",
    "failed",
    "-",
    "--",
    "---",
];

/// Reads a whole plain payload; a JSON string is read inside its quotes.
pub(crate) fn payload(text: &str, decimal_comma: bool) -> Result<Amount, Reason> {
    let text = trimmed(text);
    if !text.starts_with('"') {
        return amount(text, decimal_comma);
    }
    let inside: String = serde_json::from_str(text).map_err(|_| Reason::BadJson)?;
    amount(&inside, decimal_comma)
}

/// Reads a number, perhaps with a unit behind it.
pub(crate) fn amount(text: &str, decimal_comma: bool) -> Result<Amount, Reason> {
    let text = trimmed(text);
    // The usual case needs no second look. Rust also reads "nan" and "inf", which end here, as does 1e400.
    if let Ok(value) = text.parse::<f64>() {
        return if value.is_finite() { Ok(Amount { value, unit: None }) } else { Err(Reason::NotANumber) };
    }
    let (number, rest) = split(text);
    if number.is_empty() || no_reading(text) {
        return Err(word(text));
    }
    let value = decimal(number, decimal_comma)?;
    Ok(Amount { value, unit: suffix(rest)? })
}

/// The reason why a text stands for no reading, if it does.
pub(crate) fn absent(text: &str) -> Option<Reason> {
    match trimmed(text) {
        "" => Some(Reason::Empty),
        t if t.eq_ignore_ascii_case("null") => Some(Reason::NullValue),
        t if no_reading(t) => Some(Reason::UnavailableWord),
        _ => None,
    }
}

fn no_reading(text: &str) -> bool {
    NO_READING.iter().any(|w| text.eq_ignore_ascii_case(w))
}

/// White space and line ends are noise; so is the NUL that C strings are sent with by mistake.
pub(crate) fn trimmed(text: &str) -> &str {
    text.trim_matches(|c: char| c.is_whitespace() || c == '\0')
}

fn word(text: &str) -> Reason {
    let structure = text.starts_with(['{', '[']);
    let truth = text.eq_ignore_ascii_case("true") || text.eq_ignore_ascii_case("false");
    absent(text).unwrap_or(if structure || truth { Reason::WrongType } else { Reason::NotANumber })
}

/// Parts a text behind its number: digits, points, commas, a sign in front, an exponent behind.
fn split(text: &str) -> (&str, &str) {
    let bytes = text.as_bytes();
    let digit = |i: usize| bytes.get(i).is_some_and(u8::is_ascii_digit);
    let signed = |i: usize| digit(i) || (matches!(bytes.get(i), Some(b'+' | b'-')) && digit(i + 1));
    let part = |(i, b): (usize, &u8)| match b {
        b'0'..=b'9' | b'.' | b',' => true,
        b'+' | b'-' => i == 0 || matches!(bytes[i - 1], b'e' | b'E'),
        b'e' | b'E' => i > 0 && signed(i + 1),
        _ => false,
    };
    // Only ASCII is passed over, so the cut lies between characters.
    let end = bytes.iter().enumerate().position(|x| !part(x)).unwrap_or(bytes.len());
    text.split_at(end)
}

fn decimal(number: &str, comma: bool) -> Result<f64, Reason> {
    let parsed = match number.matches(',').count() {
        0 => number.parse::<f64>(),
        1 if comma && !number.contains('.') => number.replace(',', ".").parse(),
        _ => return Err(Reason::AmbiguousNumber),
    };
    parsed.ok().filter(|x| x.is_finite()).ok_or(Reason::NotANumber)
}

fn suffix(rest: &str) -> Result<Option<Unit>, Reason> {
    match rest.trim_start().chars().next() {
        None => Ok(None),
        // A space that may part thousands.
        Some('0'..='9') => Err(Reason::AmbiguousNumber),
        Some(c) if c.is_alphabetic() || matches!(c, '°' | '%') => {
            rest.parse().map(Some).map_err(|_| Reason::UnknownUnit)
        }
        Some(_) => Err(Reason::NotANumber),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(text: &str) -> Result<(f64, Option<Unit>), Reason> {
        payload(text, false).map(|a| (a.value, a.unit))
    }

    #[test]
    fn numbers_with_and_without_unit() {
        for (text, value, unit) in [
            ("26.9", 26.9, None),
            ("+26.9\0", 26.9, None),
            (" -0.5e-1\r\n", -0.05, None),
            ("26.8 C", 26.8, Some(Unit::Celsius)),
            ("26.8°C", 26.8, Some(Unit::Celsius)),
            ("2e1F", 20.0, Some(Unit::Fahrenheit)),
            ("45 %", 45.0, Some(Unit::Percent)),
            ("\"0.43 psi\"", 0.43, Some(Unit::Psi)),
        ] {
            assert_eq!(plain(text), Ok((value, unit)), "{text}");
        }
    }

    #[test]
    fn texts_without_a_number_say_why() {
        for (text, why) in [
            ("", Reason::Empty),
            (" \n", Reason::Empty),
            ("\"\"", Reason::Empty),
            ("NULL", Reason::NullValue),
            ("None", Reason::UnavailableWord),
            ("--", Reason::UnavailableWord),
            ("nan", Reason::NotANumber),
            ("-inf", Reason::NotANumber),
            ("1e400", Reason::NotANumber),
            ("1.#QNAN", Reason::NotANumber),
            ("warm", Reason::NotANumber),
            ("1.2.3", Reason::NotANumber),
            ("28-4f2a91,26.93,ok", Reason::NotANumber),
            ("true", Reason::WrongType),
            ("[26.4]", Reason::WrongType),
            ("26.8 R", Reason::UnknownUnit),
            ("1,013.2", Reason::AmbiguousNumber),
            ("26,9", Reason::AmbiguousNumber),
            ("1 013.2", Reason::AmbiguousNumber),
            ("\"26.3", Reason::BadJson),
        ] {
            assert_eq!(plain(text), Err(why), "{text:?}");
        }
    }

    #[test]
    fn a_decimal_comma_is_read_only_where_it_is_plain() {
        assert_eq!(payload("26,94 C", true).map(|a| a.value), Ok(26.94));
        assert_eq!(payload("26.94", true).map(|a| a.value), Ok(26.94));
        assert_eq!(payload("1.013,2", true), Err(Reason::AmbiguousNumber));
        assert_eq!(payload("1,013,2", true), Err(Reason::AmbiguousNumber));
    }
}
