//! Idempotency keys through the real store: an answer is on disk with what it answers, and holds across a stop at any moment.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use axum::body::Body;
use axum::http::{Request, StatusCode};
use axum::response::Response;
use hatchwarden::boxed::Boxed;
use hatchwarden::config::{Config, read};
use std::path::Path;
use std::sync::Arc;
use tower::ServiceExt;
use units::{Span, Time};
use web::keeper::Keeper;
use web::once::{Once, with};

fn begin() -> Time {
    Time::parse_rfc3339("2026-11-20T12:00:00Z").unwrap()
}

fn config(folder: &Path) -> Config {
    let text = include_str!("../../../config/room.toml");
    Config { store: folder.join("room.db"), ..read(text, "room.toml", Path::new("")).unwrap() }
}

fn fed(food: &str, key: &str) -> Request<Body> {
    let body =
        format!(r#"{{"event":"fed","vessel":"V1","at":"2026-11-20T11:00:00Z","food":"{food}","by":"Ada"}}"#);
    Request::post("/api/v1/account")
        .header("host", "localhost")
        .header("content-type", "application/json")
        .header("idempotency-key", key)
        .body(Body::from(body))
        .unwrap()
}

fn router(service: &Boxed) -> axum::Router {
    web::router(Arc::new(service.desk().clone()), web::Settings::default())
}

async fn ask_at(router: &axum::Router, request: Request<Body>) -> Response {
    router.clone().oneshot(request).await.unwrap()
}

async fn ask(service: &Boxed, request: Request<Body>) -> Response {
    ask_at(&router(service), request).await
}

async fn entries(service: &Boxed) -> usize {
    service.desk().entries(None, 100).await.unwrap().len()
}

#[tokio::test]
async fn an_answer_holds_across_a_restart_for_a_day_at_least() {
    let folder = tempfile::tempdir().unwrap();
    let config = config(folder.path());
    let service = Boxed::start(&config, begin()).await.unwrap();
    assert_eq!(ask(&service, fed("shrimp", "k")).await.status(), StatusCode::NO_CONTENT);
    assert_eq!(entries(&service).await, 1);
    service.stop().await;
    let service = Boxed::start(&config, begin() + Span::hours(23)).await.unwrap();
    assert_eq!(ask(&service, fed("shrimp", "k")).await.status(), StatusCode::NO_CONTENT);
    assert_eq!(ask(&service, fed("flakes", "k")).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(entries(&service).await, 1, "it was written once");
    service.stop().await;
}

/// The service writes the answer in the transaction of the change, before the page has it: so a stop in between leaves no change
/// without its answer. Here there is no page that could have kept it.
#[tokio::test]
async fn the_answer_is_in_the_transaction_of_the_change() {
    let folder = tempfile::tempdir().unwrap();
    let config = config(folder.path());
    let service = Boxed::start(&config, begin()).await.unwrap();
    let event =
        serde_json::json!({"event": "fed", "vessel": "V1", "at": "2026-11-20T11:00:00Z", "food": "shrimp"});
    let enter = |event: &serde_json::Value| {
        let event = Box::new(serde_json::from_value(event.clone()).unwrap());
        with(Arc::new(Once::new([1; 32], [2; 32])), service.desk().enter(event, "Ada".to_owned()))
    };
    let mut refused = event.clone();
    refused["vessel"] = "nowhere".into();
    enter(&refused).await.unwrap_err();
    let answers = Keeper::answers(service.desk());
    assert_eq!(answers.find([1; 32]).await.unwrap(), None, "what was refused has no answer of a change");
    enter(&event).await.unwrap();
    let kept = answers.find([1; 32]).await.unwrap().unwrap();
    assert_eq!((kept.fingerprint, kept.said.status, kept.at), ([2; 32], 204, begin()));
    service.stop().await;
}

/// What the page would have added afterwards is taken away again; the repeat still finds the answer and does nothing.
#[tokio::test]
async fn a_stop_before_the_page_has_kept_its_own_answer_does_not_double_the_change() {
    let folder = tempfile::tempdir().unwrap();
    let config = config(folder.path());
    let claim = || {
        let body = r#"{"topic":"cellar/v1","vessel":"V1","quantity":"temperature","mark":"second"}"#;
        Request::post("/api/v1/map")
            .header("host", "localhost")
            .header("content-type", "application/json")
            .header("idempotency-key", "\"c\"")
            .body(Body::from(body))
            .unwrap()
    };
    let service = Boxed::start(&config, begin()).await.unwrap();
    assert_eq!(ask(&service, claim()).await.status(), StatusCode::CREATED);
    service.stop().await;
    // As it stood between the change, whose number was not known before, and its whole answer.
    let db = rusqlite::Connection::open(&config.store).unwrap();
    let body = r#"{"claim":null}"#;
    assert_eq!(db.execute("UPDATE answers SET body = ?1 WHERE body <> ?1", [body]).unwrap(), 1);
    drop(db);
    let service = Boxed::start(&config, begin()).await.unwrap();
    assert_eq!(ask(&service, claim()).await.status(), StatusCode::CREATED);
    let map = service.desk().probes().await.unwrap().map;
    assert_eq!(map.iter().filter(|e| e.claim.is_some()).count(), 1);
    service.stop().await;
}

/// A disk that is full takes neither: the service holds what it has taken on, and a repeat is told so instead of doing it again.
#[tokio::test(flavor = "multi_thread")]
async fn a_change_that_is_held_while_the_store_fails_is_not_taken_on_twice() {
    let folder = tempfile::tempdir().unwrap();
    let service = Boxed::start(&config(folder.path()), begin()).await.unwrap();
    let router = router(&service);
    service.store().allow_pages(1).await.unwrap();
    // Until the pages that the file has are full.
    let food = "x".repeat(400);
    let mut entered = 1;
    while ask_at(&router, fed(&food, &entered.to_string())).await.status() == StatusCode::NO_CONTENT {
        entered += 1;
        assert!(entered < 90, "the file takes no end");
    }
    let key = entered.to_string();
    assert_eq!(ask_at(&router, fed(&food, &key)).await.status(), StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(ask_at(&router, fed("flakes", &key)).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(entries(&service).await, entered, "held once");
    service.store().allow_pages(u32::MAX / 2).await.unwrap();
    let mut room = service.desk().room();
    while ask_at(&router, fed(&food, &key)).await.status() != StatusCode::NO_CONTENT {
        service.desk().look().await.unwrap();
        room.changed().await.unwrap();
    }
    assert_eq!(entries(&service).await, entered, "and written once");
    service.stop().await;
}
