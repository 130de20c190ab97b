//! The sums of the six weeks of The Undercroft come out. Days and hours are those of its table; the room is invented.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use ledger::*;
use units::{ClutchId, Day0, Grade, Time, VesselId};

fn t(day: i64, hour: i64, minute: i64) -> Time {
    Time::from_millis(((day + 200) * 24 * 60 + hour * 60 + minute) * 60_000)
}

fn id(name: &str) -> ClutchId {
    name.parse().unwrap()
}

fn v(name: &str) -> VesselId {
    name.parse().unwrap()
}

/// The book of a keeper who may write things down in any order.
#[derive(Default)]
struct Book {
    account: Account,
    next: u64,
}

impl Book {
    fn tell(&mut self, by: &str, event: Event) -> u64 {
        self.next += 1;
        let entry = Entry { id: self.next, recorded: t(42, 0, 0), by: by.to_owned(), event };
        self.account.apply(entry).unwrap();
        self.next
    }

    fn open(&mut self, name: &str, fish: &str, mother: &str, day0: Day0, vessel: &str) {
        let (clutch, species, mother) =
            (id(name), "generic-mouthbrooder".to_owned(), Some(mother.parse().unwrap()));
        self.tell(
            "keeper",
            Event::ClutchOpened { clutch, fish: fish.to_owned(), species, mother, day0, vessel: v(vessel) },
        );
    }

    fn take(&mut self, name: &str, at: Time, vessel: &str, alive: u32, dead: u32, how: Way) {
        let (stages, about) = (Vec::new(), None);
        self.tell(
            "keeper",
            Event::Taken { clutch: id(name), at, vessel: v(vessel), alive, dead, how, stages, about },
        );
    }

    fn lose(&mut self, name: &str, at: Time, count: u32, reason: &str) {
        self.tell(
            "keeper",
            Event::Lost { clutch: id(name), at, count, reason: reason.to_owned(), from: None },
        );
    }

    fn go(&mut self, name: &str, at: Time, vessel: &str, counted: Option<u32>) {
        self.tell("keeper", Event::Moved { clutch: id(name), at, vessel: v(vessel), from: None, counted });
    }

    fn merge(&mut self, group: &str, at: Time, vessel: &str, members: [&str; 2]) {
        let members = members.map(id).to_vec();
        self.tell("keeper", Event::Merged(Merge { clutch: id(group), at, vessel: v(vessel), members }));
    }

    fn sums(&self, name: &str) -> Statement {
        let clutch = self.account.clutch(&id(name)).unwrap();
        let statement = clutch.statement();
        assert!(statement.balances(), "{name}: {statement:?}");
        assert_eq!(statement.alive(), i64::from(clutch.alive.unwrap_or(0)), "{name}");
        statement
    }

    fn in_vessel(&self, vessel: &str) -> Vec<(String, u32)> {
        let vessel = v(vessel);
        self.account.in_vessel(&vessel).map(|c| (c.id.to_string(), c.count_in(&vessel).unwrap())).collect()
    }
}

fn burtoni(book: &mut Book) {
    book.open("C01", "Astatotilapia burtoni", "bur-03", Day0::seen(t(-2, 16, 0)), "N1");
    book.take("C01", t(3, 19, 20), "TU1", 38, 3, Way::Stripped);
    book.lose("C01", t(9, 7, 10), 2, "air stop");
    let escape = Escape {
        clutch: id("C01"),
        at: t(12, 21, 15),
        from: None,
        count: 5,
        caught: 4,
        reason: "lid".to_owned(),
    };
    book.tell("keeper", Event::Escaped(escape));
    book.go("C01", t(13, 18, 0), "G1", Some(35));
    book.lose("C01", t(15, 14, 0), 2, "ammonia");
    book.open("C07", "Astatotilapia burtoni", "bur-01", Day0::seen(t(10, 12, 0)), "N1");
    book.take("C07", t(11, 18, 30), "TU4", 29, 18, Way::Spat);
    book.lose("C07", t(15, 9, 0), 18, "did not hatch");
    book.lose("C07", t(18, 9, 0), 2, "");
    book.go("C07", t(23, 11, 0), "G1", Some(9));
    book.merge("M1", t(23, 11, 5), "G1", ["C01", "C07"]);
}

fn philander(book: &mut Book) {
    book.open("C06", "Pseudocrenilabrus philander", "phi-02", Day0::seen(t(9, 12, 0)), "N6");
    book.take("C06", t(13, 18, 0), "TU1", 33, 0, Way::Stripped);
    book.lose("C06", t(14, 9, 0), 3, "white");
    book.lose("C06", t(19, 9, 0), 2, "");
    book.go("C06", t(23, 11, 0), "G7", Some(22));
}

fn niloticus(book: &mut Book) {
    let window = Day0::new(t(4, 18, 0), t(5, 7, 0), Grade::Window).unwrap();
    book.open("C04", "Oreochromis niloticus", "til-02", window, "N5");
    let (stages, how) = (Vec::new(), Way::Stripped);
    let taken = Event::Taken {
        clutch: id("C04"),
        at: t(5, 20, 0),
        vessel: v("JR1"),
        alive: 640,
        dead: 0,
        how,
        stages,
        about: Some(10),
    };
    book.tell("keeper", taken);
    book.lose("C04", t(7, 9, 0), 55, "removed");
    book.go("C04", t(13, 18, 0), "G4", None);
    book.lose("C04", t(20, 9, 0), 44, "");
    book.open("C09", "Oreochromis niloticus", "til-04", Day0::seen(t(18, 12, 0)), "N5");
    book.take("C09", t(19, 18, 0), "JR2", 710, 0, Way::Stripped);
    book.lose("C09", t(22, 18, 0), 60, "did not hatch");
    book.lose("C09", t(23, 17, 0), 240, "power cut");
    book.lose("C09", t(25, 9, 0), 12, "");
    book.go("C09", t(28, 18, 0), "G4", Some(398));
    book.merge("M2", t(28, 18, 5), "G4", ["C04", "C09"]);
    let half = Split {
        clutch: id("M2"),
        at: t(31, 18, 0),
        from: None,
        vessel: v("G5"),
        count: 400,
        reason: String::new(),
    };
    book.tell("keeper", Event::Split(half));
}

fn caeruleus(book: &mut Book) {
    book.open("C00", "Labidochromis caeruleus", "lab-03", Day0::seen(t(-98, 12, 0)), "N2");
    book.take("C00", t(-70, 12, 0), "G6", 41, 0, Way::Released);
    book.lose("C00", t(10, 9, 0), 1, "");
    let reason = "bent spine".to_owned();
    book.tell(
        "keeper",
        Event::Culled(Cull { clutch: id("C00"), at: t(18, 9, 0), from: None, count: 2, reason }),
    );
    for (day, count, to) in [(39, 24, "club-07"), (41, 10, "shop-02")] {
        let told = "Labidochromis caeruleus, F2, untreated".to_owned();
        let hand =
            HandOver { clutch: id("C00"), at: t(day, 18, 0), from: None, count, to: to.to_owned(), told };
        book.tell("keeper", Event::HandedOn(hand));
    }
    book.tell(
        "keeper",
        Event::HeldBack(HoldBack { clutch: id("C00"), at: t(41, 19, 0), from: None, vessel: None, count: 4 }),
    );
    book.open("C02", "Labidochromis caeruleus", "lab-01", Day0::seen(t(1, 11, 0)), "N2");
    book.take("C02", t(5, 20, 0), "TU2", 22, 0, Way::Stripped);
    book.lose("C02", t(7, 7, 0), 4, "white");
    book.lose("C02", t(9, 7, 10), 2, "air stop");
    book.go("C02", t(20, 18, 0), "G2", None);
    book.tell(
        "keeper",
        Event::Recounted(Recount { clutch: id("C02"), at: t(33, 18, 0), vessel: v("G2"), count: 13 }),
    );
}

fn room() -> Book {
    let mut book = Book::default();
    // Not in the order in which things happened.
    niloticus(&mut book);
    burtoni(&mut book);
    caeruleus(&mut book);
    philander(&mut book);
    book
}

#[test]
fn the_sums_of_the_six_weeks_come_out() {
    let book = room();
    let c01 = book.sums("C01");
    assert_eq!((c01.came, c01.dead, c01.escaped, c01.given), (41, 3 + 2 + 2, 1, 33), "38 - 2 - 1 - 2 = 33");
    let c00 = book.sums("C00");
    assert_eq!((c00.came, c00.dead, c00.culled, c00.handed_on, c00.held_back), (41, 1, 2, 24 + 10, 4));
    let c02 = book.sums("C02");
    assert_eq!((c02.growing, c02.unexplained), (13, 3));
    assert_eq!(book.sums("C09").given, 398, "650 - 240 - 12");
    assert_eq!(book.sums("M2").received, 541 + 398);
    assert_eq!(book.in_vessel("G4"), [("M2".to_owned(), 539)]);
    assert_eq!(book.in_vessel("G5"), [("M2".to_owned(), 400)]);
    assert_eq!(book.sums("M1").alive(), 33 + 9);
    assert_eq!(book.sums("C06").unexplained, 6, "28 free, 22 counted into G7");
}

#[test]
fn six_of_another_clutch_in_g1_are_the_six_that_were_missing() {
    let mut book = room();
    let found = |count| {
        Event::Found(Find {
            clutch: id("C06"),
            at: t(27, 17, 0),
            vessel: v("G1"),
            count,
            reason: "same jug".to_owned(),
        })
    };
    let said = book.account.check(&found(7)).unwrap_err().to_string();
    assert_eq!(said, "count: 7 cannot be found: only 6 of C06 are missing; write at most 6, or count again");
    book.tell("keeper", found(6));
    let there = book.in_vessel("G1");
    assert_eq!(there, [("C06".to_owned(), 6), ("M1".to_owned(), 42)]);
    assert_eq!(there.iter().map(|(_, n)| n).sum::<u32>(), 48);
    assert_eq!(book.sums("C06").unexplained, 0);
    let back = Event::Moved {
        clutch: id("C06"),
        at: t(27, 18, 0),
        vessel: v("G7"),
        from: Some(v("G1")),
        counted: None,
    };
    book.tell("keeper", back);
    assert_eq!(book.in_vessel("G7"), [("C06".to_owned(), 28)]);
}

#[test]
fn a_group_knows_its_members_and_they_know_it() {
    let book = room();
    let m1 = book.account.clutch(&id("M1")).unwrap();
    let members: Vec<(&str, u32)> = m1.members.iter().map(|m| (m.clutch.as_str(), m.count)).collect();
    assert_eq!(members, [("C01", 33), ("C07", 9)]);
    assert_eq!((m1.day0.earliest, m1.day0.latest), (t(-2, 16, 0), t(10, 12, 0)));
    assert_eq!(m1.there_since(&v("G1")), Some(t(23, 11, 5)));
    let c01 = book.account.clutch(&id("C01")).unwrap();
    assert!(!c01.in_hand() && c01.ended() == Some(t(23, 11, 5)));
}

#[test]
fn runts_stay_of_their_clutch_and_some_known_again_leave_the_group() {
    let mut book = room();
    let graded = Grading {
        clutch: id("M1"),
        at: t(35, 18, 0),
        from: None,
        runts: 4,
        faulty: 0,
        vessel: None,
        note: "breeder box".to_owned(),
    };
    book.tell("keeper", Event::Graded(graded));
    assert_eq!(book.sums("M1").alive(), 42);
    let apart = Separation {
        clutch: id("M1"),
        at: t(36, 18, 0),
        member: id("C07"),
        from: None,
        vessel: v("G3"),
        count: 5,
    };
    book.tell("keeper", Event::Separated(apart));
    assert_eq!((book.sums("M1").alive(), book.sums("C07").alive()), (37, 5));
    assert!(book.account.clutch(&id("C07")).unwrap().in_hand());
}

#[test]
fn fed_by_two_within_the_hour() {
    let mut book = room();
    for (by, minute) in [("keeper", 0), ("helper", 25), ("helper", 50)] {
        book.tell(by, Event::Fed(Feed { vessel: v("G1"), at: t(15, 12, minute), food: "powder".to_owned() }));
    }
    let twice = book.account.fed_twice(&v("G1"), units::Span::hours(1));
    assert_eq!(
        twice.iter().map(|(a, b)| (a.by.as_str(), b.by.as_str())).collect::<Vec<_>>(),
        [("keeper", "helper")]
    );
}

#[test]
fn the_net_of_the_quarantine_is_traced_into_g2() {
    let mut book = room();
    let until = t(54, 12, 0);
    book.tell(
        "keeper",
        Event::Quarantined(Quarantine {
            vessel: v("Q1"),
            at: t(26, 12, 0),
            until,
            reason: "12 new fish".to_owned(),
        }),
    );
    let used = |tool: &str, vessel, day| {
        Event::ToolUsed(Use { tool: tool.to_owned(), vessel: v(vessel), at: t(day, 12, 0) })
    };
    for event in
        [used("net-Q1", "Q1", 26), used("net-3", "G3", 26), used("net-Q1", "G2", 27), used("net-3", "G2", 29)]
    {
        book.tell("keeper", event);
    }
    book.tell("keeper", Event::ToolCleaned(Cleaning { tool: "net-3".to_owned(), at: t(29, 13, 0) }));
    book.tell("keeper", used("net-3", "G7", 30));
    let contacts = book.account.contacts(&v("Q1"), t(26, 0, 0));
    assert_eq!(contacts.len(), 1, "{contacts:?}");
    assert_eq!((&contacts[0].vessel, &contacts[0].by), (&v("G2"), &Carrier::Tool("net-Q1".to_owned())));
    assert!(book.account.quarantine(&v("Q1"), t(53, 0, 0)).is_some());
    assert!(book.account.quarantine(&v("Q1"), t(55, 0, 0)).is_none());
    book.tell(
        "keeper",
        Event::Moved { clutch: id("C02"), at: t(34, 9, 0), vessel: v("G3"), from: None, counted: None },
    );
    assert_eq!(book.account.contacts(&v("Q1"), t(26, 0, 0)).len(), 2, "fish carry on what a net brought");
}

#[test]
fn a_mother_has_her_history() {
    let book = room();
    let mother = book.account.mother(&"lab-01".parse().unwrap()).unwrap();
    assert_eq!((mother.holds.len(), mother.holds[0].count), (1, Some(22)));
    assert_eq!(mother.holds[0].length(t(42, 0, 0)), t(5, 20, 0) - t(1, 11, 0));
    assert_eq!(mother.holds[0].left, Some((t(5, 20, 0), Left::Taken(Way::Stripped))));
    let spat = book.account.mother(&"bur-01".parse().unwrap()).unwrap();
    assert_eq!((spat.holds[0].count, spat.holds[0].left.unwrap().1), (Some(47), Left::Taken(Way::Spat)));
}

#[test]
fn what_was_written_down_by_mistake_is_withdrawn_and_stays_readable() {
    let mut book = room();
    let wrong = book.tell(
        "keeper",
        Event::Lost {
            clutch: id("C00"),
            at: t(41, 20, 0),
            count: 2,
            reason: "typed wrongly".to_owned(),
            from: None,
        },
    );
    assert_eq!(book.sums("C00").held_back, 2);
    book.tell("keeper", Event::Withdrawn { clutch: Some(id("C00")), at: t(41, 21, 0), entry: wrong });
    assert_eq!(book.sums("C00").held_back, 4);
    let c00 = book.account.clutch(&id("C00")).unwrap();
    assert_eq!(c00.entries.iter().filter(|e| !c00.stands(e)).count(), 1);
    // What others rest on cannot be withdrawn.
    let taken = c00.entries.iter().find(|e| matches!(e.event, Event::Taken { .. })).unwrap().id;
    let said = book
        .account
        .check(&Event::Withdrawn { clutch: None, at: t(41, 22, 0), entry: taken })
        .unwrap_err()
        .to_string();
    assert!(said.starts_with(&format!("entry: entry {taken} cannot be withdrawn: entry ")), "{said}");
    assert!(said.contains("1 lost"), "{said}");
    // Nor can so many be lost afterwards that a later hand-over would not have had its fish.
    let late =
        Event::Lost { clutch: id("C00"), at: t(20, 9, 0), count: 30, reason: "late".to_owned(), from: None };
    let said = book.account.check(&late).unwrap_err().to_string();
    assert!(
        said.contains("that does not fit what happened later") && said.contains("handed on to club-07"),
        "{said}"
    );
}

#[test]
fn every_event_reads_back_and_has_words() {
    let book = room();
    for entry in book.account.entries() {
        let json = serde_json::to_string(&entry.event).unwrap();
        assert_eq!(serde_json::from_str::<Event>(&json).unwrap(), entry.event, "{json}");
        assert!(!entry.event.words(&|t| t.to_string()).is_empty(), "{json}");
    }
    assert_eq!(
        Account::restored(book.account.entries().cloned()),
        book.account,
        "a restart equals no restart"
    );
}

#[test]
fn a_jar_is_judged_by_what_it_kept_of_what_came_into_it() {
    let mut book = room();
    let jar = |book: &Book, clutch: &str, vessel: &str| {
        let passage = book.account.clutch(&id(clutch)).unwrap().passage(&v(vessel));
        passage.map(|p| (p.came, p.lost, p.until.is_some()))
    };
    assert_eq!(jar(&book, "C04", "JR1"), Some((640, 55, true)), "44 more were lost in G4");
    assert_eq!(jar(&book, "C09", "JR2"), Some((710, 60 + 240 + 12, true)));
    assert_eq!(
        jar(&book, "C07", "TU4"),
        Some((29, 20, true)),
        "the 18 that were dead when saved came nowhere"
    );
    assert_eq!(jar(&book, "C01", "TU1"), Some((38, 3, true)), "one escaped");
    assert_eq!(jar(&book, "C06", "TU1"), Some((33, 5, true)), "six were missed in G7");
    assert_eq!(jar(&book, "C06", "JR1"), None);
    let missing =
        Find { clutch: id("C06"), at: t(23, 12, 0), vessel: v("TU1"), count: 6, reason: String::new() };
    book.tell("keeper", Event::Found(missing));
    assert_eq!(jar(&book, "C06", "TU1"), Some((33, 5, false)), "they had only been overlooked");
}

#[test]
fn what_was_sorted_out_is_told_of_a_clutch_and_of_its_group() {
    let mut book = room();
    let graded = |clutch: &str, day, runts, faulty| {
        let (at, note) = (t(day, 18, 0), String::new());
        Event::Graded(Grading { clutch: id(clutch), at, from: None, runts, faulty, vessel: None, note })
    };
    book.tell("keeper", graded("C02", 34, 0, 2));
    let mistake = book.tell("keeper", graded("C02", 34, 9, 0));
    book.tell("keeper", graded("M1", 35, 4, 0));
    book.tell("keeper", graded("C06", 35, 0, 0));
    book.tell("keeper", Event::Withdrawn { clutch: Some(id("C02")), at: t(36, 9, 0), entry: mistake });
    let found = |clutch: &str| {
        let all = book.account.sorted_out(&id(clutch));
        all.into_iter().map(|s| (s.of.to_string(), s.runts, s.faulty)).collect::<Vec<_>>()
    };
    assert_eq!(found("C02"), [("C02".to_owned(), 0, 2)]);
    assert_eq!(found("C01"), [("M1".to_owned(), 4, 0)]);
    assert_eq!(found("C07"), found("C01"));
    assert!(found("C06").is_empty());
}
