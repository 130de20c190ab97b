//! Idempotency keys: what comes twice under one key is done once, and answered alike.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
#[path = "common/vault.rs"]
mod vault;

use axum::http::{HeaderMap, StatusCode, header};
use serde_json::json;
use vault::{App, Ask, text};
use web::access::{Role, Scope};

const FED: &str = r#"{"event":"fed","vessel":"V1","at":"2026-11-25T02:00:00Z","food":"shrimp"}"#;

fn app() -> (App, String) {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let token = app.token(Scope::Manage);
    (app, token)
}

async fn said(app: &App, ask: Ask) -> (StatusCode, HeaderMap, String) {
    let answer = app.ask(ask).await;
    let (status, headers) = (answer.status(), answer.headers().clone());
    (status, headers, text(answer).await)
}

fn fed(token: &str, key: &str) -> Ask {
    Ask::json("/api/v1/account", FED).bearer(token).with("idempotency-key", key)
}

fn entered(app: &App) -> usize {
    app.keeper.heard().iter().filter(|h| h.contains("\"fed\"")).count()
}

#[tokio::test]
async fn a_repeat_gets_the_same_answer_and_changes_nothing() {
    let (app, token) = app();
    let new = json!({"id": "C12", "fish": "x", "species": "y", "day0_earliest": "2026-11-25T17:30:00Z",
        "day0_grade": "seen", "vessel": "V1"});
    let shelved = r#"{"minutes":20,"why":"new stone"}"#;
    let entry = r#"{"topic":"a/b","vessel":"V1","quantity":"temperature"}"#;
    let compared = r#"{"probe":"V1/temperature","reference":26.5,"against":"the red one"}"#;
    for (path, body, status) in [
        ("account", FED, 204),
        ("clutches", &new.to_string(), 201),
        ("clutches/C06/records", r#"{"what":"seen","at":"2026-11-26T00:00:00Z","stage":"hatch"}"#, 204),
        ("alarms/TU1.air-stopped/shelve", shelved, 204),
        ("alarms/TU1.air-stopped/unshelve", "{}", 204),
        ("calls/mail/try", "{}", 204),
        ("species", r#"{"text":"x"}"#, 201),
        ("species/my-fish/withdraw", "{}", 204),
        ("map", entry, 201),
        ("map/try", &format!("{{\"entry\":{entry}}}"), 200),
        ("map/3/release", "{}", 204),
        ("comparisons", compared, 201),
        ("comparisons/1/withdraw", "{}", 204),
        ("simulated/pace", r#"{"pace":60}"#, 204),
        // A refusal as well.
        (
            "clutches/C06/records",
            r#"{"what":"loss","at":"2026-11-26T00:00:00Z","count":99,"reason":"x"}"#,
            422,
        ),
        ("species/another/withdraw", "{}", 404),
    ] {
        let ask = || {
            let ask = Ask::json(&format!("/api/v1/{path}"), body).bearer(&token);
            ask.with("idempotency-key", &format!("\"{}\"", path.replace('/', "-") + &status.to_string()))
        };
        let (first, headers, words) = said(&app, ask()).await;
        assert_eq!(first.as_u16(), status, "{path}: {words}");
        let (told, lines) = (app.keeper.heard().len(), app.held().lines.len());
        let (again, same, repeated) = said(&app, ask()).await;
        assert_eq!((again, &repeated), (first, &words), "{path}");
        for name in [header::CONTENT_TYPE, header::LOCATION] {
            assert_eq!(same.get(&name), headers.get(&name), "{path} {name}");
        }
        assert_eq!(app.keeper.heard().len(), told, "{path}: nothing was done again");
        assert_eq!(app.held().lines.len(), lines, "{path}: nothing was written into the audit log again");
    }
}

#[tokio::test]
async fn a_key_in_quotes_and_a_bare_one_are_the_same() {
    let (app, token) = app();
    for key in ["8e03978e-40d5", "\"8e03978e-40d5\""] {
        assert_eq!(said(&app, fed(&token, key)).await.0, StatusCode::NO_CONTENT);
    }
    assert_eq!(entered(&app), 1);
    assert_eq!(said(&app, fed(&token, "another")).await.0, StatusCode::NO_CONTENT);
    assert_eq!(entered(&app), 2);
}

#[tokio::test]
async fn a_key_is_good_for_one_request_only() {
    let (app, token) = app();
    said(&app, fed(&token, "k")).await;
    let other = FED.replace("shrimp", "flakes");
    for ask in [
        Ask::json("/api/v1/account", &other),
        Ask::json("/api/v1/account?x=1", FED),
        Ask::json("/api/v1/map/try", FED),
    ] {
        let (status, _, words) = said(&app, ask.bearer(&token).with("idempotency-key", "k")).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{words}");
        assert!(words.contains("idempotency-key") && words.contains("another request"), "{words}");
    }
    assert_eq!(entered(&app), 1);
}

#[tokio::test]
async fn the_same_key_of_somebody_else_is_another_one() {
    let (app, token) = app();
    let record = app.token(Scope::Record);
    let bo = app.add("Bo", Role::Helper);
    let cookie = app.session(bo);
    said(&app, fed(&token, "k")).await;
    said(&app, fed(&record, "k")).await;
    let by_session = Ask::json("/api/v1/account", FED).cookie(&cookie).with("sec-fetch-site", "same-origin");
    said(&app, by_session.with("idempotency-key", "k")).await;
    assert_eq!(entered(&app), 3);
    // Whoever may not do it is told so, whatever was answered to others under that key.
    let read = app.token(Scope::Read);
    assert_eq!(said(&app, fed(&read, "k")).await.0, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn while_one_is_being_answered_a_second_is_told_to_wait() {
    let (app, token) = app();
    let (enter, go) = app.keeper.hold_entries();
    let router = app.router.clone();
    let first = tokio::spawn(tower::ServiceExt::oneshot(router, fed(&token, "k").0));
    enter.notified().await;
    let (status, _, words) = said(&app, fed(&token, "k")).await;
    assert_eq!(status, StatusCode::CONFLICT, "{words}");
    go.notify_one();
    assert_eq!(first.await.unwrap().unwrap().status(), StatusCode::NO_CONTENT);
    assert_eq!(said(&app, fed(&token, "k")).await.0, StatusCode::NO_CONTENT);
    assert_eq!(entered(&app), 1);
}

#[tokio::test]
async fn whoever_does_not_wait_for_the_answer_still_does_it_once() {
    let (app, token) = app();
    let (enter, go) = app.keeper.hold_entries();
    let first = tokio::spawn(tower::ServiceExt::oneshot(app.router.clone(), fed(&token, "k").0));
    enter.notified().await;
    first.abort();
    assert!(first.await.unwrap_err().is_cancelled());
    assert_eq!(
        said(&app, fed(&token, "k")).await.0,
        StatusCode::CONFLICT,
        "it goes on without whoever asked"
    );
    let kept = app.keeper.answers.clone();
    go.notify_one();
    kept.kept_one().await;
    // Its turn ends a moment after it was kept.
    while said(&app, fed(&token, "k")).await.0 != StatusCode::NO_CONTENT {
        tokio::task::yield_now().await;
    }
    assert_eq!(entered(&app), 1);
}

#[tokio::test]
async fn keys_are_bounded_in_number() {
    let (app, token) = app();
    said(&app, fed(&token, "old")).await;
    *app.keeper.answers.full.lock().unwrap() = Some(10_000);
    let (status, _, words) = said(&app, fed(&token, "new")).await;
    assert_eq!(status, StatusCode::TOO_MANY_REQUESTS, "{words}");
    assert_eq!(said(&app, fed(&token, "old")).await.0, StatusCode::NO_CONTENT, "what is kept is answered");
    let without = Ask::json("/api/v1/account", FED).bearer(&token);
    assert_eq!(said(&app, without).await.0, StatusCode::NO_CONTENT, "and a change needs no key");
    assert_eq!(entered(&app), 2);
}
