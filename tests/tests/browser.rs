//! The demo in a real browser, phone and desktop: the alarm appears by itself, acknowledging works, nothing leaves loopback.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use std::time::Duration;
use testkit::{Browser, Hatchwarden, PATIENCE, Screen};
use thirtyfour::prelude::*;

async fn text_of(driver: &WebDriver, css: &str) -> String {
    // A fragment may be replaced between finding and reading it: then it is found again.
    for _ in 0..20 {
        let found = driver.query(By::Css(css)).wait(2 * PATIENCE, Duration::from_millis(100)).first().await;
        if let Ok(text) = found.unwrap_or_else(|e| panic!("{css}: {e}")).text().await {
            return text;
        }
    }
    panic!("{css} is replaced faster than it can be read");
}

async fn press(driver: &WebDriver, css: &str) {
    for _ in 0..20 {
        let button =
            driver.query(By::Css(css)).wait(PATIENCE, Duration::from_millis(100)).first().await.unwrap();
        if button.scroll_into_view().await.is_ok() && button.click().await.is_ok() {
            return;
        }
    }
    panic!("{css} is replaced faster than it can be pressed");
}

async fn number(driver: &WebDriver, script: &str) -> f64 {
    driver.execute(format!("return {script};"), vec![]).await.unwrap().json().as_f64().unwrap()
}

async fn fits(browser: &Browser, what: &str) {
    let driver = &browser.driver;
    let wide = number(driver, "document.documentElement.scrollWidth").await;
    let screen = number(driver, "window.innerWidth").await;
    assert!(wide <= screen, "{what} scrolls sideways: {wide} > {screen}");
    let small = number(
        driver,
        "[...document.querySelectorAll('button, nav a, select, summary, input:not([type=hidden])')]\
         .filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && r.height < 44; }).length",
    )
    .await;
    assert_eq!(small, 0.0, "{what} has targets under 44 px");
}

/// Where, and what the picture is called.
const PAGES: [(&str, &str); 15] = [
    ("", "night"),
    ("clutches", "clutches"),
    ("clutches/C02", "clutch"),
    ("clutches/C11/what-if?celsius=25&life=rest", "what-if"),
    ("vessels", "vessels"),
    ("vessels/V1?hours=168", "vessel"),
    ("mothers", "mothers"),
    ("mothers/lab-01", "mother"),
    ("strip", "strip"),
    ("work", "work"),
    ("night", "review"),
    ("species", "species"),
    ("probes", "probes"),
    ("probes/compare?probe=V1%2Ftemperature", "compare"),
    ("log", "log"),
];

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_shows_both_alarms_without_reload_and_can_be_acknowledged() {
    let mut demo = Hatchwarden::demo(&["--bench", "--listen", "127.0.0.1:0", "--fault-after", "20"]).await;
    let browser = Browser::start().await;
    let driver = &browser.driver;
    browser.screen(Screen::PHONE_DARK).await;
    driver.goto(&demo.api.address).await.unwrap();
    driver.execute("window.loadedOnce = true;", vec![]).await.unwrap();
    demo.child.line_with("The room lives").await;
    let calm = demo
        .api
        .until("four clutches with dates", "api/v1/room", |r| {
            let clutches = r["clutches"].as_array()?;
            let dated = clutches.iter().all(|c| c["hatch"].is_object() && c["free_swimming"].is_object());
            (clutches.len() == 4 && dated && r["progress"].is_null()).then(|| r.clone())
        })
        .await;
    assert_eq!(calm["tumblers"].as_array().unwrap().len(), 4);
    assert_eq!(calm["tanks"].as_array().unwrap().len(), 2);

    // The alarm comes onto the open page by itself.
    let air = "#alarm-TU2-air-stopped";
    let said = text_of(driver, air).await;
    assert!(said.contains("TU2") && said.contains("C11") && said.contains("burtoni"), "{said}");
    let headline = text_of(driver, "h1").await;
    assert!(headline.contains("TU2") && headline.contains("still"), "{headline}");
    let kept = driver.execute("return window.loadedOnce === true;", vec![]).await.unwrap();
    assert_eq!(kept.json(), &serde_json::Value::Bool(true), "the page was loaded again");

    let cold = "#alarm-V2-too-cold";
    let said = text_of(driver, cold).await;
    assert!(said.contains("V2") && said.contains("C09"), "{said}");
    fits(&browser, "the opening page on a phone").await;
    browser.picture("alarm-phone-dark").await;
    browser.screen(Screen::DESK_LIGHT).await;
    let png = browser.picture("night").await;
    assert!(png.len() < 200_000, "the picture for the README has {} bytes", png.len());
    browser.screen(Screen::PHONE_DARK).await;

    // One touch takes it on.
    press(driver, &format!("{air} button")).await;
    demo.api
        .until("acknowledged", "api/v1/alarms", |a| {
            let found = a.as_array()?.iter().find(|a| a["id"] == "TU2.air-stopped")?;
            (found["state"] == "acknowledged").then_some(())
        })
        .await;

    for (screen, name) in [(Screen::PHONE_LIGHT, "phone-light"), (Screen::DESK_LIGHT, "desk-light")] {
        browser.screen(screen).await;
        for (path, page) in PAGES {
            driver.goto(&format!("{}{path}", demo.api.address)).await.unwrap();
            fits(&browser, &format!("{page} on {name}")).await;
            browser.picture(&format!("{page}-{name}")).await;
        }
    }
    let (console, asked) = browser.reports().await;
    assert!(console.is_empty(), "the console says: {console:?}");
    assert!(!asked.is_empty());
    for url in asked {
        // The browser's own pages come from the browser itself.
        let inside =
            ["data:", "about:", "chrome:", "chrome-untrusted:"].iter().any(|scheme| url.starts_with(scheme));
        let home = inside || url.starts_with(&demo.api.address);
        assert!(home, "a request left loopback: {url}");
    }
    browser.close().await;
    let (code, said) = demo.child.stop().await;
    assert_eq!(code, Some(0), "{said}");
}

/// What the page shows of the simulated room, from the API.
async fn simulated(demo: &Hatchwarden, what: &str, question: impl Fn(&serde_json::Value) -> bool) {
    demo.api.until(what, "api/v1/simulated", |s| question(s).then_some(())).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_newcomer_breaks_the_air_of_a_tumbler_sees_the_alarm_and_mends_it() {
    // The story's own faults stay away.
    let mut demo = Hatchwarden::demo(&["--bench", "--listen", "127.0.0.1:0", "--fault-after", "86400"]).await;
    let browser = Browser::start().await;
    let driver = &browser.driver;
    browser.screen(Screen::PHONE_LIGHT).await;
    demo.child.line_with("The room lives").await;
    driver.goto(&demo.api.address).await.unwrap();
    assert!(text_of(driver, "#simulated-line").await.contains("This room is simulated."));
    let air = "#alarm-TU2-air-stopped";
    assert!(!demo.api.page("").await.contains(&air[1..]), "the room is calm");

    press(driver, "#simulated-line a").await;
    let button = "#thing-air-tu2 button";
    assert_eq!(text_of(driver, button).await, "Stop the air of TU2");
    press(driver, button).await;
    assert!(text_of(driver, "#thing-air-tu2 .since").await.starts_with("Broken since"));
    assert_eq!(text_of(driver, button).await, "Give TU2 its air back");
    fits(&browser, "the page with something broken").await;
    let said = text_of(driver, &format!("{air}:not(.gone)")).await;
    assert!(said.contains("TU2") && said.contains("C11"), "{said}");
    browser.picture("broken-phone-light").await;

    press(driver, button).await;
    simulated(&demo, "the air is back", |s| s["things"][0]["broken"] == false).await;
    // The alarm waits until the air has flowed for a while: in a hurry, that is soon.
    press(driver, "#thing-pace button").await;
    simulated(&demo, "time runs fast", |s| s["pace"] == 180.0).await;
    let said = text_of(driver, &format!("{air}.gone")).await;
    assert!(said.contains("gone"), "{said}");
    assert_eq!(text_of(driver, "#thing-pace button").await, "Back to real time");
    press(driver, "#thing-pace button").await;
    simulated(&demo, "real time again", |s| s["pace"] == 1.0).await;
    assert_eq!(text_of(driver, button).await, "Stop the air of TU2");
    let alarms = demo.api.get("api/v1/alarms").await;
    assert_eq!(alarms.as_array().unwrap().len(), 1, "the hurry raised no other alarm: {alarms}");
    let (console, _) = browser.reports().await;
    assert!(console.is_empty(), "the console says: {console:?}");
    browser.close().await;
    let (code, said) = demo.child.stop().await;
    assert_eq!(code, Some(0), "{said}");
}
