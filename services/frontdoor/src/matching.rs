//! The rules of topic names and topic filters. Pure.

/// Why a filter cannot be subscribed to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum FilterFault {
    Empty,
    Nul,
    HashNotLast,
    HashNotAlone,
    PlusNotAlone,
    ShareName,
    ShareFilter,
}

/// A topic name may be published to: not empty, no wildcard, no NUL.
pub(crate) fn valid_topic(topic: &str) -> bool {
    !topic.is_empty() && !topic.bytes().any(|b| matches!(b, b'+' | b'#' | 0))
}

/// Wildcards stand alone in their level and `#` only in the last one.
pub(crate) fn check_filter(filter: &str) -> Result<(), FilterFault> {
    if filter.is_empty() {
        return Err(FilterFault::Empty);
    }
    if filter.contains('\0') {
        return Err(FilterFault::Nul);
    }
    let mut levels = filter.split('/').peekable();
    while let Some(level) = levels.next() {
        if level.contains('#') && level != "#" {
            return Err(FilterFault::HashNotAlone);
        }
        if level == "#" && levels.peek().is_some() {
            return Err(FilterFault::HashNotLast);
        }
        if level.contains('+') && level != "+" {
            return Err(FilterFault::PlusNotAlone);
        }
    }
    Ok(())
}

/// Splits an MQTT 5 shared filter `$share/name/filter`; any other filter comes back whole.
pub(crate) fn split_share(filter: &str) -> Result<(Option<&str>, &str), FilterFault> {
    let Some(rest) = filter.strip_prefix("$share/") else { return Ok((None, filter)) };
    let Some((name, inner)) = rest.split_once('/') else { return Err(FilterFault::ShareFilter) };
    if name.is_empty() || name.contains(['+', '#']) {
        return Err(FilterFault::ShareName);
    }
    if inner.is_empty() {
        return Err(FilterFault::ShareFilter);
    }
    Ok((Some(name), inner))
}

/// A valid filter matches a valid topic name. `$` topics are not matched by a leading wildcard.
pub(crate) fn matches(filter: &str, topic: &str) -> bool {
    if topic.starts_with('$') && filter.starts_with(['+', '#']) {
        return false;
    }
    let mut filter = filter.split('/');
    let mut topic = topic.split('/');
    loop {
        match (filter.next(), topic.next()) {
            (Some("#"), _) => return true,
            (Some("+"), Some(_)) => {}
            (Some(f), Some(t)) if f == t => {}
            (None, None) => return true,
            _ => return false,
        }
    }
}

/// Every topic name that `wanted` matches is matched by `permitted` too. Both are valid filters.
pub(crate) fn covers(permitted: &str, wanted: &str) -> bool {
    // The only two spellings of one filter: every topic name has a first level.
    let permitted = if permitted == "+/#" { "#" } else { permitted };
    if wanted.starts_with('$') && permitted.starts_with(['+', '#']) {
        return false;
    }
    let (mut permitted, mut wanted) = (permitted.split('/'), wanted.split('/'));
    loop {
        match (permitted.next(), wanted.next()) {
            (Some("#"), _) | (None, None) => return true,
            (Some("+"), Some(level)) if level != "#" => {}
            (Some(p), Some(w)) if p == w => {}
            _ => return false,
        }
    }
}

/// Levels of a topic or filter.
pub(crate) fn levels(topic: &str) -> usize {
    topic.bytes().filter(|b| *b == b'/').count() + 1
}

#[cfg(test)]
#[path = "matching_cases.rs"]
mod cases;

#[cfg(test)]
#[path = "covers_tests.rs"]
mod covers_tests;
