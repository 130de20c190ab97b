//! What can be changed.

use super::operation::Operation;
use super::schemas::{Schemas, list};
use crate::keeper::{NewClutch, NewComparison, Record, Shelving, Trial};
use ledger::Event;
use readings::MapEntry;
use readings::trial::Tried;
use serde_json::{Value, json};

pub(super) fn all(s: &mut Schemas) -> Vec<Operation> {
    [clutches(s), alarms(s), probes(s), simulated()].into_iter().flatten().collect()
}

/// Who sends it.
fn by() -> (&'static str, Value) {
    let words = "Who did it, where nobody is signed in; whoever is, or has a token, acts in that name.";
    ("by", json!({"type": ["string", "null"], "maxLength": 200, "description": words}))
}

/// A body with these fields, some of them needed, and nothing else.
fn fields(needed: &[&str], all: &[(&str, Value)]) -> Value {
    let properties: serde_json::Map<String, Value> =
        all.iter().map(|(n, v)| ((*n).to_owned(), v.clone())).collect();
    json!({"type": "object", "required": needed, "properties": properties, "additionalProperties": false})
}

/// Nothing but who sends it.
fn bare() -> Value {
    fields(&[], &[by()])
}

fn clutches(s: &mut Schemas) -> Vec<Operation> {
    let (new, record, event) =
        (s.sent::<NewClutch>(&[by()]), s.sent::<Record>(&[by()]), s.sent::<Event>(&[by()]));
    let id = json!({"type": "object", "required": ["id"], "properties": {"id": {"$ref": "#/components/schemas/ClutchId"}}});
    let opened = json!({"id": "C12", "fish": "Astatotilapia burtoni", "species": "generic-mouthbrooder",
        "day0_earliest": "2026-11-20T12:00:00Z", "day0_grade": "seen", "vessel": "V1", "by": "Ada"});
    let seen = json!({"what": "seen", "at": "2026-11-24T12:00:00Z", "stage": "eyed", "by": "Ada"});
    let noted = json!({"event": "fed", "vessel": "V1", "at": "2026-11-24T12:00:00Z", "food": "brine shrimp", "by": "Ada"});
    let text = json!({"type": "string", "description": "TOML as in config/species.toml, one entry."});
    vec![
        Operation::post("/api/v1/clutches", "clutches", "A new clutch", new, Some(opened)).makes(Some(&id)),
        Operation::post(
            "/api/v1/clutches/{id}/records",
            "clutches",
            "Something seen of a clutch, or done to it",
            record,
            Some(seen),
        ),
        Operation::post(
            "/api/v1/account",
            "account",
            "Anything that can be written into the account",
            event,
            Some(noted),
        )
        .about(
            "A correction is an event as well: withdrawn names the number of an entry that was a mistake.",
        ),
        Operation::post(
            "/api/v1/species",
            "clutches",
            "A species entry",
            fields(&["text"], &[("text", text), by()]),
            None,
        )
        .makes(None),
        Operation::post(
            "/api/v1/species/{key}/withdraw",
            "clutches",
            "A species entry of the page leaves the table",
            bare(),
            None,
        ),
    ]
}

fn alarms(s: &mut Schemas) -> Vec<Operation> {
    let shelving = s.sent::<Shelving>(&[by()]);
    let why = json!({"minutes": 20, "why": "a new stone", "by": "Ada"});
    vec![
        Operation::post(
            "/api/v1/alarms/{id}/acknowledge",
            "alarms",
            "An alarm is taken on: it calls nobody again",
            bare(),
            None,
        ),
        Operation::post(
            "/api/v1/alarms/{id}/shelve",
            "alarms",
            "An alarm calls nobody for a while",
            shelving,
            Some(why),
        )
        .about("It is judged as ever, and calls by itself if its condition still holds at the end."),
        Operation::post(
            "/api/v1/alarms/{id}/unshelve",
            "alarms",
            "An alarm calls again as ever",
            bare(),
            None,
        ),
        Operation::post(
            "/api/v1/calls/{name}/try",
            "alarms",
            "A message by one call now, to see whether it arrives",
            bare(),
            None,
        ),
    ]
}

fn probes(s: &mut Schemas) -> Vec<Operation> {
    let (entry, trial, compared) =
        (s.sent::<MapEntry>(&[by()]), s.sent::<Trial>(&[]), s.sent::<NewComparison>(&[by()]));
    let tried = list(&s.of::<Tried>());
    let words = "Its number. null in a repeat, if the service was stopped between making it and answering: GET /api/v1/map lists it.";
    let claim = json!({"type": "object", "required": ["claim"], "properties": {"claim": {"type": ["integer", "null"], "description": words}}});
    let topic = json!({"topic": "cellar/v1/temp_f", "vessel": "V1", "quantity": "temperature", "unit": "°F", "by": "Ada"});
    let test = json!({"entry": {"topic": "cellar/v1/temp_f", "vessel": "V1", "quantity": "temperature", "unit": "°F"}, "payload": "80.4"});
    let beside = json!({"probe": "V1/temperature", "read": 26.8, "reference": 26.5, "against": "the red thermometer", "by": "Ada"});
    vec![
        Operation::post("/api/v1/map", "probes", "An entry for the topic map", entry, Some(topic))
            .makes(Some(&claim)),
        Operation::post(
            "/api/v1/map/try",
            "probes",
            "What a message would become by an entry; nothing is saved",
            trial,
            Some(test),
        )
        .tells(&tried),
        Operation::post(
            "/api/v1/map/{claim}/release",
            "probes",
            "A claimed entry leaves the map",
            bare(),
            None,
        ),
        Operation::post(
            "/api/v1/comparisons",
            "probes",
            "A probe was held beside a reference thermometer",
            compared,
            Some(beside),
        )
        .makes(None),
        Operation::post(
            "/api/v1/comparisons/{number}/withdraw",
            "probes",
            "A comparison was a mistake",
            bare(),
            None,
        ),
    ]
}

fn simulated() -> Vec<Operation> {
    let broken = fields(
        &["broken"],
        &[("broken", json!({"type": "boolean", "description": "true breaks it, false mends it."}))],
    );
    let pace = json!({"type": "number", "description": "How many times as fast as real time."});
    let real = || {
        let problem = json!({"schema": {"$ref": "#/components/schemas/Problem"}});
        json!({"description": "This room is a real one.", "content": {"application/problem+json": problem}})
    };
    vec![
        Operation::post(
            "/api/v1/simulated/faults/{key}",
            "simulated room",
            "A thing breaks, or is mended",
            broken,
            Some(json!({"broken": true})),
        )
        .answer("404", real()),
        Operation::post(
            "/api/v1/simulated/pace",
            "simulated room",
            "How fast its time runs",
            fields(&["pace"], &[("pace", pace)]),
            None,
        )
        .answer("404", real()),
    ]
}
