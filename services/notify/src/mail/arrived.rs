//! Who has got an item already, while others have not.

use lettre::Address;
use std::collections::VecDeque;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Items remembered at most. Beyond that, and after a restart, somebody gets a repeat, which its Message-ID tells.
const MOST: usize = 256;

/// Addresses by item, the oldest item first.
#[derive(Default)]
pub(super) struct Arrived(Mutex<VecDeque<(String, Vec<Address>)>>);

impl Arrived {
    /// Those of `all` that have not got the item.
    pub(super) fn missing<'a>(&self, id: &str, all: impl Iterator<Item = &'a Address>) -> Vec<Address> {
        let items = self.items();
        let has = |to: &Address| items.iter().any(|(item, have)| item == id && have.contains(to));
        all.filter(|to| !has(to)).cloned().collect()
    }

    /// These have got it now.
    pub(super) fn note<'a>(&self, id: &str, have: impl Iterator<Item = &'a Address>) {
        let mut items = self.items();
        let have = have.cloned();
        match items.iter_mut().find(|(item, _)| item == id) {
            Some((_, known)) => known.extend(have),
            None => items.push_back((id.to_owned(), have.collect())),
        }
        if items.len() > MOST {
            items.pop_front();
        }
    }

    /// Everybody has it.
    pub(super) fn forget(&self, id: &str) {
        self.items().retain(|(item, _)| item != id);
    }

    /// A panic elsewhere leaves the list whole.
    fn items(&self) -> MutexGuard<'_, VecDeque<(String, Vec<Address>)>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_address_gets_an_item_once_and_the_list_stays_short() {
        let all: Vec<Address> = ["mia@example.org", "ole@example.org"].map(|a| a.parse().unwrap()).into();
        let arrived = Arrived::default();
        arrived.note("a", all[..1].iter());
        assert_eq!(arrived.missing("a", all.iter()), all[1..]);
        assert_eq!(arrived.missing("b", all.iter()), all);
        for n in 0..MOST {
            arrived.note(&format!("item {n}"), all.iter());
        }
        assert_eq!(arrived.items().len(), MOST);
        assert_eq!(arrived.missing("a", all.iter()), all, "the oldest is forgotten first");
        arrived.forget("item 5");
        assert_eq!(arrived.missing("item 5", all.iter()), all);
        assert_eq!(arrived.missing("item 6", all.iter()), []);
    }
}
