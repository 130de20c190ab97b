//! Every route of the router, and what each kind of asker is answered there. A route that is new is not let pass before its
//! decision stands here and in `src/access/rules.rs`.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
#[path = "common/vault.rs"]
mod vault;

use axum::http::StatusCode;
use std::collections::BTreeSet;
use vault::{App, Ask, turned_away};
use web::access::{Role, Scope};

/// Who is let through: nobody in particular, those who read, record, or manage; or any person about herself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum For {
    All,
    Lookers,
    Helpers,
    Keepers,
    Oneself,
}
use For::{All, Helpers, Keepers, Lookers, Oneself};

const DECIDED: &[(&str, &str, For)] = &[
    ("GET", "/live", All),
    ("GET", "/ready", All),
    ("GET", "/favicon.ico", All),
    ("GET", "/assets/{hash}/{name}", All),
    ("GET", "/calendar/{file}", All),
    ("GET", "/on-it/{token}", All),
    ("POST", "/on-it/{token}", All),
    ("GET", "/sign-in", All),
    ("POST", "/sign-in", All),
    ("POST", "/sign-out", Oneself),
    ("GET", "/own", Oneself),
    ("POST", "/own/password", Oneself),
    ("GET", "/", Lookers),
    ("GET", "/clutches", Lookers),
    ("POST", "/clutches", Helpers),
    ("GET", "/clutches/{id}", Lookers),
    ("POST", "/clutches/{id}/record", Helpers),
    ("GET", "/clutches/{id}/what-if", Lookers),
    ("POST", "/clutches/{id}/enter", Helpers),
    ("GET", "/vessels", Lookers),
    ("POST", "/vessels", Helpers),
    ("GET", "/vessels/{id}", Lookers),
    ("POST", "/vessels/{id}/enter", Helpers),
    ("GET", "/labels", Lookers),
    ("GET", "/mothers", Lookers),
    ("GET", "/mothers/{id}", Lookers),
    ("POST", "/mothers/{id}/enter", Helpers),
    ("GET", "/strip", Lookers),
    ("POST", "/strip/{id}", Helpers),
    ("GET", "/night", Lookers),
    ("GET", "/night/{date}", Lookers),
    ("GET", "/species", Lookers),
    ("POST", "/species", Keepers),
    ("POST", "/species/{key}/withdraw", Keepers),
    ("GET", "/work", Lookers),
    ("POST", "/calendar/address", Keepers),
    ("GET", "/log", Lookers),
    ("GET", "/probes", Lookers),
    ("GET", "/probes/claim", Lookers),
    ("POST", "/probes/claim", Keepers),
    ("GET", "/probes/compare", Lookers),
    ("POST", "/probes/compare", Keepers),
    ("POST", "/probes/comparisons/{number}/withdraw", Keepers),
    ("POST", "/probes/{claim}/release", Keepers),
    ("POST", "/alarms/{id}/acknowledge", Helpers),
    ("POST", "/alarms/{id}/shelve", Helpers),
    ("POST", "/alarms/{id}/unshelve", Helpers),
    ("GET", "/calls", Lookers),
    ("POST", "/calls/{name}/try", Keepers),
    ("POST", "/simulated/faults/{key}", Keepers),
    ("POST", "/simulated/pace", Keepers),
    ("GET", "/people", Keepers),
    ("POST", "/people", Keepers),
    ("POST", "/people/{id}/role", Keepers),
    ("POST", "/people/{id}/password", Keepers),
    ("POST", "/people/{id}/remove", Keepers),
    ("POST", "/tokens", Keepers),
    ("POST", "/tokens/{id}/withdraw", Keepers),
    ("POST", "/sessions/{id}/end", Keepers),
    ("GET", "/audit", Keepers),
    ("GET", "/api/v1/openapi.json", All),
    ("GET", "/api/v1/room", Lookers),
    ("GET", "/api/v1/readings", Lookers),
    ("GET", "/api/v1/readings/{vessel}/{quantity}", Lookers),
    ("GET", "/api/v1/clutches", Lookers),
    ("POST", "/api/v1/clutches", Helpers),
    ("GET", "/api/v1/clutches/{id}", Lookers),
    ("POST", "/api/v1/clutches/{id}/records", Helpers),
    ("GET", "/api/v1/clutches/{id}/what-if", Lookers),
    ("GET", "/api/v1/clutches/{id}/shift", Lookers),
    ("GET", "/api/v1/account", Lookers),
    ("POST", "/api/v1/account", Helpers),
    ("GET", "/api/v1/vessels", Lookers),
    ("GET", "/api/v1/vessels/{id}", Lookers),
    ("GET", "/api/v1/mothers", Lookers),
    ("GET", "/api/v1/mothers/{id}", Lookers),
    ("GET", "/api/v1/nights/{date}", Lookers),
    ("GET", "/api/v1/species", Lookers),
    ("POST", "/api/v1/species", Keepers),
    ("POST", "/api/v1/species/{key}/withdraw", Keepers),
    ("GET", "/api/v1/work", Lookers),
    ("GET", "/api/v1/alarms", Lookers),
    ("GET", "/api/v1/alarms/log", Lookers),
    ("POST", "/api/v1/alarms/{id}/acknowledge", Helpers),
    ("POST", "/api/v1/alarms/{id}/shelve", Helpers),
    ("POST", "/api/v1/alarms/{id}/unshelve", Helpers),
    ("GET", "/api/v1/calls", Lookers),
    ("POST", "/api/v1/calls/{name}/try", Keepers),
    ("GET", "/api/v1/probes", Lookers),
    ("GET", "/api/v1/comparisons", Lookers),
    ("POST", "/api/v1/comparisons", Keepers),
    ("POST", "/api/v1/comparisons/{number}/withdraw", Keepers),
    ("GET", "/api/v1/devices", Lookers),
    ("GET", "/api/v1/unmapped", Lookers),
    ("GET", "/api/v1/map", Lookers),
    ("POST", "/api/v1/map", Keepers),
    ("POST", "/api/v1/map/try", Keepers),
    ("POST", "/api/v1/map/{claim}/release", Keepers),
    ("GET", "/api/v1/simulated", Lookers),
    ("POST", "/api/v1/simulated/faults/{key}", Keepers),
    ("POST", "/api/v1/simulated/pace", Keepers),
    ("GET", "/api/v1/events", Lookers),
    ("GET", "/api/v1/session", Lookers),
    ("GET", "/api/v1/people", Keepers),
    ("GET", "/api/v1/audit", Keepers),
];

/// The routes that a router has, as it prints itself: methods by number, and paths by the same number. What cannot be read
/// that way shows up as a decision without a route.
fn routes(router: &axum::Router) -> BTreeSet<(String, String)> {
    let said = format!("{router:?}");
    // What answers where there is nothing has numbers of its own.
    let said = said.split("fallback_router:").next().unwrap();
    let (mut methods, mut paths) = (Vec::new(), Vec::new());
    for piece in said.split("RouteId(").skip(1) {
        let (number, rest) = piece.split_once("): ").unwrap_or_default();
        if let Some(path) = rest.strip_prefix('"') {
            paths.push((number, path.split('"').next().unwrap()));
        } else if let Some((_, allowed)) =
            rest.split_once("allow_header: Bytes(b\"").filter(|_| rest.starts_with("MethodRouter("))
        {
            methods.push((number, allowed.split('"').next().unwrap()));
        }
    }
    let of = |number| paths.iter().filter(move |(n, _)| *n == number).map(|(_, path)| *path);
    let each = methods.iter().flat_map(|(number, allowed)| {
        allowed
            .split(',')
            .filter(|m| *m != "HEAD")
            .flat_map(|m| of(*number).map(|p| (m.to_owned(), p.to_owned())))
    });
    // What answers where there is nothing.
    each.filter(|(_, path)| !path.contains("__private__axum_fallback")).collect()
}

#[test]
fn every_route_has_its_decision() {
    let app = App::new();
    let found = routes(&app.router);
    let decided: BTreeSet<_> = DECIDED.iter().map(|(m, p, _)| ((*m).to_owned(), (*p).to_owned())).collect();
    assert_eq!(decided.len(), DECIDED.len(), "one decision for each");
    let (new, gone): (Vec<_>, Vec<_>) =
        (found.difference(&decided).collect(), decided.difference(&found).collect());
    assert!(new.is_empty(), "routes without a decision here: {new:?}");
    assert!(gone.is_empty(), "decisions without a route: {gone:?}");
}

/// A path with something in each of its places.
fn filled(path: &str) -> String {
    let place = |segment: &str| match segment {
        "{vessel}" => "V1".to_owned(),
        "{quantity}" => "temperature".to_owned(),
        "{number}" | "{claim}" => "999".to_owned(),
        "{id}"
            if path.starts_with("/people")
                || path.starts_with("/tokens")
                || path.starts_with("/sessions") =>
        {
            "999".to_owned()
        }
        "{id}" => "C06".to_owned(),
        s if s.starts_with('{') => "none".to_owned(),
        s => s.to_owned(),
    };
    path.split('/').map(place).collect::<Vec<_>>().join("/")
}

fn ask(method: &str, path: &str) -> Ask {
    match (method, path.starts_with("/api/")) {
        ("GET", _) => Ask::get(&filled(path)),
        (_, true) => Ask::json(&filled(path), "{}").with("sec-fetch-site", "same-origin"),
        (_, false) => Ask::form(&filled(path), ""),
    }
}

/// What the gate answers; a handler that answers 401 by itself is the one of signing in.
async fn answered(app: &App, request: Ask, path: &str) -> Option<StatusCode> {
    let answer = app.ask(request).await;
    assert_ne!(answer.status(), StatusCode::INTERNAL_SERVER_ERROR, "{path}");
    if path == "/sign-in" { None } else { turned_away(&answer) }
}

#[tokio::test]
async fn nobody_in_particular_comes_to_public_routes_only() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    for (method, path, who) in DECIDED {
        let expected = match (*who, *method, path.starts_with("/api/")) {
            (All, ..) => None,
            (_, "GET", false) => Some(StatusCode::SEE_OTHER),
            _ => Some(StatusCode::UNAUTHORIZED),
        };
        for request in [ask(method, path), ask(method, path).cookie("hatchwarden=guessed")] {
            assert_eq!(answered(&app, request, path).await, expected, "{method} {path}");
        }
        if *who != All {
            let token = ask(method, path).bearer("hw_guessed");
            assert_eq!(
                answered(&app, token, path).await,
                expected,
                "{method} {path} with a token that is none"
            );
        }
    }
    assert_eq!(app.keeper.heard().iter().filter(|h| h.starts_with("acknowledge")).count(), 0);
}

#[tokio::test]
async fn each_role_comes_as_far_as_it_may() {
    for (role, reach) in [
        (Role::Looker, &[All, Lookers, Oneself][..]),
        (Role::Helper, &[All, Lookers, Helpers, Oneself]),
        (Role::Keeper, &[All, Lookers, Helpers, Keepers, Oneself]),
    ] {
        let app = App::new();
        let ada = app.add("Ada", role);
        for (method, path, who) in DECIDED {
            let cookie = app.session(ada);
            let said = answered(&app, ask(method, path).cookie(&cookie), path).await;
            let expected = (!reach.contains(who)).then_some(StatusCode::FORBIDDEN);
            // Whoever signs out is led to signing in.
            let expected = if *path == "/sign-out" { Some(StatusCode::SEE_OTHER) } else { expected };
            assert_eq!(said, expected, "{role:?} {method} {path}");
        }
    }
}

#[tokio::test]
async fn each_scope_comes_as_far_as_it_may_and_to_the_api_only() {
    for (scope, reach) in [
        (Scope::Read, &[Lookers][..]),
        (Scope::Record, &[Lookers, Helpers]),
        (Scope::Manage, &[Lookers, Helpers, Keepers]),
    ] {
        let app = App::new();
        app.add("Ada", Role::Keeper);
        let token = app.token(scope);
        for (method, path, who) in DECIDED.iter().filter(|(_, _, who)| *who != All) {
            // As a script sends it: no word of where it comes from.
            let request = ask(method, path).without("sec-fetch-site").bearer(&token);
            let said = answered(&app, request, path).await;
            let expected = match (path.starts_with("/api/"), *method) {
                (true, _) => (!reach.contains(who)).then_some(StatusCode::FORBIDDEN),
                (false, "GET") => Some(StatusCode::SEE_OTHER),
                (false, _) => Some(StatusCode::UNAUTHORIZED),
            };
            assert_eq!(said, expected, "{scope:?} {method} {path}");
        }
    }
}

#[tokio::test]
async fn looking_changes_nothing() {
    let app = App::new();
    let ada = app.add("Ada", Role::Keeper);
    let cookie = app.session(ada);
    app.token(Scope::Read);
    let state = |app: &App| {
        let held = app.held();
        (held.people.clone(), held.sessions.clone(), held.tokens.clone(), held.lines.clone())
    };
    let before = state(&app);
    let reads =
        ["history ", "clutch ", "what if ", "shift ", "link ", "probes", "night ", "entries ", "alarm log "];
    for (_, path, _) in DECIDED.iter().filter(|(method, ..)| *method == "GET") {
        // With what would be a change if it were sent as one.
        for query in
            ["", "?by=Ada&name=Eve&role=keeper&password=correct+horse+battery&broken=true&pace=9&celsius=25"]
        {
            app.ask(Ask::get(&format!("{}{query}", filled(path))).cookie(&cookie)).await;
        }
    }
    let changed: Vec<_> = app.keeper.heard();
    let changed: Vec<_> = changed.iter().filter(|h| !reads.iter().any(|r| h.starts_with(r))).collect();
    assert!(changed.is_empty(), "{changed:?}");
    assert!(state(&app) == before, "people, sessions, tokens and log stay as they were");
    let toy = app.keeper.toy.as_ref().unwrap();
    assert!(toy.0.borrow().pace == 1.0 && toy.0.borrow().things.iter().all(|t| !t.broken));
}
