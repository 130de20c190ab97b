//! The work list, its notices and the calendar feed through the router.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::request::Builder;
use axum::http::{Request, StatusCode, header};
use axum::response::Response;
use common::{FakeKeeper, calendar, calm};
use http_body_util::BodyExt;
use std::sync::Arc;
use tower::ServiceExt;
use web::calendar::feed;
use web::{Settings, router};

async fn ask(keeper: &Arc<FakeKeeper>, request: Request<Body>) -> Response {
    router(keeper.clone(), Settings::default()).oneshot(request).await.unwrap()
}

fn get(path: &str) -> Builder {
    Request::get(path).header(header::HOST, "127.0.0.1:8080")
}

async fn read(keeper: &Arc<FakeKeeper>, path: &str) -> (StatusCode, String) {
    let answer = ask(keeper, get(path).body(Body::empty()).unwrap()).await;
    let status = answer.status();
    let bytes = answer.into_body().collect().await.unwrap().to_bytes();
    (status, String::from_utf8(bytes.to_vec()).unwrap())
}

/// Text between the tags.
fn words(html: &str) -> String {
    html.split('<').map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text)).collect()
}

async fn renew(keeper: &Arc<FakeKeeper>, body: &str) -> Response {
    let request = Request::post("/calendar/address")
        .header(header::HOST, "127.0.0.1:8080")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header("sec-fetch-site", "same-origin");
    ask(keeper, request.body(Body::from(body.to_owned())).unwrap()).await
}

#[tokio::test]
async fn the_list_goes_by_day_and_says_window_place_and_reason() {
    let (_, html) = read(&FakeKeeper::new(calm()), "/work").await;
    let said = words(&html);
    let mut at = 0;
    for part in [
        "Two things fall due today.",
        "Past, and nothing recorded",
        "Hatch expected: C09",
        "Still open",
        "Can be taken, or left with mother: C11",
        "Today, Thu 26 Nov",
        "Thin the air for wrigglers: C06 Pseudocrenilabrus philander, TU1From today about 07:00 on.",
        "Today between about 07:00 and 21:00, likeliest about 14:00.",
        "Tue 1 Dec",
        "By Tue 1 about 02:00.",
        "Tue 8 Dec",
        "Mother rests: C02 Pseudocrenilabrus philander, mother lab-01",
        "look up your local law",
        "From the degree-days that the eggs had.",
        "http://127.0.0.1:8080/calendar/c0ffee.ics",
        "by more than 3 h",
        "Whoever has this address can read the dates",
        "made by Ada",
    ] {
        let found = said[at..].find(part).unwrap_or_else(|| panic!("{part} is not after {at}\n{said}"));
        at += found;
    }
}

#[tokio::test]
async fn the_opening_page_has_a_quiet_line_for_each_task_of_today() {
    let (_, html) = read(&FakeKeeper::new(calm()), "/").await;
    let notices = words(html.split("id=\"notices\"").nth(1).unwrap().split("</section>").next().unwrap());
    assert!(notices.contains("C06: thin the air for wrigglers, from today about 07:00 on"), "{notices}");
    assert!(notices.contains("C06: hatch expected, today between about 07:00"), "{notices}");
    assert!(!notices.contains("can be taken"), "an open window is not told again each day: {notices}");
    assert!(!notices.contains("C09") && !html.contains("role=\"alert\">C06"), "{notices}");
    let mut many = calm();
    let task = many.work[2].clone();
    many.work = vec![task; 9];
    assert!(words(&read(&FakeKeeper::new(many), "/").await.1).contains("And three more."));
    let mut none = calm();
    none.work.clear();
    let keeper = FakeKeeper::new(none);
    assert!(!read(&keeper, "/").await.1.contains("/work\">All"));
    assert!(words(&read(&keeper, "/work").await.1).contains("Nothing falls due today."));
}

#[tokio::test]
async fn the_tasks_are_json_and_the_room_does_not_tell_the_address() {
    let keeper = FakeKeeper::new(calm());
    let tasks: serde_json::Value = serde_json::from_str(&read(&keeper, "/api/v1/work").await.1).unwrap();
    assert_eq!(tasks[3]["task"], "hatch");
    assert_eq!(tasks[3]["earliest"], "2026-11-26T06:14:00Z");
    for path in ["/api/v1/room", "/api/v1/work", "/"] {
        assert!(!read(&keeper, path).await.1.contains("c0ffee"), "{path}");
    }
}

#[tokio::test]
async fn the_feed_is_for_who_has_its_address() {
    let keeper = FakeKeeper::new(calm());
    let answer = ask(&keeper, get("/calendar/c0ffee.ics").body(Body::empty()).unwrap()).await;
    assert_eq!(answer.status(), StatusCode::OK);
    assert_eq!(answer.headers()[header::CONTENT_TYPE], "text/calendar; charset=utf-8");
    let mark = answer.headers()[header::ETAG].clone();
    let (_, text) = read(&keeper, "/calendar/c0ffee.ics").await;
    assert_eq!(text, feed(&calendar("c0ffee")));
    let again = |tag: &str| {
        let asked = get("/calendar/c0ffee.ics").header(header::IF_NONE_MATCH, tag);
        asked.body(Body::empty()).unwrap()
    };
    let strong = mark.to_str().unwrap().trim_start_matches("W/").to_owned();
    for tag in [mark.to_str().unwrap(), &strong, &format!("\"other\", {strong}"), "*"] {
        let answer = ask(&keeper, again(tag)).await;
        assert_eq!(answer.status(), StatusCode::NOT_MODIFIED, "{tag}");
        assert!(answer.into_body().collect().await.unwrap().to_bytes().is_empty());
    }
    assert_eq!(ask(&keeper, again("\"other\"")).await.status(), StatusCode::OK);
    for wrong in ["/calendar/c0ffe.ics", "/calendar/.ics", "/calendar/c0ffee", "/calendar/C0FFEE.ics"] {
        assert_eq!(read(&keeper, wrong).await.0, StatusCode::NOT_FOUND, "{wrong}");
    }
}

#[tokio::test]
async fn a_new_address_ends_the_old_one() {
    let keeper = FakeKeeper::new(calm());
    assert_eq!(renew(&keeper, "by=Ada").await.headers()[header::LOCATION], "/work#calendar");
    assert_eq!(keeper.heard(), ["new address by Ada"]);
    assert_eq!(read(&keeper, "/calendar/c0ffee.ics").await.0, StatusCode::NOT_FOUND);
    assert_eq!(read(&keeper, "/calendar/n3w.ics").await.0, StatusCode::OK);
    assert_eq!(renew(&keeper, "token=mine").await.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(keeper.heard().len(), 1, "nobody chooses a token");
}
