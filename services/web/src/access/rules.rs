//! What each route asks for. A route that is not here is for keepers only, and `tests/routes.rs` does not let it stay so.

use super::role::Need::{self, Acknowledge, Manage, Own, Public, Read, Record};
use axum::http::Method;

/// One route with its decision.
pub(crate) struct Rule {
    /// As the router has it.
    pub(crate) path: &'static str,
    /// GET or POST; GET stands for HEAD too.
    pub(crate) post: bool,
    /// What it asks for.
    pub(crate) need: Need,
    /// What a change is called in the audit log; empty where nothing is changed, or where the handler writes its own line.
    pub(crate) what: &'static str,
}

const fn get(path: &'static str, need: Need) -> Rule {
    Rule { path, post: false, need, what: "" }
}

const fn post(path: &'static str, need: Need, what: &'static str) -> Rule {
    Rule { path, post: true, need, what }
}

/// Every route of the router.
pub(crate) const RULES: &[Rule] = &[
    // Without signing in.
    get("/live", Public),
    get("/ready", Public),
    get("/favicon.ico", Public),
    get("/assets/{hash}/{name}", Public),
    get("/calendar/{file}", Public),
    get("/on-it/{token}", Public),
    post("/on-it/{token}", Public, "took an alarm on by a link"),
    get("/sign-in", Public),
    post("/sign-in", Public, ""),
    // About oneself.
    post("/sign-out", Own, ""),
    get("/own", Own),
    post("/own/password", Own, ""),
    // Pages.
    get("/", Read),
    get("/clutches", Read),
    post("/clutches", Record, "added a clutch"),
    get("/clutches/{id}", Read),
    post("/clutches/{id}/record", Record, "recorded for a clutch"),
    get("/clutches/{id}/what-if", Read),
    post("/clutches/{id}/enter", Record, "recorded for a clutch"),
    get("/vessels", Read),
    post("/vessels", Record, "recorded for the room"),
    get("/vessels/{id}", Read),
    post("/vessels/{id}/enter", Record, "recorded for a vessel"),
    get("/labels", Read),
    get("/mothers", Read),
    get("/mothers/{id}", Read),
    post("/mothers/{id}/enter", Record, "noted about a mother"),
    get("/strip", Read),
    post("/strip/{id}", Record, "recorded for a clutch"),
    get("/night", Read),
    get("/night/{date}", Read),
    get("/species", Read),
    post("/species", Manage, "wrote a species entry"),
    post("/species/{key}/withdraw", Manage, "withdrew a species entry"),
    get("/work", Read),
    post("/calendar/address", Manage, "made a new calendar address"),
    get("/log", Read),
    get("/probes", Read),
    get("/probes/claim", Read),
    post("/probes/claim", Manage, "claimed a topic"),
    get("/probes/compare", Read),
    post("/probes/compare", Manage, "compared a probe"),
    post("/probes/comparisons/{number}/withdraw", Manage, "withdrew a comparison"),
    post("/probes/{claim}/release", Manage, "released a topic"),
    post("/alarms/{id}/acknowledge", Acknowledge, "took an alarm on"),
    post("/alarms/{id}/shelve", Acknowledge, "shelved an alarm"),
    post("/alarms/{id}/unshelve", Acknowledge, "let an alarm call again"),
    get("/calls", Read),
    post("/calls/{name}/try", Manage, "tried a call"),
    post("/simulated/faults/{key}", Manage, "broke or mended a thing of the simulated room"),
    post("/simulated/pace", Manage, "changed the pace of the simulated room"),
    // People: their handlers write the lines of the audit log, with names.
    get("/people", Manage),
    post("/people", Manage, ""),
    post("/people/{id}/role", Manage, ""),
    post("/people/{id}/password", Manage, ""),
    post("/people/{id}/remove", Manage, ""),
    post("/tokens", Manage, ""),
    post("/tokens/{id}/withdraw", Manage, ""),
    post("/sessions/{id}/end", Manage, ""),
    get("/audit", Manage),
    // The API.
    get("/api/v1/openapi.json", Public),
    get("/api/v1/room", Read),
    get("/api/v1/readings", Read),
    get("/api/v1/readings/{vessel}/{quantity}", Read),
    get("/api/v1/clutches", Read),
    post("/api/v1/clutches", Record, "added a clutch"),
    get("/api/v1/clutches/{id}", Read),
    post("/api/v1/clutches/{id}/records", Record, "recorded for a clutch"),
    get("/api/v1/clutches/{id}/what-if", Read),
    get("/api/v1/clutches/{id}/shift", Read),
    get("/api/v1/account", Read),
    post("/api/v1/account", Record, "entered into the account"),
    get("/api/v1/vessels", Read),
    get("/api/v1/vessels/{id}", Read),
    get("/api/v1/mothers", Read),
    get("/api/v1/mothers/{id}", Read),
    get("/api/v1/nights/{date}", Read),
    get("/api/v1/species", Read),
    post("/api/v1/species", Manage, "wrote a species entry"),
    post("/api/v1/species/{key}/withdraw", Manage, "withdrew a species entry"),
    get("/api/v1/work", Read),
    get("/api/v1/alarms", Read),
    get("/api/v1/alarms/log", Read),
    post("/api/v1/alarms/{id}/acknowledge", Acknowledge, "took an alarm on"),
    post("/api/v1/alarms/{id}/shelve", Acknowledge, "shelved an alarm"),
    post("/api/v1/alarms/{id}/unshelve", Acknowledge, "let an alarm call again"),
    get("/api/v1/calls", Read),
    post("/api/v1/calls/{name}/try", Manage, "tried a call"),
    get("/api/v1/probes", Read),
    get("/api/v1/comparisons", Read),
    post("/api/v1/comparisons", Manage, "compared a probe"),
    post("/api/v1/comparisons/{number}/withdraw", Manage, "withdrew a comparison"),
    get("/api/v1/devices", Read),
    get("/api/v1/unmapped", Read),
    get("/api/v1/map", Read),
    post("/api/v1/map", Manage, "claimed a topic"),
    post("/api/v1/map/try", Manage, ""),
    post("/api/v1/map/{claim}/release", Manage, "released a topic"),
    get("/api/v1/simulated", Read),
    post("/api/v1/simulated/faults/{key}", Manage, "broke or mended a thing of the simulated room"),
    post("/api/v1/simulated/pace", Manage, "changed the pace of the simulated room"),
    get("/api/v1/events", Read),
    get("/api/v1/session", Read),
    get("/api/v1/people", Manage),
    get("/api/v1/audit", Manage),
];

/// The rule of a route.
pub(crate) fn find(method: &Method, path: &str) -> Option<&'static Rule> {
    let post = match *method {
        Method::GET | Method::HEAD => false,
        Method::POST => true,
        _ => return None,
    };
    RULES.iter().find(|r| r.post == post && r.path == path)
}

/// Whether an address is for everybody, by whatever method it is asked.
pub(crate) fn is_public(path: &str) -> bool {
    let mut all = RULES.iter().filter(|r| r.path == path).peekable();
    all.peek().is_some() && all.all(|r| r.need == Public)
}

/// Whether a method only looks (RFC 9110, 9.2.1).
pub(crate) fn is_safe(method: &Method) -> bool {
    matches!(*method, Method::GET | Method::HEAD | Method::OPTIONS | Method::TRACE)
}
