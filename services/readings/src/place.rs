//! A name in an entry: written out, or taken from a level of the topic.

use crate::map_error::{Fault, fault};
use crate::topic;

/// A name that is fixed or stands for a level of the topic.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Name {
    Fixed(String),
    /// Which level of the topic, counted from 0.
    Level(usize),
}

impl Name {
    /// Reads `word` or `+n`; the n-th `+` must be there.
    pub(crate) fn parse(field: &'static str, text: &str, filter: &str) -> Result<Self, Fault> {
        let Some(number) = text.strip_prefix('+') else { return Ok(Self::Fixed(text.to_owned())) };
        let levels = topic::unshared(filter).split('/').enumerate();
        let mut open = levels.filter(|(_, l)| *l == "+").map(|(i, _)| i);
        let wanted = number.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
        wanted.and_then(|n| open.nth(n)).map(Self::Level).ok_or_else(|| {
            let cure = format!("write a name, or \"+1\" for what the first '+' in {filter:?} stands for");
            fault(field, text, cure)
        })
    }

    /// The name for one topic.
    pub(crate) fn of<'a>(&'a self, topic: &'a str) -> &'a str {
        match self {
            Self::Fixed(name) => name,
            Self::Level(i) => topic.split('/').nth(*i).unwrap_or_default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plus_with_a_number_is_a_level_of_the_topic() {
        let of = |text, filter: &str, topic: &str| {
            Name::parse("vessel", text, filter).map(|n| n.of(topic).to_owned()).ok()
        };
        assert_eq!(of("V1", "a/+", "a/b").as_deref(), Some("V1"));
        assert_eq!(of("+1", "a/+/+/t", "a/b/c/t").as_deref(), Some("b"));
        assert_eq!(of("+2", "a/+/+/t", "a/b/c/t").as_deref(), Some("c"));
        assert_eq!(of("+1", "$share/g/a/+", "a/b").as_deref(), Some("b"));
        for wrong in ["+", "+0", "+3", "+x", "+-1"] {
            assert_eq!(of(wrong, "a/+/+/t", "a/b/c/t"), None, "{wrong}");
        }
    }
}
