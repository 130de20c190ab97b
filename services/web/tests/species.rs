//! Species entries in the API and on the page.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use common::{FakeKeeper, calm};
use http_body_util::BodyExt;
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
const DAYS: &str = "name=My+fish&key=my-fish&mouthbrooder=true&hatch_days=5%2C5&hatch_celsius=26&free_swimming_days=&\
    free_swimming_celsius=&release_days=&release_celsius=&spread_percent=&base_low=10&base_likely=14&base_high=18&how=observed";

#[tokio::test]
async fn the_page_tells_where_each_entry_comes_from() {
    let page = get(&FakeKeeper::new(calm()), "/species").await;
    for words in [
        "Four species entries.",
        "Of this room",
        "Mouthbrooders",
        "Other fish",
        "Written on the page",
        "a &lt;book&gt;",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert!(page.contains("hatch 65\u{2009}°C·d over 14.0\u{2009}°C"));
    assert!(
        page.contains("action=\"/species/my-fish/withdraw\"")
            && !page.contains("/species/danio-rerio/withdraw")
    );
    let form = get(&FakeKeeper::new(calm()), "/clutches").await;
    let at = |key: &str| form.find(&format!("<option value=\"{key}\"")).unwrap();
    assert!(
        at("my-fish") < at("labidochromis-caeruleus") && at("labidochromis-caeruleus") < at("danio-rerio")
    );
}

#[tokio::test]
async fn an_entry_is_written_by_days_or_by_text_and_withdrawn() {
    let keeper = FakeKeeper::new(calm());
    let (status, page) = post(&keeper, "/species", FORM, &format!("{DAYS}&source=my+notes&by=Mara")).await;
    assert_eq!(status, StatusCode::SEE_OTHER, "{page}");
    let (status, _) = post(&keeper, "/species", FORM, "text=%5Bspecies.x%5D&by=Mara").await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let (status, _) = post(&keeper, "/api/v1/species", JSON, r#"{"text":"[species.y]"}"#).await;
    assert_eq!(status, StatusCode::CREATED);
    let (status, _) = post(&keeper, "/species/my-fish/withdraw", FORM, "by=Mara").await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let (status, _) = post(&keeper, "/api/v1/species/other/withdraw", JSON, "{}").await;
    assert_eq!(status, StatusCode::NOT_FOUND);
    let told = keeper.told.lock().unwrap().clone();
    assert!(
        told[0].contains("stages: [PlainStage { stage: Hatch, days: 5.5, celsius: 26.0 }]"),
        "{}",
        told[0]
    );
    assert_eq!(told[1], "enter species Text(\"[species.x]\") by Mara");
    assert_eq!(told[2], "enter species Text(\"[species.y]\") by someone at the page");
    assert_eq!(told[3], "withdraw species my-fish by Mara");
}

#[tokio::test]
async fn a_field_that_will_not_do_is_named_and_what_was_entered_is_kept() {
    let keeper = FakeKeeper::new(calm());
    for (more, words) in [
        ("&source=", "fill it in"),
        ("&source=notes&hatch_celsius=", "fill it in"),
        ("&source=notes&hatch_days=five", "is not a number"),
        ("&source=notes&colour=red", "no such field"),
    ] {
        let (status, page) = post(&keeper, "/species", FORM, &format!("{DAYS}{more}")).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{more}");
        assert!(page.contains(words) && page.contains("value=\"my-fish\""), "{more}: {page}");
    }
    let (status, body) = post(&keeper, "/api/v1/species", JSON, r#"{"txt":"x"}"#).await;
    assert!(status == StatusCode::UNPROCESSABLE_ENTITY && body.contains("txt"), "{body}");
}
