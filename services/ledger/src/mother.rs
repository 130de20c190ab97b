//! What is known of a mother: how often she held, how long, and how it ended.

use crate::account::Account;
use crate::clutch::{Clutch, Left};
use crate::event::Path;
use crate::{Entry, Event};
use std::collections::BTreeMap;
use units::{ClutchId, Day0, MotherId, Span, Time};

/// One time that she held.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// The clutch.
    pub clutch: ClutchId,
    /// Spawning.
    pub day0: Day0,
    /// What was chosen for it.
    pub path: Option<Path>,
    /// When and how it left her; `None` while she holds.
    pub left: Option<(Time, Left)>,
    /// How many she gave, dead ones too; `None` where they were never counted.
    pub count: Option<i64>,
}

impl Hold {
    /// How long she held, from the middle of day 0; to now while she holds.
    pub fn length(&self, now: Time) -> Span {
        self.left.map_or(now, |(t, _)| t) - self.day0.middle()
    }
}

/// A mother and what she did, the latest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Mother<'a> {
    /// Her code.
    pub id: MotherId,
    /// The fish in the keeper's words, of her latest clutch.
    pub fish: &'a str,
    /// Every time that she held.
    pub holds: Vec<Hold>,
    /// What was noted about her.
    pub notes: Vec<&'a Entry>,
}

impl Mother<'_> {
    /// Since when her mouth is empty; `None` while she holds.
    pub fn empty_since(&self) -> Option<Time> {
        self.holds.first()?.left.map(|(t, _)| t)
    }

    /// How often she spawned since a time.
    pub fn holds_since(&self, t: Time) -> usize {
        self.holds.iter().filter(|h| h.day0.middle() >= t).count()
    }

    /// From the end of one hold to the next spawning, the latest first.
    pub fn rests(&self) -> Vec<Span> {
        let pairs = self.holds.iter().zip(self.holds.iter().skip(1));
        pairs.filter_map(|(later, earlier)| Some(later.day0.middle() - earlier.left?.0)).collect()
    }
}

fn hold(clutch: &Clutch) -> Hold {
    let came = clutch.statement().came;
    Hold {
        clutch: clutch.id.clone(),
        day0: clutch.day0,
        path: clutch.path,
        left: clutch.left_her.or_else(|| left_unsaid(clutch)),
        count: clutch.alive.map(|_| came),
    }
}

/// When young that were counted, or a clutch that was closed, had left her at the latest.
fn left_unsaid(clutch: &Clutch) -> Option<(Time, Left)> {
    let counted = clutch.lines().first().map(|l| l.at);
    counted.or(clutch.closed).map(|t| (t, Left::Unknown))
}

impl Account {
    /// Every mother that was named, by her code.
    pub fn mothers(&self) -> Vec<Mother<'_>> {
        let mut all: BTreeMap<&MotherId, Vec<&Clutch>> = BTreeMap::new();
        for clutch in self.clutches() {
            if let Some(mother) = &clutch.mother {
                all.entry(mother).or_default().push(clutch);
            }
        }
        all.into_iter().map(|(id, clutches)| self.mother_of(id, clutches)).collect()
    }

    /// One mother.
    pub fn mother(&self, id: &MotherId) -> Option<Mother<'_>> {
        let hers: Vec<&Clutch> = self.clutches().filter(|c| c.mother.as_ref() == Some(id)).collect();
        if hers.is_empty() { None } else { Some(self.mother_of(id, hers)) }
    }

    fn mother_of<'a>(&'a self, id: &MotherId, mut hers: Vec<&'a Clutch>) -> Mother<'a> {
        hers.sort_by_key(|c| std::cmp::Reverse(c.day0.middle()));
        let notes = |e: &&Entry| matches!(&e.event, Event::Noted(n) if n.mother.as_ref() == Some(id));
        Mother {
            id: id.clone(),
            fish: hers.first().map_or("", |c| &c.fish),
            holds: hers.into_iter().map(hold).collect(),
            notes: self.happened().into_iter().filter(notes).collect(),
        }
    }
}
