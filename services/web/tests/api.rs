//! The JSON API and the event stream through the router.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use axum::response::Response;
use common::{FakeKeeper, alarm, calm};
use http_body_util::BodyExt;
use serde_json::{Value, json};
use std::sync::Arc;
use tower::ServiceExt;
use web::{Settings, router};

async fn ask(keeper: &Arc<FakeKeeper>, request: Request<Body>) -> Response {
    router(keeper.clone(), Settings::default()).oneshot(request).await.unwrap()
}

fn get(path: &str) -> Request<Body> {
    Request::get(path).header(header::HOST, "localhost").body(Body::empty()).unwrap()
}

fn post(path: &str, body: &str) -> Request<Body> {
    Request::post(path)
        .header(header::HOST, "localhost")
        .header(header::CONTENT_TYPE, "application/json")
        .body(Body::from(body.to_owned()))
        .unwrap()
}

async fn json_of(response: Response) -> (StatusCode, Value) {
    let status = response.status();
    let bytes = response.into_body().collect().await.unwrap().to_bytes();
    (status, serde_json::from_slice(&bytes).unwrap())
}

async fn problem(response: Response) -> Value {
    assert_eq!(response.headers()[header::CONTENT_TYPE], "application/problem+json");
    let (status, body) = json_of(response).await;
    assert_eq!(body["status"], status.as_u16(), "RFC 9457: the member equals the status line");
    assert_eq!(body["type"], "about:blank");
    assert!(body["title"].is_string() && body["detail"].is_string());
    body
}

#[tokio::test]
async fn the_room_and_its_parts_are_json() {
    let keeper = FakeKeeper::new(alarm());
    let (_, room) = json_of(ask(&keeper, get("/api/v1/room")).await).await;
    assert_eq!(room["room"], "undercroft");
    assert_eq!(room["now"], "2026-11-26T01:14:00Z");
    assert_eq!(room["tumblers"][0]["turning"], "still");
    let (_, alarms) = json_of(ask(&keeper, get("/api/v1/alarms")).await).await;
    assert_eq!(alarms[0]["act_within"], 45 * 60_000);
    let (_, readings) = json_of(ask(&keeper, get("/api/v1/readings")).await).await;
    assert_eq!(readings[0]["probe"], "V1/temperature");
    let (_, clutches) = json_of(ask(&keeper, get("/api/v1/clutches")).await).await;
    assert_eq!(clutches.as_array().unwrap().len(), 4);
    let (_, one) = json_of(ask(&keeper, get("/api/v1/clutches/C06")).await).await;
    assert_eq!(one["clutch"]["id"], "C06");
}

#[tokio::test]
async fn history_takes_a_range_and_refuses_what_it_cannot_read() {
    let keeper = FakeKeeper::new(calm());
    let ok = "/api/v1/readings/V1/temperature?from=2026-11-25T00:00:00Z&to=2026-11-26T00:00:00%2B00:00";
    let (_, body) = json_of(ask(&keeper, get(ok)).await).await;
    assert_eq!(body["unit"], "°C");
    assert_eq!(body["readings"][1], json!({"time": "2026-11-26T00:00:00Z", "value": 26.5, "raw": 26.8}));
    for (query, field) in [
        ("from=yesterday", Some("from")),
        ("to=2020-01-01T00:00:00", Some("to")),
        ("from=2026-11-26T00:00:00Z&to=2026-11-25T00:00:00Z", Some("from")),
        ("from=2020-11-26T00:00:00Z&to=2026-11-25T00:00:00Z", Some("from")),
        ("since=1", None),
    ] {
        let answer = ask(&keeper, get(&format!("/api/v1/readings/V1/temperature?{query}"))).await;
        assert!(answer.status().is_client_error(), "{query}");
        assert_eq!(problem(answer).await["field"].as_str(), field, "{query}");
    }
    problem(ask(&keeper, get("/api/v1/readings/V1/bubbles")).await).await;
}

#[tokio::test]
async fn changes_reach_the_keeper() {
    let keeper = FakeKeeper::new(alarm());
    let ack = ask(&keeper, post("/api/v1/alarms/TU1.air-stopped/acknowledge", r#"{"by":"Ada"}"#)).await;
    assert_eq!(ack.status(), StatusCode::NO_CONTENT);
    let new = json!({"id": "C12", "fish": "x", "species": "y", "day0_earliest": "2026-11-25T17:30:00Z",
        "day0_grade": "seen", "vessel": "V1", "by": "Ada"});
    let answer = ask(&keeper, post("/api/v1/clutches", &new.to_string())).await;
    assert_eq!(answer.status(), StatusCode::CREATED);
    assert_eq!(answer.headers()[header::LOCATION], "/api/v1/clutches/C12");
    let seen = r#"{"what":"seen","at":"2026-11-26T00:00:00Z","stage":"hatch"}"#;
    let answer = ask(&keeper, post("/api/v1/clutches/C06/records", seen)).await;
    assert_eq!(answer.status(), StatusCode::NO_CONTENT);
    let shelved = r#"{"minutes":20,"why":"new stone","by":"Ada"}"#;
    let answer = ask(&keeper, post("/api/v1/alarms/TU1.air-stopped/shelve", shelved)).await;
    assert_eq!(answer.status(), StatusCode::NO_CONTENT);
    let answer = ask(&keeper, post("/api/v1/alarms/TU1.air-stopped/unshelve", r#"{"by":"Ada"}"#)).await;
    assert_eq!(answer.status(), StatusCode::NO_CONTENT);
    let heard = keeper.heard();
    assert_eq!(
        heard[3..],
        [
            "shelve TU1.air-stopped Shelving { minutes: 20, why: \"new stone\" } Ada",
            "unshelve TU1.air-stopped Ada"
        ]
    );
    assert_eq!(heard[..2], ["acknowledge TU1.air-stopped by Ada", "open C12 2026-11-25T17:30:00Z by Ada"]);
    assert!(heard[2].ends_with("by someone at the page"), "{}", heard[2]);
}

#[tokio::test]
async fn every_error_is_a_problem() {
    let keeper = FakeKeeper::new(alarm());
    let cases = [
        (get("/api/v1/clutches/C77"), 404),
        (get("/api/v1/clutches/a%20b"), 404),
        (get("/api/v1/nowhere"), 404),
        (post("/api/v1/room", "{}"), 405),
        (post("/api/v1/alarms/none/acknowledge", "{}"), 404),
        (post("/api/v1/alarms/V2.too-cold/acknowledge", r#"{"by":"Ada","hush":1}"#), 422),
        (post("/api/v1/alarms/V2.too-cold/acknowledge", r#"{"by":7}"#), 422),
        (post("/api/v1/alarms/TU1.air-stopped/shelve", r#"{"why":"new stone"}"#), 422),
        (post("/api/v1/clutches", "not json"), 400),
        (post("/api/v1/clutches", r#"{"id":"C12","colour":"red"}"#), 422),
        (post("/api/v1/clutches/C06/records", r#"{"what":"cull"}"#), 422),
        (
            post(
                "/api/v1/clutches/C06/records",
                r#"{"what":"loss","at":"2026-11-26T00:00:00Z","count":99,"reason":"x"}"#,
            ),
            422,
        ),
    ];
    for (request, status) in cases {
        let said = format!("{} {}", request.method(), request.uri());
        let answer = ask(&keeper, request).await;
        assert_eq!(answer.status().as_u16(), status, "{said}");
        problem(answer).await;
    }
    let mut plain = post("/api/v1/clutches", "{}");
    plain.headers_mut().insert(header::CONTENT_TYPE, "text/plain".parse().unwrap());
    assert_eq!(problem(ask(&keeper, plain).await).await["status"], 415);
    let taken = json!({"id": "C06", "fish": "x", "species": "y", "day0_earliest": "2026-11-25T17:30:00Z",
        "day0_grade": "seen", "vessel": "V1"});
    assert_eq!(
        problem(ask(&keeper, post("/api/v1/clutches", &taken.to_string())).await).await["field"],
        "id"
    );
}

/// The next event of the stream that is not a comment: its name and data.
async fn event(body: &mut Body) -> (String, String) {
    loop {
        let frame = body.frame().await.unwrap().unwrap().into_data().unwrap();
        let text = String::from_utf8(frame.to_vec()).unwrap();
        let field = |name: &str| text.lines().find_map(|l| l.strip_prefix(name)).map(|v| v.trim().to_owned());
        if let (Some(name), Some(data)) = (field("event:"), field("data:")) {
            return (name, data);
        }
    }
}

#[tokio::test(start_paused = true)]
async fn the_stream_sends_all_then_only_what_changed() {
    let keeper = FakeKeeper::new(calm());
    let mut request = get("/api/v1/events");
    request.headers_mut().insert(header::ACCEPT_ENCODING, "gzip".parse().unwrap());
    let answer = ask(&keeper, request).await;
    assert_eq!(answer.headers()[header::CONTENT_TYPE], "text/event-stream");
    assert!(!answer.headers().contains_key(header::CONTENT_ENCODING));
    let mut body = answer.into_body();

    let (name, data) = event(&mut body).await;
    let all: serde_json::Map<String, Value> = serde_json::from_str(&data).unwrap();
    assert_eq!(name, "room");
    let ids: Vec<&str> = all.keys().map(String::as_str).collect();
    assert_eq!(
        ids,
        ["alarms", "headline", "notices", "rack", "refused", "ribbons", "status", "strip", "tanks"]
    );

    let mut warmer = calm();
    warmer.tanks[1].water.celsius = Some(27.6);
    keeper.room.send_replace(Arc::new(warmer));
    let (_, data) = event(&mut body).await;
    let some: serde_json::Map<String, Value> = serde_json::from_str(&data).unwrap();
    assert_eq!(some.keys().collect::<Vec<_>>(), ["tanks"]);
    assert!(some["tanks"].as_str().unwrap().contains("27.6"));

    // The same room again is no news: the next thing heard is the beat.
    // In a statement of its own: the borrow must end before the sender locks.
    let same = (**keeper.room.borrow()).clone();
    keeper.room.send_replace(Arc::new(same));
    assert_eq!(event(&mut body).await, ("beat".to_owned(), "02:14".to_owned()));

    keeper.room.send_replace(Arc::new(alarm()));
    let (_, data) = event(&mut body).await;
    assert!(data.contains("TU1 lies still") && data.contains("I am on it"));
}

#[tokio::test(start_paused = true)]
async fn the_stream_is_held_to_about_three_a_second() {
    let keeper = FakeKeeper::new(calm());
    let mut body = ask(&keeper, get("/api/v1/events")).await.into_body();
    event(&mut body).await;
    let start = tokio::time::Instant::now();
    for n in 0..6_u32 {
        let mut room = calm();
        room.tanks[0].water.celsius = Some(27.0 + f64::from(n) / 10.0);
        keeper.room.send_replace(Arc::new(room));
        event(&mut body).await;
    }
    assert!(start.elapsed() >= std::time::Duration::from_millis(6 * 330), "{:?}", start.elapsed());
}

#[tokio::test]
async fn a_stopping_service_ends_its_streams() {
    use tokio::io::{AsyncReadExt, AsyncWriteExt};
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let place = listener.local_addr().unwrap();
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let router = router(FakeKeeper::new(calm()), Settings::default());
    let served = tokio::spawn(web::serve(listener, router, async move {
        let _ = stopped.await;
    }));
    let mut client = tokio::net::TcpStream::connect(place).await.unwrap();
    client.write_all(b"GET /api/v1/events HTTP/1.1\r\nHost: localhost\r\n\r\n").await.unwrap();
    let mut first = [0_u8; 64];
    client.read_exact(&mut first).await.unwrap();
    assert!(first.starts_with(b"HTTP/1.1 200"));
    stop.send(()).unwrap();
    served.await.unwrap().unwrap();
    let mut rest = Vec::new();
    client.read_to_end(&mut rest).await.unwrap();
    assert!(rest.ends_with(b"0\r\n\r\n"), "the stream was ended, not cut");
}
