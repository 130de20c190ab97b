//! The calendar feed: what there is to do, as calendar programs read it (RFC 5545, RFC 7986).
//!
//! Each entry is the whole window of a task, from earliest to latest, as free time (`TRANSP:TRANSPARENT`): the window is
//! what is known, and an entry at the likeliest hour alone would promise more. The likeliest time stands in its text. A
//! task that is a moment has no end, since an end must lie after the start (RFC 5545, 3.8.2.2).
//!
//! `DTSTAMP`, `LAST-MODIFIED` and `SEQUENCE` come with the entry and change only when it is revised. There is no `METHOD`:
//! without one, `DTSTAMP` means the last revision (RFC 5545, 3.8.7.2); with `PUBLISH`, each entry would need an organizer
//! (RFC 5546, 3.2.1, from memory). No alarms: the service has its own, and an alarm in a feed would differ at every fetch.

use crate::local::Local;
use icalendar::{Calendar, Component, Event, EventLike, EventStatus, Property};
use units::{ClutchId, Span, Time};
use uuid::{Uuid, uuid};

/// Name space of the UIDs, drawn once at random: an entry's UID is the UUID of version 5 (RFC 9562; RFC 7986 advises UUIDs)
/// of `room/clutch/task` in it. None of the three changes, so the UID does not either.
const NAMESPACE: Uuid = uuid!("476ca874-3af3-419c-9484-040cd4709dff");
/// How often a calendar program may ask again, as RFC 5545 writes it. A planning value: dates move slowly.
const ASK_AGAIN: &str = "PT1H";
const PRODUCER: &str = "-//Hatchwarden//Hatchwarden//EN";

/// What calendars are told, and where they ask.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CalendarView {
    /// Name of the room.
    pub room: String,
    /// IANA name of the room's time zone, for the words; the times of the entries are UTC.
    pub zone: String,
    /// An entry is revised when its date moves by more than this.
    pub moves_over: Span,
    /// Where calendars ask; `None` only before the service has drawn one.
    pub address: Option<Address>,
    /// By clutch and task.
    pub entries: Vec<CalendarEntry>,
}

/// The address that calendar programs ask at. Who knows it can read the dates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    /// The part that nobody can guess.
    pub token: String,
    /// Since when it holds.
    pub since: Time,
    /// By whom it was made; `None` for the service itself.
    pub by: Option<String>,
}

/// One task as it was last published.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CalendarEntry {
    /// For which clutch.
    pub clutch: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Word of the task.
    pub task: &'static str,
    /// What is to be done, as a short phrase.
    pub title: &'static str,
    /// Why then.
    pub reason: &'static str,
    /// Earliest.
    pub earliest: Time,
    /// Likeliest.
    pub likeliest: Time,
    /// Latest.
    pub latest: Time,
    /// How often it has been revised.
    pub sequence: u32,
    /// When it was last revised.
    pub stamp: Time,
    /// It has fallen away.
    pub cancelled: bool,
}

/// The feed: lines of at most 75 octets that end in CRLF. The same view gives the same bytes.
///
/// ```
/// # use web::calendar::{CalendarView, feed};
/// # use units::Span;
/// let (room, zone) = ("undercroft".to_owned(), "Europe/Lisbon".to_owned());
/// let view = CalendarView { room, zone, moves_over: Span::hours(3), address: None, entries: vec![] };
/// assert!(feed(&view).starts_with("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n"));
/// ```
pub fn feed(view: &CalendarView) -> String {
    let local = Local::of(&view.zone);
    let mut calendar = Calendar::empty();
    for (name, value) in [("VERSION", "2.0"), ("PRODID", PRODUCER), ("CALSCALE", "GREGORIAN")] {
        calendar.append_property((name, value));
    }
    calendar.name(&format!("Hatchwarden {}", view.room));
    // The library writes a length in seconds only, which some programs do not read.
    calendar.append_property(
        Property::new("REFRESH-INTERVAL", ASK_AGAIN).add_parameter("VALUE", "DURATION").done(),
    );
    calendar.append_property(("X-PUBLISHED-TTL", ASK_AGAIN));
    for entry in &view.entries {
        calendar.push(event(entry, &view.room, &local));
    }
    calendar.to_string()
}

fn event(entry: &CalendarEntry, room: &str, local: &Local) -> Event {
    let name = format!("{room}/{}/{}", entry.clutch, entry.task);
    let mut event = Event::with_uid(&Uuid::new_v5(&NAMESPACE, name.as_bytes()).to_string());
    event
        .timestamp(entry.stamp.to_chrono())
        .last_modified(entry.stamp.to_chrono())
        .sequence(entry.sequence)
        .status(if entry.cancelled { EventStatus::Cancelled } else { EventStatus::Confirmed })
        .summary(&format!("{}: {}", entry.clutch, entry.title))
        .description(&description(entry, local))
        .starts(entry.earliest.to_chrono())
        .add_property("TRANSP", "TRANSPARENT");
    // Feeds know whole seconds.
    if entry.latest.millis().div_euclid(1000) > entry.earliest.millis().div_euclid(1000) {
        event.ends(entry.latest.to_chrono());
    }
    event.done()
}

fn description(entry: &CalendarEntry, local: &Local) -> String {
    let when = match entry.likeliest {
        _ if entry.earliest == entry.latest => "",
        likeliest if likeliest == entry.earliest => "From ",
        _ => "Likeliest ",
    };
    let fish: String = entry.fish.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    format!("{when}{} ({}). {fish}.\n{}", local.full(entry.likeliest), local.name(), entry.reason)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn t(text: &str) -> Time {
        Time::parse_rfc3339(text).unwrap()
    }

    fn view(latest: &str, fish: &str) -> CalendarView {
        let entry = CalendarEntry {
            clutch: "C06".parse().unwrap(),
            fish: fish.to_owned(),
            task: "hatch",
            title: "hatch expected",
            reason: "From the degree-days that the eggs had.",
            earliest: t("2026-11-26T06:00:00Z"),
            likeliest: t("2026-11-26T13:00:00Z"),
            latest: t(latest),
            sequence: 2,
            stamp: t("2026-11-25T01:14:00Z"),
            cancelled: false,
        };
        let (room, zone) = ("undercroft".to_owned(), "Europe/Berlin".to_owned());
        CalendarView { room, zone, moves_over: Span::hours(3), address: None, entries: vec![entry] }
    }

    /// The UID was worked out by Python: `uuid.uuid5(NAMESPACE, "undercroft/C06/hatch")`.
    #[test]
    fn an_entry_is_its_window() {
        let feed = feed(&view("2026-11-26T20:00:00Z", "Labidochromis caeruleus"));
        for line in [
            "UID:b882f2c0-3288-5fa1-aeb0-f95fd94aa224",
            "SEQUENCE:2",
            "DTSTAMP:20261125T011400Z",
            "LAST-MODIFIED:20261125T011400Z",
            "DTSTART:20261126T060000Z",
            "DTEND:20261126T200000Z",
            "STATUS:CONFIRMED",
            "TRANSP:TRANSPARENT",
            "SUMMARY:C06: hatch expected",
            "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
        ] {
            assert!(feed.contains(&format!("\r\n{line}\r\n")), "{line}\n{feed}");
        }
        let unfolded = feed.replace("\r\n ", "");
        assert!(
            unfolded.contains("DESCRIPTION:Likeliest Thu 26 Nov\\, 14:00 (Europe/Berlin)."),
            "{unfolded}"
        );
    }

    #[test]
    fn a_moment_has_no_end() {
        let feed = feed(&view("2026-11-26T06:00:00.400Z", "Labidochromis caeruleus"));
        assert!(!feed.contains("DTEND"), "{feed}");
    }

    #[test]
    fn no_fish_breaks_a_line() {
        let long = "\u{fc}".repeat(80);
        let feed = feed(&view("2026-11-26T20:00:00Z", &format!("evil\r\nATTENDEE:x\r{long}")));
        assert!(feed.split("\r\n").all(|line| line.len() <= 75 && !line.contains(['\r', '\n'])), "{feed:?}");
        assert!(!feed.contains("\r\nATTENDEE"), "{feed}");
    }
}
