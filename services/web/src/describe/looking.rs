//! What can be looked at.

use super::operation::Operation;
use super::schemas::{Schemas, list, object, reference};
use crate::access::{How, LineItem, Person, Role, Session, Token};
use crate::account::{MotherView, TanksPage, VesselPage};
use crate::api::{MOST_READINGS, USUAL_READINGS};
use crate::calls::CallsView;
use crate::paged::{MOST, USUAL};
use crate::probes::{ComparisonView, DeviceView, EntryView, ProbeView, UnmappedView};
use crate::review::Review;
use crate::simulated::Simulated;
use crate::species::SpeciesView;
use crate::view::{
    AlarmChange, AlarmView, ClutchPage, ClutchView, EventView, PastReading, ReadingView, RoomView, TaskView,
};
use crate::whatif::{Moved, OtherWater};
use serde_json::{Value, json};
use units::{ProbeKey, Time, Unit};
use utoipa::ToSchema;

pub(super) fn all(s: &mut Schemas) -> Vec<Operation> {
    [room(s), readings(s), clutches(s), account(s), alarms(s), probes(s), service(s)]
        .into_iter()
        .flatten()
        .collect()
}

fn get<T: ToSchema>(s: &mut Schemas, path: &'static str, tag: &'static str, says: &'static str) -> Operation {
    let schema = s.of::<T>();
    Operation::get(path, tag, says, &schema)
}

fn every<T: ToSchema>(
    s: &mut Schemas,
    path: &'static str,
    tag: &'static str,
    says: &'static str,
) -> Operation {
    let schema = s.list_of::<T>();
    Operation::get(path, tag, says, &schema)
}

/// A moment, or nothing.
fn when() -> Value {
    json!({"type": "string", "format": "date-time"})
}

fn or_null(schema: &Value) -> Value {
    json!({"oneOf": [schema, {"type": "null"}]})
}

fn number() -> Value {
    json!({"type": "integer", "minimum": 0})
}

fn room(s: &mut Schemas) -> Vec<Operation> {
    vec![
        get::<RoomView>(s, "/api/v1/room", "room", "The whole room at one moment"),
        every::<TaskView>(s, "/api/v1/work", "room", "What there is to do for the clutches, by its likeliest time"),
        get::<Review>(s, "/api/v1/nights/{date}", "room", "A night looked back on, vessel by vessel")
            .about("Temperatures in °C, lengths in milliseconds; what is usual is the median of the 14 nights before."),
        Operation::get_text("/api/v1/events", "room", "The pieces of the opening page as they change", "text/event-stream")
            .about("Server-sent events: room carries the HTML of what has changed by its id, beat the room's clock every ten seconds. It never ends by itself."),
        get::<Simulated>(s, "/api/v1/simulated", "simulated room", "What can be broken in a simulated room, and its pace")
            .answer("404", problem_answer("This room is a real one.")),
    ]
}

fn problem_answer(words: &str) -> Value {
    json!({"description": words, "content": {"application/problem+json": {"schema": reference("Problem")}}})
}

fn readings(s: &mut Schemas) -> Vec<Operation> {
    s.of::<Time>();
    let (probe, unit, past) = (s.of::<ProbeKey>(), s.of::<Unit>(), s.list_of::<PastReading>());
    let (time, next) = (reference("Time"), or_null(&reference("Time")));
    let history = object(&[
        ("probe", probe),
        ("unit", unit),
        ("from", time.clone()),
        ("to", time),
        ("readings", past),
        ("next", next),
    ]);
    vec![
        every::<ReadingView>(s, "/api/v1/readings", "readings", "The newest reading of each probe"),
        Operation::get("/api/v1/readings/{vessel}/{quantity}", "readings", "Readings of one probe, the oldest first", &history)
            .about("The last day if no range is given; 62 days at most in one call. Values carry the probe's offset, raw does not.")
            .query("from", &when(), "From when, RFC 3339; a day before to if not said.")
            .query("to", &when(), "Up to when, RFC 3339; now if not said.")
            .query("mark", &json!({"type": "string"}), "Which of several probes of that quantity.")
            .paged(USUAL_READINGS, MOST_READINGS, &when()),
    ]
}

fn clutches(s: &mut Schemas) -> Vec<Operation> {
    let celsius = json!({"type": "number"});
    vec![
        every::<ClutchView>(
            s,
            "/api/v1/clutches",
            "clutches",
            "Clutches in hand, the next to hatch or swim first",
        ),
        get::<ClutchPage>(s, "/api/v1/clutches/{id}", "clutches", "Everything about one clutch"),
        get::<OtherWater>(
            s,
            "/api/v1/clutches/{id}/what-if",
            "clutches",
            "What would come of other water; nothing is changed",
        )
        .about("Either celsius, or stage and at.")
        .query("celsius", &celsius, "Water of that temperature, °C.")
        .query(
            "life",
            &json!({"type": "string", "enum": ["rest", "whole"]}),
            "rest: from now on, as if not said; whole: all of its life.",
        )
        .query("stage", &reference("Stage"), "The stage that is to be put at a time.")
        .query("at", &when(), "When it is wanted, RFC 3339."),
        get::<Moved>(
            s,
            "/api/v1/clutches/{id}/shift",
            "clutches",
            "What moved its dates, in parts that add up",
        )
        .query("from", &when(), "Since when, RFC 3339; the last dusk if not said.")
        .query("to", &when(), "Up to when, RFC 3339; now if not said."),
        every::<SpeciesView>(s, "/api/v1/species", "clutches", "Species entries, those of the room first"),
    ]
}

fn account(s: &mut Schemas) -> Vec<Operation> {
    let entries = s.list_of::<EventView>();
    let piece = object(&[("entries", entries), ("next", or_null(&number()))]);
    vec![
        Operation::get("/api/v1/account", "account", "What was written down, the newest first", &piece)
            .paged(USUAL, MOST, &number()),
        get::<TanksPage>(s, "/api/v1/vessels", "account", "All vessels, who needs one soon, and what wears"),
        get::<VesselPage>(s, "/api/v1/vessels/{id}", "account", "Everything about one vessel"),
        every::<MotherView>(s, "/api/v1/mothers", "account", "Every mother and what she did"),
        get::<MotherView>(s, "/api/v1/mothers/{id}", "account", "One mother"),
    ]
}

fn alarms(s: &mut Schemas) -> Vec<Operation> {
    let changes = s.list_of::<AlarmChange>();
    let piece = object(&[("changes", changes), ("next", or_null(&number()))]);
    vec![
        every::<AlarmView>(
            s,
            "/api/v1/alarms",
            "alarms",
            "Alarms that stand, or have gone unseen, the most urgent first",
        ),
        Operation::get("/api/v1/alarms/log", "alarms", "What alarms did, the last first", &piece).paged(
            USUAL,
            MOST,
            &number(),
        ),
        get::<CallsView>(
            s,
            "/api/v1/calls",
            "alarms",
            "Who is called and how, the drills, and ways that were tried",
        ),
    ]
}

fn probes(s: &mut Schemas) -> Vec<Operation> {
    vec![
        every::<ProbeView>(s, "/api/v1/probes", "probes", "Every probe and how it is doing"),
        every::<ComparisonView>(
            s,
            "/api/v1/comparisons",
            "probes",
            "Comparisons with a reference thermometer, the newest first",
        ),
        every::<DeviceView>(s, "/api/v1/devices", "probes", "Devices and whether they are there"),
        every::<UnmappedView>(
            s,
            "/api/v1/unmapped",
            "probes",
            "Topics that nobody has mapped, with their last payload",
        ),
        every::<EntryView>(s, "/api/v1/map", "probes", "The topic map"),
    ]
}

fn service(s: &mut Schemas) -> Vec<Operation> {
    let (role, how) = (s.of::<Role>(), s.of::<How>());
    let name = json!({"type": ["string", "null"], "description": "null where nobody has to sign in."});
    let session = object(&[("name", name), ("role", role), ("how", how)]);
    let (people, sessions, tokens) = (s.list_of::<Person>(), s.list_of::<Session>(), s.list_of::<Token>());
    let all = object(&[("people", people), ("sessions", sessions), ("tokens", tokens)]);
    let line = s.of::<LineItem>();
    let lines = object(&[("lines", list(&line)), ("next", or_null(&number()))]);
    let nobody = || problem_answer("No people are kept here.");
    let not_ready = json!({"description": "Not ready: the text says why.", "content": {"text/plain": {"schema": {"type": "string"}}}});
    let no_calendar = json!({"description": "No calendar at this address.", "content": {"text/html": {"schema": {"type": "string"}}}});
    vec![
        Operation::get("/api/v1/openapi.json", "service", "This description", &json!({"type": "object"})),
        Operation::get("/api/v1/session", "service", "Who asks, and what is allowed", &session),
        Operation::get(
            "/api/v1/people",
            "service",
            "People, their sessions, and tokens, without their secrets",
            &all,
        )
        .answer("404", nobody()),
        Operation::get("/api/v1/audit", "service", "Who did what, the newest line first", &lines)
            .paged(USUAL, MOST, &number())
            .answer("404", nobody()),
        Operation::get_text("/live", "service", "Whether the program runs", "text/plain"),
        Operation::get_text("/ready", "service", "Whether it does its work", "text/plain")
            .answer("503", not_ready),
        Operation::get_text("/calendar/{file}", "service", "The calendar feed, RFC 5545", "text/calendar")
            .about("Its address is its secret; the page Work has it.")
            .answer("304", json!({"description": "It is as If-None-Match has it."}))
            .answer("404", no_calendar),
    ]
}
