//! Pages and API of the account: vessels, mothers, the strip day, forms and events.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use common::{FakeKeeper, calm, t};
use http_body_util::BodyExt;
use serde_json::{Value, json};
use std::sync::Arc;
use tower::ServiceExt;
use web::{Settings, router};

struct App {
    keeper: Arc<FakeKeeper>,
}

impl App {
    fn calm() -> Self {
        Self { keeper: FakeKeeper::new(calm()) }
    }

    async fn ask(&self, request: axum::http::request::Builder, body: String) -> (StatusCode, String) {
        let request = request.header(header::HOST, "127.0.0.1:8080").body(Body::from(body)).unwrap();
        let answer = router(self.keeper.clone(), Settings::default()).oneshot(request).await.unwrap();
        let status = answer.status();
        let bytes = answer.into_body().collect().await.unwrap().to_bytes();
        (status, String::from_utf8(bytes.to_vec()).unwrap())
    }

    async fn get(&self, path: &str) -> (StatusCode, String) {
        self.ask(Request::get(path), String::new()).await
    }

    /// Text between the tags.
    async fn text(&self, path: &str) -> String {
        let (status, html) = self.get(path).await;
        assert_eq!(status, StatusCode::OK, "{path}");
        html.split('<').map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text)).collect()
    }

    async fn post(&self, path: &str, form: &str) -> (StatusCode, String) {
        let kind = "application/x-www-form-urlencoded";
        self.ask(Request::post(path).header(header::CONTENT_TYPE, kind), form.to_owned()).await
    }

    async fn post_json(&self, path: &str, body: &Value) -> (StatusCode, String) {
        self.ask(Request::post(path).header(header::CONTENT_TYPE, "application/json"), body.to_string()).await
    }
}

#[tokio::test]
async fn the_list_says_what_is_in_every_vessel_and_who_needs_one() {
    let text = App::calm().text("/vessels").await;
    for said in [
        "C12",
        "held",
        "bur-03",
        "uncounted",
        "from C04 (541) and C09 (398)",
        "Crowded: 7.8 in a litre of 120, planned are at most 5.0",
        "In quarantine until",
        "1 without young by the account: G5 (120",
        "is free when its quarantine ends",
        "swims free likeliest",
        "41 fry (C11)",
        "drill: P1 stopped",
        "due since",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
}

#[tokio::test]
async fn the_account_of_a_clutch_comes_out_to_the_last_fish() {
    let text = App::calm().text("/clutches/C06").await;
    assert!(text.contains("41 came = 5 dead + 36 alive"), "{text}");
    assert!(text.contains("Not lost: 87 of 100. Your 4 other clutches of this entry: 82 of 100."), "{text}");
    assert!(text.contains("10.1007/s10750-022-05023-3"), "{text}");
}

#[tokio::test]
async fn a_vessel_shows_its_readings_and_what_touched_it() {
    let app = App::calm();
    let text = app.text("/vessels/G4?hours=6").await;
    for said in [
        "Temperature of G4",
        "2 readings, from 26.20 to 26.50",
        "Fed twice",
        "net-Q1 out of G4",
        "40 % of G4 changed",
        "Three clutches running kept fewer than 70 of a hundred here",
        "29 came in, 20 lost, 31\u{2009}% kept",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    assert!(app.keeper.heard().iter().any(|h| h.starts_with("history G4/temperature")));
    assert_eq!(app.get("/vessels/G9").await.0, StatusCode::NOT_FOUND);
    assert_eq!(app.get("/vessels/G4?hours=x").await.0, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn a_mother_shows_how_each_hold_ended() {
    let app = App::calm();
    let text = app.text("/mothers/bur-03").await;
    for said in [
        "holds C12, day 5",
        "spat and saved, 11 days",
        "47",
        "She spawned again 8 days after her mouth was empty",
        "thin",
        "in M1, with others: 4 runts",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    assert_eq!(app.get("/mothers/nobody").await.0, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn two_clutches_cannot_be_stripped_into_one_vessel() {
    let app = App::calm();
    let text = app.text("/strip").await;
    assert!(text.contains("C12") && text.contains("C13"), "{text}");
    let text = app.text("/strip?clutch=C12").await;
    assert!(
        text.contains("bur-03: C12") && !text.contains("C13"),
        "her young alone are on the screen: {text}"
    );
    let html = app.get("/strip?clutch=C12").await.1;
    assert!(html.contains("<option value=\"TU2\"") && !html.contains("<option value=\"TU1\""), "{html}");
    let form = "doing=taken&at=2026-11-25T02:00&alive=40&dead=2&how=spat&by=Ada";
    let (status, body) = app.post("/strip/C12", &format!("{form}&vessel=TU1")).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(body.contains("C11 is in it; choose an empty one"), "{body}");
    assert!(app.keeper.heard().iter().all(|h| !h.contains("taken")));
    let (status, _) = app.post("/strip/C12", &format!("{form}&vessel=TU2")).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let told = app.keeper.heard().into_iter().find(|h| h.contains("taken")).unwrap();
    let event: Value = serde_json::from_str(told.strip_suffix(" by Ada").unwrap()).unwrap();
    let wanted = json!({"event": "taken", "clutch": "C12", "at": t("2026-11-25T01:00:00Z"), "vessel": "TU2",
        "alive": 40, "dead": 2, "how": "spat"});
    assert_eq!(event, wanted);
}

#[tokio::test]
async fn every_form_becomes_the_event_it_stands_for() {
    let app = App::calm();
    let at = "at=2026-11-25T02:00&by=Ada";
    let cases = [
        (
            "/clutches/C06/enter",
            "doing=handed-on&count=24&to=club-07&told=F2",
            json!({"event": "handed-on", "clutch": "C06", "count": 24, "to": "club-07", "told": "F2"}),
        ),
        (
            "/clutches/C06/enter",
            "doing=looked-at&dead=3&roll=even",
            json!({"event": "looked-at", "clutch": "C06", "dead": 3, "roll": "even"}),
        ),
        (
            "/clutches/C06/enter",
            "doing=measured&millimetres=21,5&count=5",
            json!({"event": "measured", "clutch": "C06", "millimetres": 21.5, "count": 5}),
        ),
        (
            "/vessels/G4/enter",
            "doing=water-tested&tested=ammonia&value=0.5",
            json!({"event": "water-tested", "vessel": "G4", "tested": "ammonia", "value": 0.5}),
        ),
        (
            "/vessels/G4/enter",
            "doing=merged&clutch=M3&members=C04%2C+C09",
            json!({"event": "merged", "vessel": "G4", "clutch": "M3", "members": ["C04", "C09"]}),
        ),
        (
            "/vessels",
            "doing=installed&name=P2&kind=air+pump&days=365",
            json!({"event": "installed", "name": "P2", "kind": "air pump", "days": 365}),
        ),
        (
            "/mothers/bur-03/enter",
            "doing=noted&text=thin",
            json!({"event": "noted", "mother": "bur-03", "text": "thin"}),
        ),
    ];
    for (path, form, wanted) in cases {
        let (status, body) = app.post(path, &format!("{form}&{at}")).await;
        assert_eq!(status, StatusCode::SEE_OTHER, "{path} {form}: {body}");
        let told = app.keeper.heard().pop().unwrap();
        let mut event: Value = serde_json::from_str(told.strip_suffix(" by Ada").unwrap()).unwrap();
        assert_eq!(event.as_object_mut().unwrap().remove("at"), Some(json!(t("2026-11-25T01:00:00Z"))));
        for (name, value) in wanted.as_object().unwrap() {
            assert_eq!(event.get(name), Some(value), "{told}");
        }
    }
}

#[tokio::test]
async fn a_form_that_will_not_do_says_which_field_and_the_cure() {
    let app = App::calm();
    let cases = [
        (
            "/clutches/C06/enter",
            "doing=culled&at=2026-11-25T02:00&count=x&reason=runt",
            "is not a whole number",
        ),
        ("/clutches/C06/enter", "doing=culled&at=2026-11-25T02:00&count=2", "this is empty; fill it in"),
        ("/clutches/C06/enter", "doing=fed&at=2026-11-25T02:00&food=x", "cannot be written down here"),
        (
            "/vessels/G4/enter",
            "doing=water-tested&at=2026-11-25T02:00&tested=gold&value=1",
            "is not known; use one of",
        ),
        ("/vessels/G4/enter", "doing=fed&at=2026-11-25T02:00&food=x&colour=y", "no such field in this form"),
    ];
    for (path, form, said) in cases {
        let (status, body) = app.post(path, form).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{form}");
        assert!(body.contains(said), "{form}: {body}");
    }
    assert!(app.keeper.heard().iter().all(|h| !h.contains("event")));
}

#[tokio::test]
async fn the_api_takes_any_event_and_lists_what_was_entered() {
    let app = App::calm();
    let event =
        json!({"event": "fed", "vessel": "G1", "at": "2026-11-25T01:00:00Z", "food": "powder", "by": "Ada"});
    assert_eq!(app.post_json("/api/v1/account", &event).await.0, StatusCode::NO_CONTENT);
    assert!(app.keeper.heard().pop().unwrap().contains("\"food\":\"powder\""));
    let odd = json!({"event": "fed", "vessel": "G1", "at": "2026-11-25T01:00:00Z"});
    let (status, body) = app.post_json("/api/v1/account", &odd).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(body.contains("food"), "{body}");
    let list: Value = serde_json::from_str(&app.get("/api/v1/account?after=7&limit=1").await.1).unwrap();
    assert_eq!((list["entries"][0]["entry"].as_u64(), &list["next"]), (Some(2), &Value::Null));
    assert!(
        app.keeper.heard().iter().any(|h| h == "entries before Some(7), 2"),
        "one more, to see whether there are more"
    );
    assert_eq!(app.get("/api/v1/account?limit=0").await.0, StatusCode::UNPROCESSABLE_ENTITY);
    for path in ["/api/v1/vessels", "/api/v1/vessels/G4", "/api/v1/mothers", "/api/v1/mothers/bur-03"] {
        assert_eq!(app.get(path).await.0, StatusCode::OK, "{path}");
    }
}
