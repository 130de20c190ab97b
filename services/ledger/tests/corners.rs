//! Corners of the account: what ended, what was withdrawn, what was once together.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use ledger::*;
use units::{ClutchId, Day0, Grade, Stage, Time, VesselId};

fn d(day: i64) -> Time {
    Time::from_millis(day * 86_400_000)
}

fn id(name: &str) -> ClutchId {
    name.parse().unwrap()
}

fn v(name: &str) -> VesselId {
    name.parse().unwrap()
}

fn tell(account: &mut Account, event: Event) -> u64 {
    let next = account.entries().next_back().map_or(1, |e| e.id + 1);
    account.apply(Entry { id: next, recorded: d(90), by: "keeper".to_owned(), event }).unwrap();
    next
}

fn refused(account: &Account, event: &Event) -> String {
    account.check(event).unwrap_err().to_string()
}

fn opened(clutch: &str, day: i64) -> Event {
    Event::ClutchOpened {
        clutch: id(clutch),
        fish: "Astatotilapia burtoni".to_owned(),
        species: "generic-mouthbrooder".to_owned(),
        mother: Some(format!("m-{clutch}").parse().unwrap()),
        day0: Day0::seen(d(day)),
        vessel: v("N1"),
    }
}

fn taken(clutch: &str, day: i64, vessel: &str, alive: u32) -> Event {
    let (how, stages) = (Way::Stripped, Vec::new());
    Event::Taken {
        clutch: id(clutch),
        at: d(day),
        vessel: v(vessel),
        alive,
        dead: 0,
        how,
        stages,
        about: None,
    }
}

fn moved(clutch: &str, day: i64, vessel: &str) -> Event {
    Event::Moved { clutch: id(clutch), at: d(day), vessel: v(vessel), from: None, counted: None }
}

fn hatched(clutch: &str, day: i64) -> Event {
    let (stage, share) = (Stage::Hatch.into(), Share::Half);
    Event::StageSeen { clutch: id(clutch), at: d(day), stage, share, not_before: None, already: false }
}

fn merged(day: i64, vessel: &str, members: &[&str]) -> Event {
    let members = members.iter().map(|m| id(m)).collect();
    Event::Merged(Merge { clutch: id("M1"), at: d(day), vessel: v(vessel), members })
}

fn together() -> Account {
    let mut account = Account::new();
    for event in [
        opened("C01", 0),
        opened("C02", 1),
        taken("C01", 3, "TU1", 20),
        taken("C02", 3, "TU2", 10),
        moved("C02", 4, "TU1"),
        merged(4, "TU1", &["C01", "C02"]),
        moved("M1", 5, "V2"),
        hatched("M1", 6),
    ] {
        tell(&mut account, event);
    }
    account
}

#[test]
fn what_lives_cannot_be_closed_in_any_order() {
    let mut account = Account::new();
    tell(&mut account, opened("C01", 0));
    tell(&mut account, Event::Recounted(Recount { clutch: id("C01"), at: d(2), vessel: v("N1"), count: 40 }));
    let ended = Event::HoldEnded(HoldEnd { clutch: id("C01"), at: d(3), how: Ending::Released });
    assert!(refused(&account, &ended).starts_with("clutch: 40 of C01 are alive"));
    tell(
        &mut account,
        Event::Escaped(Escape {
            clutch: id("C01"),
            at: d(4),
            from: None,
            count: 40,
            caught: 0,
            reason: String::new(),
        }),
    );
    tell(
        &mut account,
        Event::Found(Find { clutch: id("C01"), at: d(6), vessel: v("N1"), count: 3, reason: String::new() }),
    );
    let between = Event::Closed { clutch: id("C01"), at: d(5) };
    assert!(
        refused(&account, &between).contains("3 of C01 are alive")
            || refused(&account, &between).contains("found")
    );
    assert_eq!(account.clutch(&id("C01")).unwrap().alive, Some(3));
}

#[test]
fn nothing_goes_into_a_closed_account_or_one_it_is_not_of() {
    let mut account = together();
    for event in [opened("C09", 2), taken("C09", 5, "V2", 5)] {
        tell(&mut account, event);
    }
    let apart = |member: &str| {
        Event::Separated(Separation {
            clutch: id("M1"),
            at: d(8),
            member: id(member),
            from: None,
            vessel: v("G1"),
            count: 2,
        })
    };
    assert!(
        refused(&account, &apart("C09"))
            .starts_with("member: C09 is not part of M1; name one of C01 and C02")
    );
    tell(&mut account, Event::Closed { clutch: id("C01"), at: d(7) });
    assert!(refused(&account, &apart("C01")).starts_with("member: C01 was closed at"));
    tell(
        &mut account,
        Event::HandedOn(HandOver {
            clutch: id("M1"),
            at: d(8),
            from: None,
            count: 30,
            to: "club".to_owned(),
            told: String::new(),
        }),
    );
    tell(&mut account, Event::Closed { clutch: id("M1"), at: d(9) });
    assert!(refused(&account, &merged(10, "V2", &["C09"])).starts_with("clutch: M1 was closed at"));
}

#[test]
fn what_was_together_has_the_past_of_the_group() {
    let mut account = together();
    let apart =
        Separation { clutch: id("M1"), at: d(8), member: id("C01"), from: None, vessel: v("G1"), count: 5 };
    tell(&mut account, Event::Separated(apart));
    let c01 = account.clutch(&id("C01")).unwrap();
    assert_eq!(c01.place_at(d(7)), Some(&v("V2")));
    assert_eq!(c01.place_now(), Some(&v("G1")));
    assert_eq!(
        c01.seen.iter().map(ToString::to_string).collect::<Vec<_>>(),
        ["hatch@../1970-01-07T00:00:00Z"]
    );
    assert_eq!(c01.alive, Some(5));
}

#[test]
fn what_changes_a_member_changes_its_group() {
    let account = together();
    let earlier = Day0::new(d(-2), d(-1), Grade::Window).unwrap();
    let corrected = Event::Day0Corrected { clutch: id("C01"), at: d(9), day0: earlier };
    assert_eq!(account.touched(&corrected), [id("C01"), id("M1")]);
    let mut after = account.clone();
    tell(&mut after, corrected);
    assert_eq!(after.clutch(&id("M1")).unwrap().day0.earliest, d(-2));
    assert_eq!(Account::restored(after.entries().cloned()), after);
}

#[test]
fn a_withdrawn_sighting_stays_withdrawn() {
    let mut account = together();
    let hatch = tell(&mut account, hatched("M1", 7));
    tell(&mut account, Event::Withdrawn { clutch: None, at: d(8), entry: hatch });
    let look = Look { clutch: id("M1"), at: d(9), dead: 0, from: None, roll: None, note: String::new() };
    tell(&mut account, Event::LookedAt(look));
    let seen: Vec<String> = account.clutch(&id("M1")).unwrap().seen.iter().map(ToString::to_string).collect();
    assert_eq!(seen, ["hatch@1970-01-07T00:00:00Z"]);
}

#[test]
fn a_correction_of_day_0_that_others_rest_on_cannot_be_withdrawn() {
    let mut account = Account::new();
    tell(&mut account, opened("C01", 5));
    let day0 = Day0::seen(d(1));
    let correction = tell(&mut account, Event::Day0Corrected { clutch: id("C01"), at: d(6), day0 });
    tell(&mut account, moved("C01", 3, "Q1"));
    let said = refused(&account, &Event::Withdrawn { clutch: None, at: d(7), entry: correction });
    assert!(said.contains("moved to Q1") && said.contains("before day 0"), "{said}");
}

#[test]
fn day_0_the_wrong_way_round_is_refused_from_json_too() {
    let json = r#"{"event":"clutch-opened","clutch":"C01","fish":"x","species":"y","mother":null,"vessel":"N1",
        "day0":{"earliest":"1970-01-09T00:00:00Z","latest":"1970-01-02T00:00:00Z","grade":"window"}}"#;
    let event: Event = serde_json::from_str(json).unwrap();
    assert!(refused(&Account::new(), &event).starts_with("day0_latest:"));
}

#[test]
fn a_mother_and_her_young_carry_on_what_was_in_the_tank() {
    let mut account = Account::new();
    for event in [opened("C01", 0), opened("C02", 0), moved("C01", 4, "Q2"), taken("C02", 4, "TU1", 9)] {
        tell(&mut account, event);
    }
    let touched: Vec<String> =
        account.contacts(&v("N1"), d(2)).iter().map(|c| c.vessel.to_string()).collect();
    assert_eq!(touched, ["Q2", "TU1"]);
}
