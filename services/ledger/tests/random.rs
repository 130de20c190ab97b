//! Whatever is entered, in whatever order: fish are never created or lost without a line.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use ledger::*;
use proptest::prelude::*;
use units::{ClutchId, Day0, Time, VesselId};

const CLUTCHES: [&str; 3] = ["A", "B", "M"];
const VESSELS: [&str; 3] = ["TU1", "G1", "G2"];

fn at(hour: u16) -> Time {
    Time::from_millis(i64::from(hour) * 3_600_000)
}

fn clutch(i: u8) -> ClutchId {
    CLUTCHES[usize::from(i) % 3].parse().unwrap()
}

fn vessel(i: u8) -> VesselId {
    VESSELS[usize::from(i) % 3].parse().unwrap()
}

fn maybe(i: u8) -> Option<VesselId> {
    (i >= 128).then(|| vessel(i))
}

fn event((kind, c, x, y, n, hour): (u8, u8, u8, u8, u8, u16)) -> Event {
    let (clutch, at, count, from, into) = (clutch(c), at(hour % 500), u32::from(n % 30), maybe(x), vessel(y));
    let reason = "r".to_owned();
    match kind % 15 {
        0 => Event::Taken {
            clutch,
            at,
            vessel: into,
            alive: count,
            dead: u32::from(x % 5),
            how: Way::Stripped,
            stages: Vec::new(),
            about: None,
        },
        1 => Event::Moved { clutch, at, vessel: into, from, counted: (n > 200).then_some(count) },
        2 => Event::Lost { clutch, at, count, reason, from },
        3 => Event::Split(Split { clutch, at, from, vessel: into, count, reason }),
        4 => Event::Merged(Merge {
            clutch: "M".parse().unwrap(),
            at,
            vessel: into,
            members: vec!["A".parse().unwrap(), "B".parse().unwrap()],
        }),
        5 => Event::Separated(Separation {
            clutch: "M".parse().unwrap(),
            at,
            member: clutch,
            from,
            vessel: into,
            count,
        }),
        6 => Event::Escaped(Escape { clutch, at, from, count, caught: count / 2, reason }),
        7 => Event::Found(Find { clutch, at, vessel: into, count, reason }),
        8 => Event::Culled(Cull { clutch, at, from, count, reason }),
        9 => Event::HandedOn(HandOver { clutch, at, from, count, to: "club".to_owned(), told: reason }),
        10 => Event::HeldBack(HoldBack { clutch, at, from, vessel: maybe(y), count }),
        11 => Event::Recounted(Recount { clutch, at, vessel: into, count }),
        12 => Event::Graded(Grading {
            clutch,
            at,
            from,
            runts: count,
            faulty: 0,
            vessel: maybe(y),
            note: reason,
        }),
        13 => Event::Withdrawn { clutch: None, at, entry: u64::from(n % 40) + 1 },
        _ => Event::LookedAt(Look { clutch, at, dead: count, from, roll: None, note: reason }),
    }
}

fn open(account: &mut Account) {
    for (n, name) in ["A", "B"].into_iter().enumerate() {
        let event = Event::ClutchOpened {
            clutch: name.parse().unwrap(),
            fish: "Astatotilapia burtoni".to_owned(),
            species: "generic-mouthbrooder".to_owned(),
            mother: None,
            day0: Day0::seen(at(0)),
            vessel: vessel(0),
        };
        account.apply(Entry { id: n as u64 + 1, recorded: at(600), by: String::new(), event }).unwrap();
    }
}

fn balanced(account: &Account) -> Result<(), TestCaseError> {
    let mut between = 0;
    for clutch in account.clutches() {
        let s = clutch.statement();
        prop_assert!(s.balances(), "{}: {s:?}", clutch.id);
        prop_assert_eq!(s.alive(), i64::from(clutch.alive.unwrap_or(0)));
        for ends in [s.dead, s.culled, s.handed_on, s.escaped, s.held_back, s.growing, s.came] {
            prop_assert!(ends >= 0, "{}: {s:?}", clutch.id);
        }
        let by_vessel: u32 = clutch.where_alive().iter().filter_map(|(_, n)| *n).sum();
        prop_assert_eq!(by_vessel, clutch.alive.unwrap_or(0));
        between += s.given - s.received;
    }
    prop_assert_eq!(between, 0, "what one clutch gives another receives");
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]
    #[test]
    fn the_account_always_balances(events in proptest::collection::vec(any::<(u8, u8, u8, u8, u8, u16)>(), 1..60)) {
        let mut account = Account::new();
        open(&mut account);
        let mut next = 3;
        for event in events.into_iter().map(event) {
            let before = account.clone();
            let entry = Entry { id: next, recorded: at(600), by: String::new(), event };
            if account.apply(entry).is_err() {
                prop_assert_eq!(&account, &before); // a refused event changes nothing
                continue;
            }
            next += 1;
            balanced(&account)?;
        }
        // The account is a function of its entries, whatever the order they were entered in.
        prop_assert_eq!(&Account::restored(account.entries().cloned()), &account);
    }
}
