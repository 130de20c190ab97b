//! Every page there is, found from what stands in the room.

use serde_json::{Value, json};
use testkit::Api;

/// Pages that are there in every room.
const FIXED: [&str; 13] = [
    "", "clutches", "vessels", "mothers", "strip", "work", "night", "species", "probes", "log", "calls",
    "own", "nowhere",
];

fn word(of: &Value) -> String {
    of.as_str().unwrap().to_owned()
}

/// The clutch that its mother carries; one is written down where there is none.
pub(crate) async fn held(api: &Api) -> String {
    let clutch = json!({"id": "EYE1", "fish": "Nimbochromis venustus", "species": "generic-mouthbrooder", "mother": "eye-1",
        "day0_earliest": "2026-11-01T08:00:00Z", "day0_grade": "seen", "vessel": first_tank(api).await, "by": "the test"});
    let (status, said) = api.post("api/v1/clutches", &clutch).await;
    assert!(status == 201 || said.contains("EYE1"), "{status}: {said}");
    "EYE1".to_owned()
}

/// A clutch whose dates are known and whose young were counted.
pub(crate) async fn counted(api: &Api) -> String {
    let room = api.get("api/v1/room").await;
    let mut all = room["clutches"].as_array().unwrap().iter();
    let clutch = all.find(|c| c["hatch"].is_object() && c["count"].as_u64() > Some(2));
    word(&clutch.unwrap_or_else(|| panic!("no clutch was counted: {room}"))["id"])
}

async fn first_tank(api: &Api) -> String {
    word(&api.get("api/v1/room").await["tanks"][0]["vessel"])
}

/// Their addresses.
pub(crate) async fn all(api: &Api) -> Vec<String> {
    let held = held(api).await;
    let room = api.get("api/v1/room").await;
    let (tank, tumbler) = (word(&room["tanks"][0]["vessel"]), word(&room["tumblers"][0]["vessel"]));
    let clutch = counted(api).await;
    let mother = word(&api.get("api/v1/mothers").await[0]["mother"]);
    let night = word(&api.get("api/v1/nights/last").await["date"]);
    let mut all: Vec<String> = FIXED.iter().map(|p| (*p).to_owned()).collect();
    all.extend([
        format!("clutches/{clutch}"),
        format!("clutches/{held}"),
        format!("clutches/{clutch}/what-if?celsius=25&life=rest"),
        format!("vessels/{tank}?hours=168"),
        format!("vessels/{tumbler}"),
        format!("mothers/{mother}"),
        format!("strip?clutch={held}"),
        format!("night/{night}"),
        format!("probes/compare?probe={tank}%2Ftemperature"),
        "probes/claim?topic=cellar%2Frack%2Ftemp".to_owned(),
        "people".to_owned(),
        "audit".to_owned(),
    ]);
    all
}
