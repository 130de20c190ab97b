//! Whatever the API refuses is a problem of RFC 9457, whoever refuses it: a handler, the gate, the framework.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
#[path = "common/vault.rs"]
mod vault;

use axum::body::Body;
use axum::http::{Request, header};
use serde_json::Value;
use vault::{App, Ask, text};
use web::access::{Role, Scope};

async fn problem(app: &App, ask: Ask, status: u16) -> Value {
    let said = format!("{} {}", ask.0.method(), ask.0.uri());
    let answer = app.ask(ask).await;
    assert_eq!(answer.status().as_u16(), status, "{said}");
    let kind = answer.headers().get(header::CONTENT_TYPE).map(|k| k.to_str().unwrap().to_owned());
    assert_eq!(kind.as_deref(), Some("application/problem+json"), "{said}");
    let body: Value = serde_json::from_str(&text(answer).await).unwrap();
    assert_eq!(body["status"], status, "{said}: the member equals the status line");
    assert!(body["title"].is_string() && body["type"] == "about:blank", "{said}: {body}");
    assert!(body["detail"].as_str().is_some_and(|d| d.len() > 5), "{said}: {body}");
    body
}

fn with_method(method: &str, path: &str) -> Ask {
    Ask(Request::builder().method(method).uri(path).body(Body::empty()).unwrap()).with("host", "localhost")
}

#[tokio::test]
async fn every_refusal_is_a_problem() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let token = app.token(Scope::Manage);
    let long = format!("{{\"by\":\"{}\"}}", "x".repeat(70_000));
    let cases = [
        (Ask::get("/api"), 404),
        (Ask::get("/api/"), 404),
        (Ask::get("/api/v2/room"), 404),
        (Ask::get("/api/v1"), 404),
        (Ask::get("/api/v1/nothing"), 404),
        (Ask::get("/api/v1/clutches/C77"), 404),
        (Ask::get("/api/v1/clutches/a%20b"), 404),
        (Ask::get("/api/v1/clutches/%FF"), 400),
        (Ask::get("/api/v1/vessels/%2e%2e%2f"), 404),
        (Ask::get("/api/v1/readings/V1/bubbles"), 404),
        (Ask::get("/api/v1/readings/%FF/temperature"), 400),
        (Ask::get("/api/v1/readings/V1/temperature?since=1"), 400),
        (Ask::get("/api/v1/readings/V1/temperature?from=%FF"), 422),
        (Ask::get("/api/v1/readings/V1/temperature?limit=0"), 422),
        (Ask::get("/api/v1/nights/2026-02-30"), 422),
        (Ask::get("/api/v1/clutches/C06/what-if?celsius=warm"), 422),
        (Ask::get("/api/v1/account?limit=1&limit=2"), 400),
        (with_method("DELETE", "/api/v1/clutches/C06"), 405),
        (with_method("PUT", "/api/v1/account"), 405),
        (with_method("POST", "/api/v1/room"), 405),
        (Ask::json("/api/v1/account", "no json"), 400),
        (Ask::json("/api/v1/account", "[]"), 400),
        (Ask::json("/api/v1/account", "{\"event\":\"fed\""), 400),
        (Ask::json("/api/v1/account", "{}"), 422),
        (Ask::json("/api/v1/account", "{}").with("content-type", "text/plain"), 415),
        (Ask::json("/api/v1/account", "{}").without("content-type"), 415),
        (Ask::json("/api/v1/account", &long), 413),
        (Ask::json("/api/v1/account", &long).with("idempotency-key", "k"), 413),
        (Ask::json("/api/v1/account", "{}").with("idempotency-key", "a b"), 400),
        (Ask::json("/api/v1/alarms/%FF/acknowledge", "{}"), 400),
        (Ask::json("/api/v1/map/none/release", "{}"), 404),
        (Ask::get("/api/v1/room").with("host", "evil.example"), 421),
        (Ask::json("/api/v1/account", "{}").with("origin", "http://evil.example"), 403),
    ];
    for (ask, status) in cases {
        problem(&app, ask.bearer(&token), status).await;
    }
    problem(&app, Ask::get("/api/v1/room"), 401).await;
    problem(&app, Ask::get("/api/v1/room").bearer("hw_guessed"), 401).await;
    problem(&app, Ask::get("/api/v1/nothing"), 401).await;
    problem(&app, Ask::json("/api/v1/account", "{}").bearer(&app.token(Scope::Read)), 403).await;
}

/// Where nobody has to sign in, a token that does not hold is still none.
#[tokio::test]
async fn a_token_that_does_not_hold_is_refused_where_nobody_signs_in_too() {
    let app = App::with(web::access::AccessSettings::default());
    assert_eq!(app.ask(Ask::get("/api/v1/room")).await.status().as_u16(), 200);
    problem(&app, Ask::get("/api/v1/room").bearer("hw_guessed"), 401).await;
}

#[tokio::test]
async fn a_wrong_method_is_told_which_are_right() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let token = app.token(Scope::Manage);
    for (method, path, allowed) in [
        ("DELETE", "/api/v1/clutches", &["GET", "POST"][..]),
        ("PATCH", "/api/v1/room", &["GET"]),
        ("GET", "/api/v1/map/try", &["POST"]),
        ("DELETE", "/live", &["GET"]),
        ("TRACE", "/api/v1/openapi.json", &["GET"]),
    ] {
        let answer = app.ask(with_method(method, path).bearer(&token)).await;
        assert_eq!(answer.status().as_u16(), 405, "{method} {path}");
        // RFC 9110, 15.5.6: a 405 must have Allow.
        let allow = answer.headers()[header::ALLOW].to_str().unwrap().to_owned();
        assert!(allowed.iter().all(|m| allow.contains(m)), "{method} {path}: {allow}");
    }
}

#[tokio::test]
async fn a_value_that_will_not_do_is_refused_under_its_own_name() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let token = app.token(Scope::Manage);
    let new =
        r#"{"id":"C12","fish":"x","species":"y","day0_earliest":"then","day0_grade":"seen","vessel":"V1"}"#;
    for (path, body, field, part) in [
        ("account", r#"{"event":"fed","vessel":"V1","at":"now","food":"shrimp"}"#, "at", "\"now\""),
        (
            "account",
            r#"{"event":"fed","vessel":"a b","at":"2026-11-25T02:00:00Z","food":"x"}"#,
            "vessel",
            "letters",
        ),
        ("account", r#"{"event":"fed","vessel":"V1","at":"2026-11-25T02:00:00Z","food":7}"#, "food", "7"),
        ("account", r#"{"event":"fed","vessel":"V1","at":"2026-11-25T02:00:00Z"}"#, "food", "missing"),
        ("account", r#"{"event":"fet","vessel":"V1"}"#, "event", "\"fet\""),
        ("account", r#"{"vessel":"V1"}"#, "event", "missing"),
        ("account", r#"{"event":"fed","by":7}"#, "by", "200"),
        (
            "clutches/C06/records",
            r#"{"what":"loss","at":"2026-11-25T02:00:00Z","count":1.5,"reason":"x"}"#,
            "count",
            "1.5",
        ),
        (
            "clutches/C06/records",
            r#"{"what":"loss","at":"2026-11-25T02:00:00Z","count":1,"reason":"x","no":1}"#,
            "no",
            "unknown",
        ),
        ("clutches", new, "day0_earliest", "\"then\""),
        ("map/try", r#"{"entry":{"topic":"a","hard_band":"wide"}}"#, "entry.hard_band", "wide"),
        ("comparisons", r#"{"probe":"V1","reference":26,"against":"x"}"#, "probe", "\"V1\""),
        ("alarms/TU1.air-stopped/shelve", r#"{"minutes":-5,"why":"x"}"#, "minutes", "-5"),
    ] {
        let body = problem(&app, Ask::json(&format!("/api/v1/{path}"), body).bearer(&token), 422).await;
        assert_eq!(body["field"], field, "{path}: {body}");
        assert!(body["detail"].as_str().unwrap().contains(part), "{path}: {body}");
    }
}
