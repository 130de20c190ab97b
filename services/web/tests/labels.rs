//! The sheets of labels: what is asked for is on them, words are harmless, codes lead where the page is reached. That a foreign
//! reader reads the codes, and that sheets fit their paper, is tried by `tests/tests/labels.rs` in a browser.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use common::{FakeKeeper, calm};
use http_body_util::BodyExt;
use tower::ServiceExt;
use web::{Settings, router};

async fn asked(path: &str, host: &str, address: Option<&str>) -> (StatusCode, String) {
    let settings = Settings { hosts: vec!["fishroom.lan".into()], address: address.map(str::to_owned) };
    let request = Request::get(path).header(header::HOST, host).body(Body::empty()).unwrap();
    let answer = router(FakeKeeper::new(calm()), settings).oneshot(request).await.unwrap();
    let status = answer.status();
    let bytes = answer.into_body().collect().await.unwrap().to_bytes().to_vec();
    (status, String::from_utf8(bytes).unwrap())
}

async fn page(path: &str) -> String {
    let (status, page) = asked(path, "fishroom.lan:4871", None).await;
    assert_eq!(status, StatusCode::OK, "{path}: {page}");
    page
}

fn count(page: &str, what: &str) -> usize {
    page.matches(what).count()
}

#[tokio::test]
async fn without_a_choice_every_vessel_has_one() {
    let page = page("/labels").await;
    assert_eq!((count(&page, "<div class=\"label\">"), count(&page, "<svg class=\"code\"")), (7, 7));
    assert!(page.contains("7 labels on 1 sheet of A4"), "{page}");
    assert!(page.contains("<p class=\"name n1\">TU1</p><p>tumbler, 1\u{2009}L"), "{page}");
    assert!(!page.contains("C11"), "what lives there is not asked for");
    assert!(!page.contains("style=") && count(&page, "<script") == 1, "no style and no script in the page");
}

#[tokio::test]
async fn what_is_chosen_is_shown_as_often_as_asked() {
    let page = page("/labels?vessel=TU1&vessel=N2&vessel=TU1&sheet=3x8&copies=13&living=yes&lines=yes").await;
    assert_eq!(count(&page, "<div class=\"label\">"), 26);
    assert_eq!(count(&page, "<section class=\"sheet many cut\""), 2, "24 fit on a sheet");
    assert_eq!(count(&page, "<p class=\"lives\"><b>C11</b> 3 "), 13);
    assert_eq!(count(&page, "<p class=\"lives\"><b>C12</b> held by bur-03"), 13, "{page}");
    assert!(page.contains("value=\"TU1\" checked") && !page.contains("value=\"V1\" checked"), "{page}");
}

/// A configured address is what people keep; else the name that was asked for, which the guard has let through.
#[tokio::test]
async fn codes_lead_where_the_page_is_reached() {
    let url =
        |page: &str| page.split("<p class=\"url\">").nth(1).unwrap().split('<').next().unwrap().to_owned();
    let (_, by_name) = asked("/labels?vessel=TU1", "fishroom.lan:4871", None).await;
    assert_eq!(url(&by_name), "http://fishroom.lan:4871/vessels/TU1");
    assert!(!by_name.contains("only this machine knows"), "{by_name}");
    let (_, proxied) =
        asked("/labels?vessel=TU1", "127.0.0.1:4871", Some("https://undercroft.example.org")).await;
    assert_eq!(url(&proxied), "https://undercroft.example.org/vessels/TU1");
    let (_, here) = asked("/labels?vessel=TU1", "127.0.0.1:4871", None).await;
    assert!(
        url(&here) == "http://127.0.0.1:4871/vessels/TU1" && here.contains("only this machine knows"),
        "{here}"
    );
    let (status, _) = asked("/labels", "evil.example", None).await;
    assert_eq!(status, StatusCode::MISDIRECTED_REQUEST);
}

#[tokio::test]
async fn what_cannot_be_is_said_with_the_cure() {
    let cases = [
        ("vessel=V9", "vessel: &quot;V9&quot; will not do; there is no vessel of that name"),
        ("vessel=%3Cscript%3E", "vessel: &quot;&lt;script&gt;&quot; will not do"),
        ("sheet=7", "write 2x5 or 3x8"),
        ("vessel=V1&copies=0", "write a number from 1 to 24"),
        ("vessel=V1&copies=many", "write a number from 1 to 24"),
        ("colour=red", "&quot;colour&quot; is not asked here"),
    ];
    for (query, words) in cases {
        let (status, page) = asked(&format!("/labels?{query}"), "fishroom.lan", None).await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
        assert!(page.contains(words), "{words}\nis not in\n{page}");
    }
    let nothing = page("/labels?sheet=2x5").await;
    assert!(nothing.contains("No vessel is chosen yet."), "{nothing}");
}
