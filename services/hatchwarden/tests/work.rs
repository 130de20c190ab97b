//! What calendars are told: they hear of a date when it really moves, of a task that falls away, and of nothing else.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use development::SpeciesTable;
use hatchwarden::config::{MOVES_OVER, read};
use hatchwarden::room::{Outcome, Past, Room, Setup, Wish};
use readings::Message;
use std::path::Path;
use std::sync::Arc;
use units::{Grade, Span, Stage, Time};
use web::calendar::{CalendarEntry, feed};
use web::keeper::{NewClutch, Record};
use web::view::TaskView;

fn begin() -> Time {
    Time::parse_rfc3339("2026-11-20T12:00:00Z").unwrap()
}

struct Play {
    room: Room,
    now: Time,
    notes: Vec<(String, String)>,
    /// What a store would have of V1.
    read: Vec<(Time, f64)>,
}

impl Play {
    /// A clutch in the mouth since 30 hours.
    fn start(more: &str) -> Self {
        let text = format!("{}\n{more}", include_str!("../../../config/room.toml"));
        let config = read(&text, "room.toml", Path::new("")).unwrap();
        let setup = Arc::new(Setup::new(&config, SpeciesTable::shipped()).unwrap());
        let mut play =
            Self { room: Room::new(setup).unwrap(), now: begin(), notes: Vec::new(), read: Vec::new() };
        play.wish(Wish::OpenClutch(NewClutch {
            id: "C06".parse().unwrap(),
            fish: "Pseudocrenilabrus philander".to_owned(),
            species: "generic-mouthbrooder".to_owned(),
            mother: None,
            day0_earliest: begin() - Span::hours(30),
            day0_latest: None,
            day0_grade: Grade::Seen,
            vessel: "V1".parse().unwrap(),
        }));
        play
    }

    fn wish(&mut self, wish: Wish) {
        let mut out = Outcome::default();
        self.room.wish(wish, "keeper", self.now, &mut out).unwrap();
        self.close(out);
    }

    fn record(&mut self, what: Record) {
        self.wish(Wish::Record("C06".parse().unwrap(), what));
    }

    fn close(&mut self, mut out: Outcome) {
        self.room.close_batch(self.now, &mut out);
        self.notes.append(&mut out.batch.notes);
        self.read.extend(out.batch.readings.iter().map(|r| (r.time, r.value)));
        if !self.room.wants_courses() {
            return;
        }
        for wanted in self.room.take_wanted() {
            let there =
                |(t, _): &&(Time, f64)| wanted.spans.iter().any(|(_, from, to)| (*from..*to).contains(t));
            let points = self.read.iter().filter(there).copied().collect();
            self.room.fill_course(&wanted.clutch, points);
        }
        self.close(Outcome::default());
    }

    /// Water of so many degrees for so long, told each ten minutes.
    fn water(&mut self, celsius: f64, span: Span) {
        let end = self.now + span;
        while self.now < end {
            self.now += Span::minutes(10);
            let (topic, payload) = ("hatchwarden/undercroft/V1/temperature", format!("{celsius:.2}"));
            let message = Message { topic, payload: payload.as_bytes(), retained: false, received: self.now };
            let mut out = Outcome::default();
            self.room.message(&message, self.now, &mut out);
            self.close(out);
        }
    }

    fn feed(&self) -> String {
        feed(&self.room.calendar_view())
    }

    fn entry(&self, task: &str) -> Option<CalendarEntry> {
        self.room.calendar_view().entries.into_iter().find(|e| e.task == task)
    }

    /// The task as the page shows it, which moves with every reading.
    fn shown(&mut self, task: &str) -> TaskView {
        self.room.view(self.now).work.into_iter().find(|t| t.task == task).unwrap()
    }

    fn note(&self, name: &str) -> Option<String> {
        self.notes.iter().rfind(|n| n.0 == name).map(|n| n.1.clone())
    }
}

fn farthest(a: &TaskView, b: &TaskView) -> Span {
    let by = [a.earliest - b.earliest, a.likeliest - b.likeliest, a.latest - b.latest];
    by.into_iter().map(Span::abs).max().unwrap()
}

fn uids(feed: &str) -> Vec<&str> {
    feed.lines().filter(|l| l.starts_with("UID:")).collect()
}

#[test]
fn a_date_that_moves_by_less_than_the_threshold_leaves_every_byte_as_it_was() {
    let mut play = Play::start("");
    play.water(27.0, Span::hours(2));
    let (before, shown) = (play.feed(), play.shown("hatch"));
    assert_eq!(before.matches("BEGIN:VEVENT").count(), 7, "{before}");
    play.water(27.1, Span::hours(1));
    let moved = farthest(&play.shown("hatch"), &shown);
    assert!(moved > Span::minutes(1), "{moved}");
    assert_eq!(play.feed(), before);
}

#[test]
fn a_date_that_moves_by_more_is_told_once_more_under_the_same_uid() {
    let mut play = Play::start("");
    play.water(27.0, Span::hours(2));
    let (before, hatch) = (play.feed(), play.entry("hatch").unwrap());
    assert_eq!((hatch.sequence, hatch.cancelled), (0, false));
    let published = play.shown("hatch");
    let moved = loop {
        play.water(22.0, Span::minutes(10));
        let by = farthest(&play.shown("hatch"), &published);
        let e = play.entry("hatch").unwrap();
        assert_eq!(e.sequence > 0, by > MOVES_OVER, "moved by {by}");
        if e.sequence > 0 {
            break e;
        }
    };
    assert_eq!((moved.sequence, moved.stamp), (1, play.now));
    assert_eq!(moved.likeliest, play.shown("hatch").likeliest);
    assert!(moved.likeliest > hatch.likeliest);
    assert_eq!(uids(&play.feed()), uids(&before));
}

#[test]
fn the_threshold_is_the_keepers() {
    let feeds = |more: &str| {
        let mut play = Play::start(more);
        play.water(27.0, Span::hours(2));
        let before = play.feed();
        play.water(24.5, Span::hours(8));
        (before, play.feed())
    };
    let (before, after) = feeds("");
    assert_ne!(before, after);
    let (before, after) = feeds("[calendar]\nmoves_over_h = 240\n");
    assert_eq!(before, after);
}

#[test]
fn what_falls_away_is_cancelled_for_a_month_and_what_was_done_stays() {
    let mut play = Play::start("");
    play.water(27.0, Span::days(3));
    let strip = play.entry("strip").unwrap();
    let release = play.entry("release").unwrap();
    assert!(strip.earliest < play.now && play.now < strip.latest, "the young can be taken: {strip:?}");
    play.record(Record::Strip { at: play.now, vessel: "TU1".parse().unwrap(), alive: 30, dead: 0 });
    play.water(27.0, Span::minutes(10));
    assert_eq!(play.entry("strip").unwrap(), strip, "done");
    let gone = play.entry("release").unwrap();
    assert_eq!((gone.cancelled, gone.sequence), (true, release.sequence + 1));
    assert!(gone.stamp > release.stamp && play.feed().contains("STATUS:CANCELLED"));
    assert!(play.entry("mother-rest").is_some());
    play.water(27.0, Span::days(29));
    assert_eq!(play.entry("release").unwrap(), gone);
    play.water(27.0, Span::days(2));
    assert_eq!(play.entry("release"), None);
}

#[test]
fn a_hatch_that_was_seen_stays_and_nobody_left_is_nothing_to_do() {
    let mut play = Play::start("");
    play.water(27.0, Span::hours(2));
    play.record(Record::Strip { at: play.now, vessel: "TU1".parse().unwrap(), alive: 30, dead: 0 });
    play.water(27.0, Span::minutes(10));
    let hatch = play.entry("hatch").unwrap();
    play.water(27.0, hatch.likeliest - play.now);
    play.record(Record::watched(Stage::Hatch, play.now));
    play.room.take_wanted();
    play.water(27.0, Span::minutes(10));
    let stays = play.entry("hatch").unwrap();
    assert!(!stays.cancelled, "{stays:?}");
    play.record(Record::Loss { at: play.now, count: 30, reason: "white".to_owned() });
    play.water(27.0, Span::minutes(10));
    assert!(play.entry("move-out").unwrap().cancelled);
    assert!(!play.entry("mother-rest").unwrap().cancelled, "she rests all the same");
    let shown: Vec<&str> = play.room.view(play.now).work.iter().map(|t| t.task).collect();
    assert_eq!(shown, ["mother-rest"]);
}

#[test]
fn the_address_is_what_it_was_told_and_is_kept() {
    let mut play = Play::start("");
    assert!(play.room.wants_address());
    play.wish(Wish::NewAddress("c0ffee".to_owned()));
    play.water(27.0, Span::hours(1));
    let past =
        Past { work: play.note("work"), calendar_address: play.note("calendar-address"), ..Past::default() };
    let again = Room::restore(play.room.setup().clone(), past, play.now).unwrap();
    let address = again.calendar_view().address.unwrap();
    assert_eq!((address.token.as_str(), address.by.as_deref()), ("c0ffee", Some("keeper")));
    let bad = Past { work: Some("[]".to_owned()), ..Past::default() };
    let said = Room::restore(play.room.setup().clone(), bad, play.now).unwrap_err();
    assert!(said.starts_with("note work:"), "{said}");
}
