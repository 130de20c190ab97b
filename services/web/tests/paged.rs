//! Long lists in pieces: pieces joined are the whole, whatever is added meanwhile.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
#[path = "common/vault.rs"]
mod vault;

use axum::http::{StatusCode, header};
use common::now;
use serde_json::{Value, json};
use vault::{App, Ask, text};
use web::access::{How, Line, Role, Scope};

fn line(n: usize) -> Line {
    let what = format!("change {n}");
    let (who, address, place) = ("Ada".into(), "192.0.2.7".into(), "/".into());
    Line { at: now(), who, how: How::Session, address, what, place }
}

/// A piece, and the address of the next one by its Link header (RFC 8288), which agrees with `next`.
async fn piece(app: &App, path: &str, token: &str) -> (Value, Option<String>) {
    let answer = app.ask(Ask::get(path).bearer(token)).await;
    assert_eq!(answer.status(), StatusCode::OK, "{path}");
    let link = answer.headers().get(header::LINK).map(|l| l.to_str().unwrap().to_owned());
    let body: Value = serde_json::from_str(&text(answer).await).unwrap();
    assert_eq!(link.is_some(), !body["next"].is_null(), "{path}: {body}");
    let address = link.map(|l| {
        let (address, relation) = l.strip_prefix('<').unwrap().split_once('>').unwrap();
        assert_eq!(relation, "; rel=\"next\"");
        address.to_owned()
    });
    (body, address)
}

async fn joined(app: &App, first: &str, list: &str, token: &str, between: impl Fn()) -> (Vec<Value>, usize) {
    let (mut all, mut pieces, mut path) = (Vec::new(), 0, Some(first.to_owned()));
    while let Some(at) = path {
        let (body, next) = piece(app, &at, token).await;
        all.extend(body[list].as_array().unwrap().iter().cloned());
        (pieces, path) = (pieces + 1, next);
        between();
    }
    (all, pieces)
}

#[tokio::test]
async fn pieces_joined_are_the_whole_though_lines_are_added_meanwhile() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let token = app.token(Scope::Manage);
    app.held().lines = (0..253).map(line).collect();
    let whole: Vec<String> = (0..253).rev().map(|n| format!("change {n}")).collect();
    for (limit, pieces) in [(1000, 1), (253, 1), (252, 2), (100, 3), (7, 37)] {
        app.held().lines.truncate(253);
        let path = format!("/api/v1/audit?limit={limit}");
        // One more after each piece: it stands before all that is still to be read.
        let (lines, read) = joined(&app, &path, "lines", &token, || app.held().lines.push(line(999))).await;
        let said: Vec<&str> = lines.iter().map(|l| l["what"].as_str().unwrap()).collect();
        assert_eq!((said, read), (whole.iter().map(String::as_str).collect(), pieces), "{limit}");
    }
    app.held().lines.truncate(253);
    let (lines, read) = joined(&app, "/api/v1/audit", "lines", &token, || {}).await;
    assert_eq!((lines.len(), read), (253, 3), "a hundred at a time if nothing is said");
    let (changes, read) = joined(&app, "/api/v1/alarms/log?limit=2", "changes", &token, || {}).await;
    let numbers: Vec<&Value> = changes.iter().map(|c| &c["number"]).collect();
    assert_eq!((json!(numbers), read), (json!([5, 4, 3, 2, 1]), 3));
}

#[tokio::test]
async fn readings_come_in_pieces_of_the_range_that_the_first_one_had() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let token = app.token(Scope::Read);
    let path = "/api/v1/readings/V1/temperature?limit=1&from=2026-11-25T00:00:00Z&to=2026-11-26T00:00:00Z";
    let (_, next) = piece(&app, path, &token).await;
    let next = next.unwrap();
    let parts: Vec<&str> = next.split(['?', '&']).collect();
    let after = "after=2026-11-25T00%3A00%3A00Z";
    let range = ["from=2026-11-25T00%3A00%3A00Z", "to=2026-11-26T00%3A00%3A00Z"];
    assert_eq!(parts, ["/api/v1/readings/V1/temperature", "limit=1", range[0], range[1], after]);
    app.ask(Ask::get(&next).bearer(&token)).await;
    let asked = "history V1/temperature 2026-11-25T00:00:00.001Z 2026-11-26T00:00:00Z";
    assert_eq!(app.keeper.heard().last().map(String::as_str), Some(asked), "a reading is not given twice");
}

#[tokio::test]
async fn a_cursor_or_a_limit_that_will_not_do_is_named() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let token = app.token(Scope::Manage);
    for path in ["account", "audit", "alarms/log", "readings/V1/temperature"] {
        for (query, field) in [
            ("limit=0", "limit"),
            ("limit=1000000", "limit"),
            ("limit=ten", "limit"),
            ("after=there", "after"),
        ] {
            let answer = app.ask(Ask::get(&format!("/api/v1/{path}?{query}")).bearer(&token)).await;
            assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{path}?{query}");
            let body: Value = serde_json::from_str(&text(answer).await).unwrap();
            assert_eq!(body["field"], field, "{path}?{query}");
        }
    }
}
