//! The page as it is used: all pages on phone, tablet and desk, in light and dark, by keys alone, without script, with large text, and
//! with news coming in under a thumb. One demo and one browser for all of it, since starting them takes longest.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod bare;
mod fits;
mod hands;
mod keys;
mod pages;
mod signed;
mod still;
mod weight;

use hands::Hands;
use testkit::{Axe, Browser, Hatchwarden};

#[tokio::test(flavor = "multi_thread")]
async fn the_page_serves_every_eye_and_hand() {
    let axe = Axe::installed();
    let mut demo = Hatchwarden::demo(&["--bench", "--listen", "127.0.0.1:0", "--fault-after", "86400"]).await;
    demo.child.line_with("The room lives").await;
    let browser = Browser::start().await;
    let mut hands = Hands::new(&browser, &demo.api);
    weight::check(&mut hands).await;
    still::check(&mut hands).await;
    let all = pages::all(&demo.api).await;
    fits::check(&mut hands, &all, &axe).await;
    fits::teeth(&mut hands, &axe).await;
    keys::check(&mut hands).await;
    bare::check(&mut hands, &all).await;
    signed::check(&mut hands, &axe).await;
    hands.quiet().await;
    let faults = hands.faults.clone();
    browser.close().await;
    let (code, said) = demo.child.stop().await;
    assert_eq!(code, Some(0), "{said}");
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}
