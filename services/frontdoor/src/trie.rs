//! Subscriptions by filter: finds all that match a topic without looking at the others. Pure.

use std::collections::HashMap;

/// Values under topic filters, each with the key of its owner.
#[derive(Debug)]
pub(crate) struct Trie<V> {
    root: Node<V>,
}

#[derive(Debug)]
struct Node<V> {
    /// By level; the level `+` cannot occur in a topic name, so it needs no place of its own.
    children: HashMap<Box<str>, Node<V>>,
    /// Filters that end here.
    here: Vec<(u64, V)>,
    /// Filters that end with `#` under this level.
    below: Vec<(u64, V)>,
}

impl<V> Default for Node<V> {
    fn default() -> Self {
        Node { children: HashMap::new(), here: Vec::new(), below: Vec::new() }
    }
}

impl<V> Default for Trie<V> {
    fn default() -> Self {
        Trie { root: Node::default() }
    }
}

impl<V> Trie<V> {
    /// Puts the owner's value under the filter; true if it replaced one.
    pub(crate) fn insert(&mut self, filter: &str, owner: u64, value: V) -> bool {
        let mut node = &mut self.root;
        let mut hash = false;
        for level in filter.split('/') {
            if level == "#" {
                hash = true;
                break;
            }
            node = node.children.entry(level.into()).or_default();
        }
        let list = if hash { &mut node.below } else { &mut node.here };
        match list.iter_mut().find(|(key, _)| *key == owner) {
            Some(old) => {
                old.1 = value;
                true
            }
            None => {
                list.push((owner, value));
                false
            }
        }
    }

    /// Removes the owner's value; true if there was one.
    pub(crate) fn remove(&mut self, filter: &str, owner: u64) -> bool {
        self.root.remove(Some(filter), owner)
    }

    /// Some filter matches the topic name.
    pub(crate) fn matches(&self, topic: &str) -> bool {
        let mut any = false;
        self.matching(topic, &mut |_, _| any = true);
        any
    }

    /// Calls `hit` for every value whose filter matches the topic name; an owner may come several times.
    pub(crate) fn matching<'a>(&'a self, topic: &str, hit: &mut impl FnMut(u64, &'a V)) {
        self.root.walk(Some(topic), !topic.starts_with('$'), hit);
    }
}

impl<V> Node<V> {
    fn walk<'a>(&'a self, rest: Option<&str>, wildcards: bool, hit: &mut impl FnMut(u64, &'a V)) {
        if wildcards {
            self.below.iter().for_each(|(key, value)| hit(*key, value));
        }
        let Some(rest) = rest else {
            return self.here.iter().for_each(|(key, value)| hit(*key, value));
        };
        let (level, next) = split(rest);
        if let Some(child) = self.children.get(level) {
            child.walk(next, true, hit);
        }
        if wildcards && let Some(child) = self.children.get("+") {
            child.walk(next, true, hit);
        }
    }

    fn remove(&mut self, rest: Option<&str>, owner: u64) -> bool {
        let list = match rest {
            None => &mut self.here,
            Some("#") => &mut self.below,
            Some(rest) => return self.remove_below(rest, owner),
        };
        let before = list.len();
        list.retain(|(key, _)| *key != owner);
        before != list.len()
    }

    fn remove_below(&mut self, rest: &str, owner: u64) -> bool {
        let (level, next) = split(rest);
        let Some(child) = self.children.get_mut(level) else { return false };
        let removed = child.remove(next, owner);
        if child.children.is_empty() && child.here.is_empty() && child.below.is_empty() {
            self.children.remove(level);
        }
        removed
    }
}

fn split(rest: &str) -> (&str, Option<&str>) {
    match rest.split_once('/') {
        Some((level, next)) => (level, Some(next)),
        None => (rest, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn owners(trie: &Trie<u8>, topic: &str) -> Vec<u64> {
        let mut found = Vec::new();
        trie.matching(topic, &mut |key, _| found.push(key));
        found.sort_unstable();
        found
    }

    #[test]
    fn overlapping_filters_are_all_found() {
        let mut trie = Trie::default();
        for (key, filter) in ["undercroft/#", "undercroft/+/temperature", "undercroft/V1/temperature", "+/+"]
            .iter()
            .enumerate()
        {
            assert!(!trie.insert(filter, key as u64, 0));
        }
        assert_eq!(owners(&trie, "undercroft/V1/temperature"), [0, 1, 2]);
        assert_eq!(owners(&trie, "undercroft/V1"), [0, 3]);
        assert_eq!(owners(&trie, "undercroft"), [0]);
    }

    #[test]
    fn removal_leaves_no_empty_nodes() {
        let mut trie = Trie::default();
        trie.insert("a/b/#", 1, 0);
        trie.insert("a/b", 2, 0);
        assert!(!trie.remove("a/b/c", 1));
        assert!(trie.remove("a/b/#", 1));
        assert!(!trie.remove("a/b/#", 1));
        assert_eq!(owners(&trie, "a/b"), [2]);
        assert!(trie.remove("a/b", 2));
        assert!(trie.root.children.is_empty());
    }

    #[test]
    fn the_same_filter_again_replaces() {
        let mut trie = Trie::default();
        trie.insert("#", 1, 0);
        assert!(trie.insert("#", 1, 5));
        let mut seen = Vec::new();
        trie.matching("x", &mut |_, value| seen.push(*value));
        assert_eq!(seen, [5]);
    }
}
