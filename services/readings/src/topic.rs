//! Topic filters by the rules of MQTT 3.1.1 and 5.0, section 4.7, with shared subscriptions of 5.0, section 4.8.2.

/// Longest topic or filter in bytes: its length is sent as two bytes.
const LONGEST: usize = 65_535;

/// What is wrong with a topic filter, or `None` if it is valid.
///
/// ```
/// assert_eq!(readings::filter_fault("cellar/+/temp"), None);
/// assert_eq!(readings::filter_fault("cellar/t+"), Some("'+' must fill a whole level"));
/// ```
pub fn filter_fault(filter: &str) -> Option<&'static str> {
    let Some(shared) = filter.strip_prefix("$share/") else { return plain_fault(filter) };
    match shared.split_once('/') {
        None => Some("a shared filter is written $share/group/filter"),
        Some(("", _)) => Some("the share name needs at least one character"),
        Some((group, _)) if group.contains(['+', '#']) => Some("no wildcard in the share name"),
        Some((_, rest)) => plain_fault(rest),
    }
}

fn plain_fault(filter: &str) -> Option<&'static str> {
    if filter.is_empty() {
        return Some("it needs at least one character");
    }
    if filter.len() > LONGEST {
        return Some("it is longer than 65,535 bytes");
    }
    if filter.contains('\0') {
        return Some("the character NUL is not allowed");
    }
    let mut levels = filter.split('/').peekable();
    while let Some(level) = levels.next() {
        if level.contains('+') && level != "+" {
            return Some("'+' must fill a whole level");
        }
        if level.contains('#') && (level != "#" || levels.peek().is_some()) {
            return Some("'#' must fill the last level");
        }
    }
    None
}

/// Whether a topic falls under a valid filter. Wildcards in the first level do not reach topics that begin with `$`.
///
/// ```
/// assert!(readings::matches("cellar/#", "cellar/rack/t"));
/// assert!(!readings::matches("#", "$SYS/uptime"));
/// ```
pub fn matches(filter: &str, topic: &str) -> bool {
    let filter = unshared(filter);
    if topic.starts_with('$') && filter.starts_with(['+', '#']) {
        return false;
    }
    let mut levels = topic.split('/');
    for wanted in filter.split('/') {
        match (wanted, levels.next()) {
            ("#", _) => return true,
            ("+", Some(_)) => {}
            (w, Some(level)) if w == level => {}
            _ => return false,
        }
    }
    levels.next().is_none()
}

/// Whether every topic of the filter `inner` also falls under `outer`.
///
/// ```
/// assert!(readings::covers("cellar/#", "cellar/+/t"));
/// assert!(!readings::covers("cellar/+", "cellar/#"));
/// ```
pub fn covers(outer: &str, inner: &str) -> bool {
    // A wildcard of `inner` is a level like any other, except that no '+' can stand for its '#'.
    let open = |f: &str| f.ends_with('#');
    matches(outer, inner) && (open(outer) || !open(inner))
}

/// Whether a filter names exactly one topic.
pub(crate) fn is_exact(filter: &str) -> bool {
    !filter.contains(['+', '#']) && unshared(filter).len() == filter.len()
}

pub(crate) fn unshared(filter: &str) -> &str {
    filter.strip_prefix("$share/").and_then(|f| f.split_once('/')).map_or(filter, |(_, rest)| rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_filter_covers_what_it_contains_and_no_more() {
        for (outer, inner, yes) in [
            ("a/+/+", "a/b/+", true),
            ("a/+/+", "a/b/c", true),
            ("a/#", "a/+/#", true),
            ("a/+", "a/#", false),
            ("a/b", "a/+", false),
            ("#", "a", true),
        ] {
            assert_eq!(covers(outer, inner), yes, "{outer} {inner}");
        }
    }
}
