//! The page of calls, and the page behind a link in a message.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, header};
use common::{FakeKeeper, alarm};
use http_body_util::BodyExt;
use std::sync::Arc;
use tower::ServiceExt;
use units::{Span, Time};
use web::calls::{CallView, CallsView, DrillView, TryView};
use web::{Settings, router};

async fn ask(keeper: &Arc<FakeKeeper>, request: Request<Body>) -> String {
    let answer = router(keeper.clone(), Settings::default()).oneshot(request).await.unwrap();
    let bytes = answer.into_body().collect().await.unwrap().to_bytes();
    String::from_utf8(bytes.to_vec()).unwrap()
}

async fn get(keeper: &Arc<FakeKeeper>, path: &str) -> String {
    let request = Request::get(path).header(header::HOST, "127.0.0.1:8080");
    ask(keeper, request.body(Body::empty()).unwrap()).await
}

async fn post(keeper: &Arc<FakeKeeper>, path: &str, form: &'static str) -> String {
    let request = Request::post(path)
        .header(header::HOST, "127.0.0.1:8080")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
    ask(keeper, request.body(Body::from(form)).unwrap()).await
}

fn calls() -> CallsView {
    let at = Time::parse_rfc3339("2026-11-25T18:00:00Z").unwrap();
    let call = |person: &str, way: &str, after, failing: Option<&str>| CallView {
        name: format!("{person} by {way}"),
        person: Some(person.into()),
        way: way.into(),
        priority: 3,
        hours: Some("22:00 to 07:00".into()),
        after,
        failing: failing.map(str::to_owned),
    };
    CallsView {
        calls: vec![
            call("Ada", "phone", Span::ZERO, Some("example.org answers 503")),
            call("Ben", "mail:ben@example.org", Span::minutes(10), None),
        ],
        sirens: vec!["cellar/siren".into()],
        drills: vec![
            DrillView { at, answered: None },
            DrillView { at, answered: Some(("Ada".into(), at + Span::minutes(4))) },
        ],
        next_drill: Some(at + Span::days(30)),
        tries: vec![TryView {
            id: "x".into(),
            call: "Ada".into(),
            at,
            by: "Ben".into(),
            fate: Some("arrived at 18:00".into()),
        }],
        links: false,
    }
}

#[tokio::test]
async fn the_page_says_who_is_called_and_what_does_not_arrive() {
    let page = get(&FakeKeeper::calling(alarm(), calls()), "/calls").await;
    for words in [
        "By phone, for priority 1 to 3, from 22:00 to 07:00.",
        "Nothing arrives by it: </b>example.org answers 503",
        "By mail to ben@example.org, ",
        "when nobody has answered for 10 min",
        "Sirens and lamps hear: cellar/siren.",
        "arrived at 18:00",
        "Ada answered after 4 min",
        "nobody answered.",
    ] {
        assert!(page.contains(words), "{words}\n{page}");
    }
}

#[tokio::test]
async fn a_room_that_calls_nobody_says_so() {
    let page = get(&FakeKeeper::new(alarm()), "/calls").await;
    assert!(page.contains("Nobody is called."), "{page}");
}

#[tokio::test]
async fn a_way_is_tried_by_a_button() {
    let keeper = FakeKeeper::new(alarm());
    post(&keeper, "/calls/Ada%20by%20phone/try", "by=Cleo").await;
    assert_eq!(keeper.heard(), ["try Ada by phone by Cleo"]);
}

/// Mail programs look at links by themselves: only the button takes an alarm on.
#[tokio::test]
async fn a_link_shows_its_alarm_and_takes_it_on_by_a_button_only() {
    let keeper = FakeKeeper::new(alarm());
    let page = get(&keeper, "/on-it/good").await;
    assert!(page.contains("I am on it") && page.contains("action=\"/on-it/good\""), "{page}");
    assert!(keeper.heard().is_empty(), "looking does nothing");
    let taken = post(&keeper, "/on-it/good", "").await;
    assert_eq!(keeper.heard(), ["link good"]);
    assert!(taken.contains("You are on it, Ada"), "{taken}");
    assert!(get(&keeper, "/on-it/bad").await.contains("this link is over"));
}
