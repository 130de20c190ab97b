//! Keys of which the change is being made just now, or is held in memory while the store fails.

use crate::access::Hash;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What is known of a key that is not on disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Doing {
    /// Somebody is being answered.
    UnderWay,
    /// The service has taken the change with this fingerprint, and its store cannot write it yet.
    Held(Hash),
}

/// All of them.
#[derive(Debug, Default)]
pub(crate) struct Table(Mutex<HashMap<Hash, Doing>>);

/// Why a key cannot be begun with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Busy {
    UnderWay,
    TooMany,
}

/// A key for as long as somebody is being answered.
pub(super) struct Turn {
    table: Arc<Table>,
    key: Hash,
    /// What it is held for from now on.
    held: Option<Hash>,
}

impl Table {
    fn lock(&self) -> MutexGuard<'_, HashMap<Hash, Doing>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn begin(table: &Arc<Self>, key: Hash, most: usize) -> Result<Turn, Busy> {
        let mut all = table.lock();
        let full = all.len() >= most;
        let held = match all.entry(key) {
            Entry::Occupied(mut there) => match *there.get() {
                Doing::UnderWay => return Err(Busy::UnderWay),
                Doing::Held(fingerprint) => {
                    there.insert(Doing::UnderWay);
                    Some(fingerprint)
                }
            },
            Entry::Vacant(_) if full => return Err(Busy::TooMany),
            Entry::Vacant(free) => {
                free.insert(Doing::UnderWay);
                None
            }
        };
        Ok(Turn { table: table.clone(), key, held })
    }
}

impl Turn {
    /// The fingerprint of the change that is held under this key.
    pub(super) fn held(&self) -> Option<Hash> {
        self.held
    }

    pub(super) fn hold(&mut self, fingerprint: Option<Hash>) {
        self.held = fingerprint;
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        match self.held {
            Some(fingerprint) => self.table.lock().insert(self.key, Doing::Held(fingerprint)),
            None => self.table.lock().remove(&self.key),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_has_one_turn_at_a_time_and_what_is_held_is_remembered() {
        let table = Arc::new(Table::default());
        let mut turn = Table::begin(&table, [1; 32], 2).unwrap_or_else(|_| panic!("free"));
        assert!(matches!(Table::begin(&table, [1; 32], 2), Err(Busy::UnderWay)));
        turn.hold(Some([9; 32]));
        drop(turn);
        let turn = Table::begin(&table, [1; 32], 2).unwrap_or_else(|_| panic!("free again"));
        assert_eq!(turn.held(), Some([9; 32]));
        let other = Table::begin(&table, [2; 32], 2);
        assert!(other.is_ok() && matches!(Table::begin(&table, [3; 32], 2), Err(Busy::TooMany)));
        drop((turn, other));
        assert_eq!(table.lock().len(), 1, "what was not held is forgotten");
    }
}
