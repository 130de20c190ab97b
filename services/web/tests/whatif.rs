//! Other water through the pages and the API.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use common::{FakeKeeper, calm};
use http_body_util::BodyExt;
use std::sync::Arc;
use tower::ServiceExt;
use web::{Settings, router};

async fn get(keeper: &Arc<FakeKeeper>, path: &str) -> (StatusCode, String) {
    let request = Request::get(path).header(header::HOST, "127.0.0.1:8080").body(Body::empty()).unwrap();
    let answer = router(keeper.clone(), Settings::default()).oneshot(request).await.unwrap();
    let status = answer.status();
    let bytes = answer.into_body().collect().await.unwrap().to_bytes();
    (status, String::from_utf8(bytes.to_vec()).unwrap())
}

async fn json(keeper: &Arc<FakeKeeper>, query: &str) -> (StatusCode, serde_json::Value) {
    let (status, body) = get(keeper, &format!("/api/v1/clutches/C06/what-if?{query}")).await;
    (status, serde_json::from_str(&body).unwrap())
}

#[tokio::test]
async fn the_clutch_page_asks_and_answers_without_script() {
    let keeper = FakeKeeper::new(calm());
    let (_, html) = get(&keeper, "/clutches/C06").await;
    assert!(html.contains("<form class=\"record\" method=\"get\" action=\"/clutches/C06/what-if#what-if\">"));
    assert!(!html.contains("Caution."), "nothing was asked yet");
    let (status, html) = get(&keeper, "/clutches/C06/what-if?celsius=25&life=rest").await;
    assert_eq!(status, StatusCode::OK);
    for part in [
        "With water of 25.0 °C, held from the last reading on (Thu 26 Nov, 02:14):",
        "6 h 00 min later",
        "The water to come lies outside the calibrated range.",
        "Forcing temperature harms.",
        "id=\"do-water\" open",
        "value=\"25\"",
    ] {
        assert!(html.contains(part), "{part}\n{html}");
    }
    let (_, html) = get(&keeper, "/clutches/C06/what-if?celsius=25&life=whole").await;
    assert!(html.contains("held all its life"));
}

#[tokio::test]
async fn a_date_is_of_the_rooms_clock_and_refused_with_what_can_be_had() {
    let keeper = FakeKeeper::new(calm());
    let (status, html) = get(&keeper, "/clutches/C06/what-if?stage=hatch&at=2026-11-26T20:00").await;
    assert_eq!(status, StatusCode::OK, "{html}");
    assert!(html.contains("Hatch at Thu 26 Nov, 20:00 needs water of 25.33 °C, held from"));
    assert!(html.contains("Each tenth of a degree warmer brings it 1 h 05 min sooner."));
    assert!(keeper.heard().concat().contains("at: Time(1795719600000)"), "{:?}", keeper.heard());
    let (status, html) = get(&keeper, "/clutches/C06/what-if?stage=hatch&at=2026-11-28T10:00").await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    let message = html.split("id=\"date-at-fault\" role=\"alert\">").nth(1).unwrap();
    let wanted = "Sat 28 Nov, 10:00 cannot be had: within the tolerated range (22 to 30 °C) hatch can be put from \
                  Thu 26 Nov, 11:00 (at 30.0 °C) to Thu 26 Nov, 23:00 (at 22.0 °C)";
    assert!(message.starts_with(wanted), "{message}");
}

#[tokio::test]
async fn bad_input_names_its_field_beside_the_form() {
    let keeper = FakeKeeper::new(calm());
    for (query, field) in [
        ("celsius=warm", "water-celsius"),
        ("celsius=60", "water-celsius"),
        ("celsius=25&life=half", "water-life"),
        ("stage=moult&at=2026-11-26T20:00", "date-stage"),
        ("stage=hatch&at=soon", "date-at"),
    ] {
        let (status, html) = get(&keeper, &format!("/clutches/C06/what-if?{query}")).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
        assert!(html.contains(&format!("<p class=\"fault\" id=\"{field}-fault\"")), "{query}\n{html}");
    }
    let (status, html) = get(&keeper, "/clutches/C06/what-if?celsius=25&colour=red").await;
    assert!(status.is_client_error() && html.contains("colour: no such field"));
    assert_eq!(get(&keeper, "/clutches/no%20name/what-if?celsius=25").await.0, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_api_answers_in_utc_and_milliseconds() {
    let keeper = FakeKeeper::new(calm());
    let (status, body) = json(&keeper, "celsius=25").await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(body["celsius"], 25.0);
    assert_eq!(body["stages"][0]["likeliest"], "2026-11-26T19:00:00Z");
    assert!(body["from"].is_string() && body["caution"].is_string() && body["put"].is_null());
    let (_, body) = json(&keeper, "stage=hatch&at=2026-11-26T20:00:00+01:00").await;
    assert_eq!(body["put"]["at"], "2026-11-26T19:00:00Z");
    assert_eq!(body["put"]["per_tenth"], 65 * 60_000);
    for (query, field) in [
        ("celsius=60", "celsius"),
        ("", "celsius"),
        ("stage=hatch", "at"),
        ("stage=hatch&at=2026-11-26T20:00", "at"),
        ("stage=hatch&at=2026-11-29T20:00:00Z", "at"),
        ("celsius=25&of=red", "of"),
    ] {
        let (status, body) = json(&keeper, query).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
        assert_eq!(body["field"], field, "{query}");
    }
    let (_, body) = json(&keeper, "stage=hatch&at=2026-11-29T20:00:00Z").await;
    assert!(body["detail"].as_str().unwrap().contains("from 2026-11-26T10:00:00Z (at 30.0 °C)"), "{body}");
}

#[tokio::test]
async fn the_clutch_page_tells_what_moved_it_since_dusk_and_the_parts_add_up() {
    let (_, html) = get(&FakeKeeper::new(calm()), "/clutches/C06").await;
    for part in [
        "<caption>Since Wed 25 Nov, 20:00: hatch <b>1 h 36 min later</b>",
        "<td>Wed 25 Nov, 21:00 to 23:00</td><td>25.4 °C instead of 27.0</td><td>1 h 40 min later</td>",
        "<td>4 min sooner</td>",
        "In all, from Thu 26 Nov, 12:24 to Thu 26 Nov, 14:00</th><td><b>1 h 36 min later</b></td>",
    ] {
        assert!(html.contains(part), "{part}\n{html}");
    }
}

#[tokio::test]
async fn the_api_tells_a_shift_in_parts() {
    let keeper = FakeKeeper::new(calm());
    let (status, body) = get(&keeper, "/api/v1/clutches/C06/shift").await;
    let body: serde_json::Value = serde_json::from_str(&body).unwrap();
    assert_eq!((status, &body["from"]), (StatusCode::OK, &"2026-11-25T19:00:00Z".into()));
    let stage = &body["stages"][0];
    let parts = stage["parts"].as_array().unwrap();
    let sum: i64 = parts.iter().map(|p| p["gained"].as_i64().unwrap()).sum();
    assert_eq!((sum, parts[0]["kind"].as_str()), (stage["gained"].as_i64().unwrap(), Some("water")));
    for (query, field) in [
        ("from=dusk", "from"),
        ("to=2026-11-26T20:00", "to"),
        ("from=2026-11-26T00:00:00Z&to=2026-11-25T00:00:00Z", "from"),
    ] {
        let (status, body) = get(&keeper, &format!("/api/v1/clutches/C06/shift?{query}")).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
        assert_eq!(serde_json::from_str::<serde_json::Value>(&body).unwrap()["field"], field, "{query}");
    }
    assert_eq!(get(&keeper, "/api/v1/clutches/C06/shift?since=1").await.0, StatusCode::BAD_REQUEST);
    assert_eq!(get(&keeper, "/api/v1/clutches/C77/shift").await.0, StatusCode::NOT_FOUND);
}
