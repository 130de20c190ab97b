//! Probes, devices and the topic map, in the API and on the page.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use common::{FakeKeeper, calm};
use http_body_util::BodyExt;
use serde_json::{Value, json};
use std::sync::Arc;
use tower::ServiceExt;
use web::{Settings, router};

async fn send(keeper: &Arc<FakeKeeper>, request: Request<Body>) -> (StatusCode, String) {
    let answer = router(keeper.clone(), Settings::default()).oneshot(request).await.unwrap();
    let status = answer.status();
    let body = answer.into_body().collect().await.unwrap().to_bytes();
    (status, String::from_utf8(body.to_vec()).unwrap())
}

async fn get(keeper: &Arc<FakeKeeper>, path: &str) -> String {
    let request = Request::get(path).header(header::HOST, "localhost").body(Body::empty()).unwrap();
    let (status, body) = send(keeper, request).await;
    assert_eq!(status, StatusCode::OK, "{path}");
    body
}

async fn post(keeper: &Arc<FakeKeeper>, path: &str, kind: &str, body: &str) -> (StatusCode, String) {
    let request = Request::post(path)
        .header(header::HOST, "localhost")
        .header(header::CONTENT_TYPE, kind)
        .header("sec-fetch-site", "same-origin")
        .body(Body::from(body.to_owned()))
        .unwrap();
    send(keeper, request).await
}

const JSON: &str = "application/json";
const FORM: &str = "application/x-www-form-urlencoded";

#[tokio::test]
async fn each_part_has_an_address_of_its_own() {
    let keeper = FakeKeeper::new(calm());
    let parse = |text: String| serde_json::from_str::<Value>(&text).unwrap();
    let probes = parse(get(&keeper, "/api/v1/probes").await);
    assert_eq!((&probes[0]["every"], &probes[0]["every_from"]), (&json!(60_000), &json!("learnt")));
    let devices = parse(get(&keeper, "/api/v1/devices").await);
    assert_eq!((&devices[0]["name"], &devices[0]["online"]), (&json!("n8"), &json!(false)));
    let unmapped = parse(get(&keeper, "/api/v1/unmapped").await);
    assert_eq!((&unmapped[0]["count"], &unmapped[0]["payload"]), (&json!(41), &json!(r#"{"t":26.87}"#)));
    let map = parse(get(&keeper, "/api/v1/map").await);
    assert_eq!((&map[0]["claim"], &map[0]["entry"]["pointer"]), (&json!(3), &json!("/t")));
}

#[tokio::test]
async fn an_entry_is_tried_claimed_and_released_by_the_api() {
    let keeper = FakeKeeper::new(calm());
    let trial = r#"{"entry":{"topic":"rack/n9/s","vessel":"V2","quantity":"temperature"},"payload":"26.87"}"#;
    let (status, body) = post(&keeper, "/api/v1/map/try", JSON, trial).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(serde_json::from_str::<Value>(&body).unwrap()[0]["value"], 26.87);
    let entry = r#"{"topic":"rack/n9/s","vessel":"V2","quantity":"temperature","by":"Mara"}"#;
    let (status, body) = post(&keeper, "/api/v1/map", JSON, entry).await;
    assert_eq!((status, body.as_str()), (StatusCode::CREATED, r#"{"claim":3}"#));
    let (status, _) = post(&keeper, "/api/v1/map/3/release", JSON, r#"{"by":"Mara"}"#).await;
    assert_eq!(status, StatusCode::NO_CONTENT);
    let told = keeper.told.lock().unwrap().clone();
    let claimed = r#"claim {"topic":"rack/n9/s","vessel":"V2","quantity":"temperature"} by Mara"#;
    assert_eq!(told, ["try rack/n9/s on Some(\"26.87\")", claimed, "release 3 by Mara"]);
}

#[tokio::test]
async fn a_field_that_the_map_does_not_know_is_named() {
    let keeper = FakeKeeper::new(calm());
    let (status, body) = post(&keeper, "/api/v1/map", JSON, r#"{"topc":"a"}"#).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(body.contains("topc") && body.contains("topic"), "{body}");
    let (status, body) = post(&keeper, "/api/v1/map/x/release", JSON, "{}").await;
    assert!(status == StatusCode::NOT_FOUND && body.contains("no claim"), "{body}");
}

#[tokio::test]
async fn the_page_shows_both_clocks_and_escapes_what_devices_send() {
    let page = get(&FakeKeeper::new(calm()), "/probes").await;
    for words in ["Two topics are not mapped.", "Last message", "Last reading accepted", "says it is offline"]
    {
        assert!(page.contains(words), "{words}");
    }
    assert!(page.contains("rack/n9/&lt;b&gt;") && !page.contains("<b>}"), "a topic is text");
    assert!(page.contains("/probes/claim?topic=rack%2Fn9%2F%3Cb%3E"));
    assert!(page.contains("say nothing about air or water"));
}

#[tokio::test]
async fn the_form_tries_before_it_saves() {
    let keeper = FakeKeeper::new(calm());
    let fields = "topic=rack%2Fn9%2Fs&says=reading&vessel=V2&quantity=temperature&format=words&words=ON%3D1%2C+OFF%3D0&scale=0.5&mark=";
    let (status, page) = post(&keeper, "/probes/claim", FORM, &format!("{fields}&do=try")).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("would read 26.87 °C") && page.contains("Nothing is saved yet"), "{page}");
    assert!(page.contains("value=\"rack/n9/s\""), "what was entered is kept");
    let (status, _) = post(&keeper, "/probes/claim", FORM, &format!("{fields}&do=save&by=Mara")).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let told = keeper.told.lock().unwrap().pop().unwrap();
    assert!(told.contains(r#""words":{"OFF":0.0,"ON":1.0}"#) && told.contains(r#""scale":0.5"#), "{told}");
}

#[tokio::test]
async fn the_form_names_the_field_that_will_not_do() {
    let keeper = FakeKeeper::new(calm());
    for (fields, words) in [
        ("topic=a&quantity=temperature&do=save", "name the vessel"),
        ("topic=a&scale=much&do=try", "is no number"),
        ("topic=a&words=ON&do=try", "write them as ON=1, OFF=0"),
        ("topic=a&unit=R&do=try", "known units are"),
    ] {
        let (status, page) = post(&keeper, "/probes/claim", FORM, fields).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{fields}");
        assert!(page.contains(words) && page.contains("aria-invalid=\"true\""), "{fields}: {page}");
    }
}

#[tokio::test]
async fn a_comparison_is_made_shown_and_withdrawn() {
    let keeper = FakeKeeper::new(calm());
    let page = get(&keeper, "/probes").await;
    assert!(
        page.contains("reads 27.1\u{2009}°C, taken as 26.8\u{2009}°C: \u{2212}0.3\u{2009}°C since"),
        "{page}"
    );
    assert!(
        page.contains("glass thermometer &lt;3&gt; 26.1\u{2009}°C") && page.contains("This was a mistake")
    );
    assert!(!page.contains("compare?probe=TU2/air-flow"), "only thermometers are compared");
    let form = get(&keeper, "/probes/compare?probe=V1/temperature").await;
    assert!(
        form.contains("<option value=\"V1/temperature\" selected>")
            && form.contains("pull the plug of a heater"),
        "{form}"
    );

    let fields = "probe=V1%2Ftemperature&reference=26%2C1&against=glass+3&at=2026-11-25T10%3A00&read=&since=&accuracy=";
    let (status, _) = post(&keeper, "/probes/compare", FORM, &format!("{fields}&by=Mara")).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let (status, _) = post(&keeper, "/probes/comparisons/1/withdraw", FORM, "by=Mara").await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let sent = r#"{"probe":"V1/temperature","reference":26.1,"against":"glass 3","read":26.4,"by":"Mara"}"#;
    let (status, _) = post(&keeper, "/api/v1/comparisons", JSON, sent).await;
    assert_eq!(status, StatusCode::CREATED);
    let (status, _) = post(&keeper, "/api/v1/comparisons/1/withdraw", JSON, "{}").await;
    assert_eq!(status, StatusCode::NO_CONTENT);
    let told = keeper.told.lock().unwrap().clone();
    let done: Vec<&String> = told.iter().filter(|t| *t != "probes").collect();
    assert_eq!(
        done,
        [
            "compare V1/temperature 26.1 glass 3 None None by Mara",
            "withdraw comparison 1 by Mara",
            "compare V1/temperature 26.1 glass 3 Some(26.4) None by Mara",
            "withdraw comparison 1 by someone at the page",
        ]
    );
    let all: Value = serde_json::from_str(&get(&keeper, "/api/v1/comparisons").await).unwrap();
    assert_eq!(
        (&all[0]["number"], &all[0]["offset"], &all[0]["reference"]),
        (&json!(1), &json!(-0.3), &json!(26.1))
    );
}

#[tokio::test]
async fn a_comparison_that_cannot_be_names_its_field() {
    let keeper = FakeKeeper::new(calm());
    let base = "probe=V1%2Ftemperature&against=glass+3&at=2026-11-25T10%3A00";
    for (more, words) in [
        ("&reference=warm", "is not a number; write one such as 26.4"),
        ("&reference=19", "6.8 K off is broken"),
        ("&reference=26&against=", "fill it in"),
        ("&reference=26&hush=1", "no such field"),
    ] {
        let (status, page) = post(&keeper, "/probes/compare", FORM, &format!("{base}{more}")).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{more}");
        assert!(page.contains(words), "{more}: {page}");
    }
    let (status, body) = post(&keeper, "/api/v1/comparisons", JSON, r#"{"probe":"V1/temperature"}"#).await;
    assert!(status == StatusCode::UNPROCESSABLE_ENTITY && body.contains("reference"), "{body}");
}
