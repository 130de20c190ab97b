//! A night looked back on: page, API, and the file that is mailed.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use common::{FakeKeeper, calm, reviews};
use http_body_util::BodyExt;
use serde_json::Value;
use std::sync::Arc;
use tower::ServiceExt;
use web::review::{Pictures, attached, date, document, text};
use web::{Settings, router};

async fn got(keeper: &Arc<FakeKeeper>, path: &str) -> (StatusCode, String) {
    let request = Request::get(path).header(header::HOST, "127.0.0.1:8080").body(Body::empty()).unwrap();
    let answer = router(keeper.clone(), Settings::default()).oneshot(request).await.unwrap();
    let status = answer.status();
    (status, String::from_utf8(answer.into_body().collect().await.unwrap().to_bytes().to_vec()).unwrap())
}

#[tokio::test]
async fn the_page_of_a_night_says_what_was_not_right_and_leads_to_its_neighbours() {
    let keeper = FakeKeeper::new(calm());
    let (status, page) = got(&keeper, "/night/2026-11-20").await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!(keeper.heard(), ["night 2026-11-20"]);
    for said in [
        "The night of Fri 20 to Sat 21 November 2026",
        "20:00 to 07:00, 11 h",
        "V1 and TU2 were not right. How TU3 was is not known: too little was read.",
        "href=\"/night/2026-11-19\"",
        "href=\"/night/2026-11-21\"",
        "02:17 to 02:57 (40 min)",
        "5.64 °C·d",
        "5.78 °C·d (14 nights)",
        "32 min later",
        "no probe of it was heard",
        "3 × unmapped-topic of cellar/x",
        "&lt;b&gt;Air&lt;/b&gt;",
    ] {
        assert!(page.contains(said), "{said}: {page}");
    }
    // The night of the 25th is running at 02:14 of the 26th.
    let (_, last) = got(&keeper, "/night/2026-11-24").await;
    assert!(!last.contains("href=\"/night/2026-11-25\"") && last.contains("href=\"/night/2026-11-23\""));
}

#[tokio::test]
async fn a_date_that_is_none_is_refused_with_the_cure() {
    let keeper = FakeKeeper::new(calm());
    for bad in ["yesterday", "2026-13-01", "26-11-25", "2026-11-255", "1999-01-01", "2026-11-2%C3%BC"] {
        let (status, page) = got(&keeper, &format!("/night/{bad}")).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{bad}");
        assert!(page.contains("write the date of its evening as 2026-11-25"), "{page}");
        let (status, problem) = got(&keeper, &format!("/api/v1/nights/{bad}")).await;
        let problem: Value = serde_json::from_str(&problem).unwrap();
        assert_eq!((status.as_u16(), problem["field"].as_str()), (422, Some("date")), "{problem}");
    }
    assert!(keeper.heard().is_empty());
}

#[tokio::test]
async fn the_api_has_the_figures_and_the_opening_page_leads_there() {
    let keeper = FakeKeeper::new(calm());
    let (_, night) = got(&keeper, "/api/v1/nights/last").await;
    let night: Value = serde_json::from_str(&night).unwrap();
    assert_eq!((night["date"].as_str(), night["verdict"].as_str()), (Some("2026-11-24"), Some("not-right")));
    assert_eq!(night["vessels"][0]["water"]["below"], 78 * 60_000);
    assert_eq!(night["vessels"][1]["air"]["stops"][0]["from"], "2026-11-25T01:17:00Z");
    let (_, opening) = got(&keeper, "/").await;
    assert!(opening.contains("href=\"/night\""), "{opening}");
}

/// What is not known is never drawn or called good, in none of the forms.
#[test]
fn the_file_and_the_mail_say_the_same_with_their_pictures() {
    let night = reviews::review(date("2026-11-20").unwrap());
    let (inside, mailed, plain) =
        (document(&night, Pictures::Inside), document(&night, Pictures::Attached), text(&night));
    assert_eq!((inside.matches("<svg").count(), mailed.matches("<svg").count()), (3, 0));
    let pictures = attached(&night);
    assert_eq!(pictures.len(), 3);
    for (vessel, p) in night.vessels.iter().zip(&pictures) {
        assert!(mailed.contains(&format!("cid:{}\"", p.id)), "{}", p.id);
        assert!(p.svg.starts_with("<svg xmlns=") && p.svg.contains(vessel.vessel.as_str()));
    }
    assert_eq!(pictures[1].name, "2026-11-20-TU2.svg");
    assert!(pictures[0].svg.contains("class=\"under\"") && !pictures[1].svg.contains("class=\"under\""));
    assert!(pictures[1].svg.contains("class=\"flat\"") && !pictures[2].svg.contains("class=\"flat\""));
    for form in [&inside, &mailed, &plain] {
        assert!(form.contains("TU3 (tumbler): ") && form.contains("not known"), "{form}");
        assert!(form.contains("V1 and TU2 were not right."), "{form}");
        assert!(!form.contains("All was well"), "{form}");
    }
    assert!(!inside.contains("<b>Air</b>"), "words are escaped");
}
