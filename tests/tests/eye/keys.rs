//! By keys alone: everything can be reached, in the order of the page, and is seen to be; an alarm is taken on, an entry written.

use crate::hands::Hands;
use crate::pages;
use serde_json::{Value, json};
use testkit::Screen;
use thirtyfour::prelude::*;

const FOCUS: &str = include_str!("focus.js");
/// More than any page has.
const MOST_STOPS: usize = 250;

pub(crate) async fn check(hands: &mut Hands<'_>) {
    hands.screen(Screen::DESK).await;
    let held = pages::held(hands.api).await;
    let clutch = pages::counted(hands.api).await;
    for dark in [false, true] {
        hands.screen(Screen::DESK.dark(dark)).await;
        reach(hands, "").await;
    }
    hands.screen(Screen::PHONE_LIGHT).await;
    for path in [format!("clutches/{clutch}"), format!("strip?clutch={held}"), "vessels".to_owned()] {
        reach(hands, &path).await;
    }
    skip(hands).await;
    acknowledge(hands).await;
    record(hands, &clutch).await;
}

async fn focus(hands: &Hands<'_>) -> Value {
    hands.ask(FOCUS, vec![]).await
}

/// Tab from the top of a page to its end: every control once, in order, with a ring that stands out, not hidden by the foot.
async fn reach(hands: &mut Hands<'_>, path: &str) {
    hands.open(path).await;
    // What comes anew now and then must not be drawn between two keys of this look: the order is what is looked at.
    let there = "[...document.querySelectorAll(\"a[href], button, summary, select, textarea, input:not([type=hidden])\")]\
        .filter(e => e.checkVisibility({visibilityProperty: true})).length";
    let (mut last, mut seen, mut faults) = (-1, 0, Vec::new());
    for _ in 0..MOST_STOPS {
        hands.key(Key::Tab).await;
        let at = focus(hands).await;
        let Some(place) = at["place"].as_i64() else {
            // A fresh window may take the first key for its own; at the end the focus leaves the page.
            if seen == 0 { continue } else { break }
        };
        if place < last {
            break;
        }
        // A field for a time has a stop for each of its parts.
        if place == last {
            continue;
        }
        seen += 1;
        last = place;
        let does = at["does"].as_str().unwrap();
        if at["ring"].as_f64() < Some(2.0) || at["contrast"].as_f64() < Some(3.0) {
            faults.push(format!("the focus does not show on {does}: {at}"));
        }
        if at["hidden"] == json!(true) {
            faults.push(format!("the focus is out of sight on {does}"));
        }
    }
    let all = hands.number(there).await as i64;
    if seen < all {
        faults.push(format!("Tab reaches {seen} of {all}"));
    }
    hands.wrong(&format!("/{path} by keys"), faults);
}

/// The first stop leads past everything to the other pages.
async fn skip(hands: &mut Hands<'_>) {
    hands.open("vessels").await;
    hands.key(Key::Tab).await;
    let first = focus(hands).await;
    assert!(first["does"].as_str().unwrap().contains("#pages") && first["hidden"] == json!(false), "{first}");
    hands.key(Key::Enter).await;
    hands.key(Key::Tab).await;
    let next = focus(hands).await;
    assert!(next["does"].as_str().unwrap().ends_with("Night"), "{next}");
    hands.key(Key::Enter).await;
    hands.until("the opening page", "location.pathname === '/'").await;
}

/// Tab until the focus is on what the selector finds.
async fn go_to(hands: &Hands<'_>, css: &str) {
    for _ in 0..MOST_STOPS {
        hands.key(Key::Tab).await;
        if hands.ask("return document.activeElement.matches(arguments[0]);", vec![json!(css)]).await
            == json!(true)
        {
            return;
        }
    }
    panic!("Tab never comes to {css}");
}

async fn acknowledge(hands: &mut Hands<'_>) {
    hands.open("").await;
    hands.appears("#alarms .take button").await;
    go_to(hands, "#alarms .take button").await;
    let id = hands.ask("return document.activeElement.form.dataset.acknowledge;", vec![]).await;
    hands.key(Key::Enter).await;
    let id = id.as_str().unwrap();
    let taken = |a: &Value| match a.as_array()?.iter().find(|a| a["id"] == *id) {
        Some(a) => (a["state"] != "unacknowledged" && a["acknowledged"].is_array()).then_some(()),
        None => Some(()),
    };
    hands.api.until("taken on by a key", "api/v1/alarms", taken).await;
    // The focus stays where it was, so that the next key goes on from there.
    let kept = hands.ask("return document.activeElement.closest('#alarms') !== null;", vec![]).await;
    assert_eq!(kept, json!(true), "the focus is lost");
}

async fn record(hands: &mut Hands<'_>, clutch: &str) {
    hands.open(&format!("clutches/{clutch}")).await;
    go_to(hands, "#do-loss summary").await;
    hands.key(Key::Enter).await;
    go_to(hands, "#loss-count").await;
    hands.key('1').await;
    go_to(hands, "#loss-reason").await;
    let words = "white, seen by keys alone";
    hands.browser.driver.action_chain().send_keys(words).perform().await.unwrap();
    go_to(hands, "#do-loss button").await;
    hands.key(Key::Enter).await;
    hands
        .until(
            "the entry",
            &format!("document.querySelector('#h-events')?.parentElement.textContent.includes('{words}')"),
        )
        .await;
}
