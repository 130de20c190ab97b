//! A simulated room on the page, in the API and in the event stream; and a real one, which has nothing of it.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use axum::response::Response;
use common::{FakeKeeper, alarm, calm};
use http_body_util::BodyExt;
use serde_json::Value;
use std::sync::Arc;
use tower::ServiceExt;
use web::{Settings, router};

async fn ask(keeper: &Arc<FakeKeeper>, request: Request<Body>) -> Response {
    router(keeper.clone(), Settings::default()).oneshot(request).await.unwrap()
}

fn get(path: &str) -> Request<Body> {
    Request::get(path).header(header::HOST, "localhost").body(Body::empty()).unwrap()
}

fn post(path: &str, kind: &str, body: &str) -> Request<Body> {
    Request::post(path)
        .header(header::HOST, "localhost")
        .header(header::CONTENT_TYPE, kind)
        .body(Body::from(body.to_owned()))
        .unwrap()
}

fn json(path: &str, body: &str) -> Request<Body> {
    post(&format!("/api/v1/simulated{path}"), "application/json", body)
}

fn form(path: &str, body: &str) -> Request<Body> {
    post(&format!("/simulated{path}"), "application/x-www-form-urlencoded", body)
}

async fn text(answer: Response) -> String {
    String::from_utf8(answer.into_body().collect().await.unwrap().to_bytes().to_vec()).unwrap()
}

async fn value(answer: Response) -> Value {
    serde_json::from_str(&text(answer).await).unwrap()
}

/// The part of the page with the buttons.
fn part(html: &str) -> &str {
    html.split("<section id=\"break\"").nth(1).unwrap().split("</section>").next().unwrap()
}

fn line(html: &str) -> &str {
    html.split("id=\"simulated-line\">").nth(1).unwrap().split("</div>").next().unwrap()
}

#[tokio::test]
async fn the_page_says_that_the_room_is_simulated_and_each_button_what_it_does() {
    let keeper = FakeKeeper::simulated(calm());
    let html = text(ask(&keeper, get("/")).await).await;
    assert!(html.find("id=\"break\"") > html.find("id=\"ribbons\""), "the part stands below the ribbons");
    assert!(
        line(&html).contains("This room is simulated.") && line(&html).contains("href=\"#break\""),
        "{html}"
    );
    let part = part(&html);
    for words in [
        "nothing that you break here is alive",
        "<button type=\"submit\">Stop the air of TU2</button>",
        "<button type=\"submit\">Lose the Wi-Fi</button>",
        "<button type=\"submit\">Let an hour pass in 20 seconds</button>",
        "a dead heater needs hours to be seen",
        "The service says now: </b>All three in use turn.",
        "Its eggs sink into a heap.",
    ] {
        assert!(part.contains(words), "{words}\n{part}");
    }
    assert!(!part.contains("Broken since") && !part.contains("Give TU2"), "{part}");
}

#[tokio::test]
async fn a_pressed_button_becomes_the_one_that_mends() {
    let keeper = FakeKeeper::simulated(alarm());
    let answer = ask(&keeper, form("/faults/air-tu2", "broken=true")).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    assert_eq!(answer.headers()[header::LOCATION], "/#break");
    assert_eq!(ask(&keeper, form("/pace", "pace=180")).await.status(), StatusCode::SEE_OTHER);
    let html = text(ask(&keeper, get("/")).await).await;
    let (line, shown) = (line(&html), part(&html));
    assert!(line.contains("Simulated, 1 h = 20 s.") && line.contains("One thing is broken"), "{line}");
    for words in
        ["Give TU2 its air back", "Broken since 02:14.", "Back to real time", "An hour passes in 20 s now."]
    {
        assert!(shown.contains(words), "{words}\n{shown}");
    }
    assert!(!shown.contains("Stop the air of TU2") && !shown.contains("Let an hour"), "{shown}");
    ask(&keeper, form("/faults/air-tu2", "broken=false")).await;
    let html = text(ask(&keeper, get("/")).await).await;
    assert!(part(&html).contains("Stop the air of TU2"));
}

#[tokio::test]
async fn the_api_breaks_mends_and_hurries() {
    let keeper = FakeKeeper::simulated(calm());
    let answer = ask(&keeper, json("/faults/wifi", r#"{"broken": true}"#)).await;
    assert_eq!(answer.status(), StatusCode::NO_CONTENT);
    assert_eq!(ask(&keeper, json("/pace", r#"{"pace": 180}"#)).await.status(), StatusCode::NO_CONTENT);
    let shown = value(ask(&keeper, get("/api/v1/simulated")).await).await;
    assert_eq!((&shown["pace"], &shown["things"][1]["key"]), (&180.0.into(), &"wifi".into()));
    assert_eq!(shown["things"][1]["broken"], true);
    assert_eq!(shown["things"][1]["since"], "2026-11-26T01:14:00Z");
    ask(&keeper, json("/faults/wifi", r#"{"broken": false}"#)).await;
    let shown = value(ask(&keeper, get("/api/v1/simulated")).await).await;
    assert_eq!(shown["things"][1]["since"], Value::Null);
}

#[tokio::test]
async fn what_will_not_do_is_refused_with_its_field() {
    let keeper = FakeKeeper::simulated(calm());
    for (path, body, field) in [
        ("/faults/pump", r#"{"broken": true}"#, Some("key")),
        ("/faults/wifi", r#"{"broken": "yes"}"#, Some("broken")),
        ("/faults/wifi", "{}", Some("broken")),
        ("/faults/wifi", r#"{"broken": true, "by": "me"}"#, Some("by")),
        ("/pace", r#"{"pace": 1e9}"#, Some("pace")),
        ("/pace", r#"{"pace": "fast"}"#, Some("pace")),
        ("/pace", r#"{"pace": null}"#, Some("pace")),
    ] {
        let answer = ask(&keeper, json(path, body)).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{path} {body}");
        assert_eq!(value(answer).await["field"].as_str(), field, "{path} {body}");
    }
    for (path, body) in
        [("/faults/pump", "broken=true"), ("/faults/wifi", "broken=1"), ("/pace", "pace=fast")]
    {
        let answer = ask(&keeper, form(path, body)).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{path} {body}");
        assert!(text(answer).await.contains("will not do") || path == "/pace", "{path} {body}");
    }
    let mut foreign = form("/faults/wifi", "broken=true");
    foreign.headers_mut().insert("sec-fetch-site", "cross-site".parse().unwrap());
    assert_eq!(ask(&keeper, foreign).await.status(), StatusCode::FORBIDDEN);
    let shown = keeper.toy.as_ref().unwrap().0.borrow().clone();
    assert!(shown.pace == 1.0 && shown.things.iter().all(|t| !t.broken), "{shown:?}");
}

#[tokio::test]
async fn a_real_room_has_nothing_to_break() {
    let keeper = FakeKeeper::new(calm());
    let html = text(ask(&keeper, get("/")).await).await;
    assert!(!html.contains("simulated") && !html.contains("Break"), "{html}");
    for request in [
        get("/api/v1/simulated"),
        json("/faults/wifi", r#"{"broken": true}"#),
        json("/pace", r#"{"pace": 180}"#),
        form("/faults/wifi", "broken=true"),
        form("/pace", "pace=180"),
    ] {
        let said = format!("{} {}", request.method(), request.uri());
        let answer = ask(&keeper, request).await;
        assert_eq!(answer.status(), StatusCode::NOT_FOUND, "{said}");
        assert!(text(answer).await.contains("no simulated one"), "{said}");
    }
}

/// The data of the next event of that name.
async fn event(body: &mut Body, name: &str) -> Value {
    loop {
        let frame = body.frame().await.unwrap().unwrap().into_data().unwrap();
        let text = String::from_utf8(frame.to_vec()).unwrap();
        if text.contains(&format!("event: {name}")) {
            return serde_json::from_str(text.lines().find_map(|l| l.strip_prefix("data: ")).unwrap())
                .unwrap();
        }
    }
}

#[tokio::test(start_paused = true)]
async fn an_open_page_hears_what_was_broken_elsewhere() {
    let keeper = FakeKeeper::simulated(calm());
    let mut body = ask(&keeper, get("/api/v1/events")).await.into_body();
    let all = event(&mut body, "room").await;
    assert!(all["simulated"].as_str().unwrap().contains("Stop the air of TU2"));
    ask(&keeper, json("/faults/air-tu2", r#"{"broken": true}"#)).await;
    let some = event(&mut body, "room").await;
    assert_eq!(some.as_object().unwrap().keys().collect::<Vec<_>>(), ["simulated", "simulated-line"]);
    assert!(some["simulated"].as_str().unwrap().contains("Give TU2 its air back"));
}
