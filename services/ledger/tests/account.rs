//! The account adds up, and what does not fit is refused with field, value and cure.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use ledger::{Account, Entry, Event, Share, Way};
use proptest::prelude::*;
use units::{ClutchId, Day0, Grade, Seen, Sighting, Sign, Stage, Time, VesselId};

fn at(hour: i64) -> Time {
    Time::from_millis(hour * 3_600_000)
}

fn id() -> ClutchId {
    "C02".parse().unwrap()
}

fn vessel(name: &str) -> VesselId {
    name.parse().unwrap()
}

fn opened() -> Event {
    Event::ClutchOpened {
        clutch: id(),
        fish: "Labidochromis caeruleus".to_owned(),
        species: "generic-mouthbrooder".to_owned(),
        mother: Some("lab-01".parse().unwrap()),
        day0: Day0::seen(at(10)),
        vessel: vessel("V1"),
    }
}

fn account(events: Vec<Event>) -> Result<Account, String> {
    let mut account = Account::new();
    for (n, event) in events.into_iter().enumerate() {
        let entry = Entry { id: n as u64 + 1, recorded: at(500), by: "keeper".to_owned(), event };
        account.apply(entry).map_err(|e| e.to_string())?;
    }
    Ok(account)
}

fn taken(alive: u32, dead: u32) -> Event {
    Event::Taken {
        clutch: id(),
        at: at(96),
        vessel: vessel("TU1"),
        alive,
        dead,
        how: Way::Stripped,
        stages: Vec::new(),
        about: None,
    }
}

fn lost(count: u32) -> Event {
    Event::Lost { clutch: id(), at: at(100), count, reason: "white".to_owned(), from: None }
}

fn looked(stage: Sign, hour: i64, before: Option<i64>, already: bool) -> Event {
    Event::StageSeen {
        clutch: id(),
        at: at(hour),
        stage,
        share: Share::Half,
        not_before: before.map(at),
        already,
    }
}

fn seen(stage: Stage, hour: i64) -> Event {
    looked(stage.into(), hour, None, false)
}

#[test]
fn a_clutch_adds_up() {
    let account = account(vec![opened(), taken(22, 1), lost(4), seen(Stage::Hatch, 170), lost(2)]).unwrap();
    let clutch = account.clutch(&id()).unwrap();
    assert_eq!(clutch.alive, Some(16));
    assert_eq!(clutch.place_at(at(50)), Some(&vessel("V1")));
    assert_eq!(clutch.place_at(at(96)), Some(&vessel("TU1")));
    assert_eq!(clutch.place_at(at(9)), None);
    assert_eq!(account.in_vessel(&vessel("TU1")).count(), 1);
    assert_eq!(account.in_vessel(&vessel("V1")).count(), 0);
}

#[test]
fn a_move_that_is_entered_late_takes_its_place_in_time() {
    let late = Event::Moved { clutch: id(), at: at(40), vessel: vessel("V2"), from: None, counted: None };
    let account = account(vec![opened(), taken(22, 0), late]).unwrap();
    let places: Vec<&str> = account.clutch(&id()).unwrap().places.iter().map(|(_, v)| v.as_str()).collect();
    assert_eq!(places, ["V1", "V2", "TU1"]);
}

#[test]
fn what_does_not_fit_is_refused_with_the_cure() {
    let closed = Event::Closed { clutch: id(), at: at(200) };
    let early = Event::Moved { clutch: id(), at: at(9), vessel: vessel("V2"), from: None, counted: None };
    let cases = [
        (vec![lost(1)], "clutch: there is no clutch C02; open it first"),
        (vec![opened(), opened()], "clutch: C02 exists; choose another name"),
        (
            vec![opened(), Event::Closed { clutch: id(), at: at(200) }, lost(1)],
            "clutch: C02 was closed at 1970-01-09T08:00:00Z; withdraw that entry, or open a new clutch",
        ),
        (vec![opened(), lost(1)], "count: C02 has not been counted yet; record the strip first"),
        (
            vec![opened(), taken(3, 0), lost(4)],
            "count: 4 cannot be lost of 3 that are alive; write at most 3, or count again",
        ),
        (
            vec![
                opened(),
                taken(3, 0),
                Event::Lost { clutch: id(), at: at(95), count: 1, reason: String::new(), from: None },
            ],
            "at: 1970-01-04T23:00:00Z is before the count at the strip (1970-01-05T00:00:00Z), which has it already; write a later time",
        ),
        (vec![opened(), taken(3, 0), lost(0)], "count: 0 are no loss; write how many"),
        (
            vec![opened(), taken(3, 0), taken(3, 0)],
            "what: C02 was taken at 1970-01-05T00:00:00Z already; record a move or a loss",
        ),
        (
            vec![opened(), early],
            "at: 1970-01-01T09:00:00Z is before day 0 (1970-01-01T10:00:00Z); write a later time",
        ),
        (
            vec![opened(), seen(Stage::Hatch, 170), seen(Stage::FreeSwimming, 169)],
            "at: free-swimming at 1970-01-08T01:00:00Z would be before hatch, seen at 1970-01-08T02:00:00Z; correct the time",
        ),
        (
            vec![opened(), taken(3, 0), closed],
            "clutch: 3 of C02 are alive by the account; record what became of them, or count again",
        ),
    ];
    for (events, said) in cases {
        assert_eq!(account(events).unwrap_err(), said);
    }
}

#[test]
fn events_read_back_from_json() {
    for event in [opened(), taken(22, 1), lost(2), seen(Stage::Hatch, 170)] {
        let json = serde_json::to_string(&event).unwrap();
        assert_eq!(serde_json::from_str::<Event>(&json).unwrap(), event, "{json}");
    }
}

proptest! {
    /// Fish are never created or lost without a line.
    #[test]
    fn the_lines_always_balance(alive in 0_u32..500, dead in 0_u32..50, losses in proptest::collection::vec(0_u32..80, 0..20)) {
        let mut account = account(vec![opened(), taken(alive, dead)]).unwrap();
        for (n, count) in losses.into_iter().enumerate() {
            let entry = Entry { id: n as u64 + 3, recorded: at(500), by: "keeper".to_owned(), event: lost(count) };
            let before = account.clone();
            if account.apply(entry).is_err() {
                prop_assert_eq!(&account, &before); // a refused event changes nothing
            }
            let clutch = account.clutch(&id()).unwrap();
            let statement = clutch.statement();
            prop_assert!(statement.balances());
            prop_assert_eq!(statement.came - statement.dead, i64::from(clutch.alive.unwrap()));
        }
    }
}

#[test]
fn what_was_stored_before_there_were_looks_reads_as_watched() {
    let json = r#"{"event":"stage-seen","clutch":"C02","at":"1970-01-08T02:00:00Z","stage":"hatch"}"#;
    let event: Event = serde_json::from_str(json).unwrap();
    assert_eq!(event.sighting(), Some(Sighting::at(Stage::Hatch, at(170))));
    assert_eq!(serde_json::to_string(&event).unwrap(), json, "and is written as it was");
}

fn sightings(account: &Account) -> Vec<String> {
    account.clutch(&id()).unwrap().seen.iter().map(ToString::to_string).collect()
}

#[test]
fn looks_are_kept_as_what_they_tell() {
    let hatch = Sign::Stage(Stage::Hatch);
    let account = account(vec![
        opened(),
        looked(Stage::FreeSwimming.into(), 300, None, true),
        looked(Sign::YolkHalfGone, 250, None, false),
        looked(hatch, 180, Some(170), false),
    ])
    .unwrap();
    let clutch = account.clutch(&id()).unwrap();
    assert_eq!(
        clutch.seen.iter().map(|s| s.seen).collect::<Vec<_>>(),
        [Seen::Between(at(170), at(180)), Seen::At(at(250)), Seen::By(at(300)),]
    );
    let said = clutch.entries[3].event.words(&|t| t.to_string());
    assert_eq!(said, "seen: hatch, not yet at 1970-01-08T02:00:00Z");
}

#[test]
fn only_what_cannot_be_is_refused() {
    let (hatch, free) = (Sign::Stage(Stage::Hatch), Sign::Stage(Stage::FreeSwimming));
    // Past already at hour 300 says nothing of when, so hatch at 290 and at 310 both can be.
    for hour in [290, 310] {
        assert!(
            account(vec![opened(), looked(hatch, 300, None, true), looked(free, hour, None, false)]).is_ok()
        );
    }
    // Not yet hatched at 170, so not swimming at 169; swimming at 175 can be.
    let with =
        |hour| account(vec![opened(), looked(hatch, 180, Some(170), false), looked(free, hour, None, false)]);
    assert!(with(175).is_ok());
    assert!(with(169).unwrap_err().starts_with("at: free-swimming at"));
    for (event, field) in [
        (looked(hatch, 180, Some(170), true), "not_before: what was past already"),
        (looked(hatch, 180, Some(181), false), "not_before: 1970-01-08T13:00:00Z lies after"),
        (looked(hatch, 180, Some(9), false), "not_before: 1970-01-01T09:00:00Z is before day 0"),
    ] {
        let said = account(vec![opened(), event]).unwrap_err();
        assert!(said.starts_with(field), "{said}");
    }
}

#[test]
fn corrections_are_entries_and_nothing_is_deleted() {
    let withdrawn = |entry| Event::Withdrawn { clutch: Some(id()), at: at(400), entry };
    let events = vec![opened(), seen(Stage::Hatch, 170), seen(Stage::Hatch, 165)];
    assert_eq!(
        sightings(&account(events.clone()).unwrap()),
        ["hatch@1970-01-07T21:00:00Z"],
        "the later entry"
    );
    let taken_back = account([events.clone(), vec![withdrawn(3)]].concat()).unwrap();
    assert_eq!(sightings(&taken_back), ["hatch@1970-01-08T02:00:00Z"], "what it had corrected stands again");
    let clutch = taken_back.clutch(&id()).unwrap();
    assert_eq!(clutch.entries.len(), 4);
    assert_eq!(
        clutch.entries.iter().map(|e| clutch.stands(e)).collect::<Vec<_>>(),
        [true, true, false, true]
    );
    for (entry, words) in [(3, "withdrawn already"), (4, "itself a correction"), (9, "no entry 9")] {
        let said = account([events.clone(), vec![withdrawn(3), withdrawn(entry)]].concat()).unwrap_err();
        assert!(said.contains(words), "{said}");
    }
}

#[test]
fn day_0_is_corrected_and_her_place_with_it() {
    let corrected = |a, b| Event::Day0Corrected {
        clutch: id(),
        at: at(400),
        day0: Day0::new(at(a), at(b), Grade::Window).unwrap(),
    };
    let earlier = account(vec![opened(), taken(22, 0), corrected(-20, -8)]).unwrap();
    let clutch = earlier.clutch(&id()).unwrap();
    assert_eq!((clutch.day0.earliest, clutch.places[0].0), (at(-20), at(-20)));
    assert_eq!(clutch.place_at(at(-10)), Some(&vessel("V1")));
    assert!(account(vec![opened(), taken(22, 0), corrected(90, 95)]).is_ok());
    let said = account(vec![opened(), taken(22, 0), corrected(97, 98)]).unwrap_err();
    assert_eq!(
        said,
        "day0_earliest: 1970-01-05T01:00:00Z lies after what was recorded at 1970-01-05T00:00:00Z; write an earlier time"
    );
}
