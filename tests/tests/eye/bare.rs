//! Without script: every page reads, and what matters at night can be done by its forms.

use crate::hands::Hands;
use crate::{pages, still};
use serde_json::{Value, json};
use testkit::Screen;

pub(crate) async fn check(hands: &mut Hands<'_>, all: &[String]) {
    hands.screen(Screen::PHONE_DARK).await;
    scripts(hands, false).await;
    hands.open("").await;
    let sound = hands.ask("return document.getElementById('sound').hidden;", vec![]).await;
    assert_eq!(sound, json!(true), "the script runs still");
    for path in all {
        hands.open(path).await;
        let main = hands.appears("main").await.text().await.unwrap();
        let heading = hands.appears("h1").await.text().await.unwrap();
        if main.len() < 40 || heading.is_empty() {
            hands.wrong(&format!("/{path} without script"), [main]);
        }
    }
    acknowledge(hands).await;
    record(hands).await;
    strip(hands).await;
    scripts(hands, true).await;
}

/// The page's own script alone is stopped: the driver still can look.
async fn scripts(hands: &Hands<'_>, run: bool) {
    let off = json!({"value": !run});
    hands.browser.driver.cdp().send_raw("Emulation.setScriptExecutionDisabled", off).await.unwrap();
}

async fn press(hands: &Hands<'_>, css: &str) {
    let button = hands.appears(css).await;
    button.scroll_into_view().await.unwrap();
    button.click().await.unwrap_or_else(|e| panic!("{css}: {e}"));
}

async fn write(hands: &Hands<'_>, css: &str, words: &str) {
    let field = hands.appears(css).await;
    field.clear().await.unwrap();
    field.send_keys(words).await.unwrap_or_else(|e| panic!("{css}: {e}"));
}

/// An alarm that nobody has taken on: the air is given back and stopped again where there is none.
async fn untaken(hands: &Hands<'_>) {
    let untaken = |a: &Value| a["acknowledged"].is_null();
    let all = hands.api.get("api/v1/alarms").await;
    if all.as_array().unwrap().iter().any(untaken) {
        return;
    }
    let key = still::breakable(hands).await;
    hands.breaks(&key, false).await;
    still::alarms(hands, "the air is back", |a| a.iter().all(|a| a["standing"] == false)).await;
    hands.breaks(&key, true).await;
    still::alarms(hands, "an alarm that is untaken", |a| a.iter().any(untaken)).await;
}

async fn acknowledge(hands: &mut Hands<'_>) {
    untaken(hands).await;
    hands.open("").await;
    let form = hands.appears("#alarms form.take").await;
    let id = form.attr("data-acknowledge").await.unwrap().unwrap();
    press(hands, "#alarms form.take button").await;
    let taken = |a: &Value| match a.as_array()?.iter().find(|a| a["id"] == *id) {
        Some(a) => a["acknowledged"].is_array().then_some(()),
        None => Some(()),
    };
    hands.api.until("taken on by a form", "api/v1/alarms", taken).await;
    hands.says("//h1[not(contains(., 'did not work'))]").await;
}

async fn record(hands: &mut Hands<'_>) {
    let clutch = pages::counted(hands.api).await;
    hands.open(&format!("clutches/{clutch}")).await;
    press(hands, "#do-loss summary").await;
    write(hands, "#loss-count", "1").await;
    write(hands, "#loss-reason", "seen without script").await;
    press(hands, "#do-loss button").await;
    hands.says("//*[@id='h-events']/following-sibling::ol[contains(., 'seen without script')]").await;
}

/// The mother that was written down for it; every vessel may be taken, then the form says so and nothing is mixed.
async fn strip(hands: &mut Hands<'_>) {
    let held = pages::held(hands.api).await;
    hands.open("strip").await;
    press(hands, &format!("a.big[href='/strip?clutch={held}']")).await;
    write(hands, "#taken-alive", "21").await;
    press(hands, "form.record button").await;
    hands.says(&format!("//main[contains(., '{held} is in') and contains(., '21 alive')]")).await;
}
