//! A browser of few words, and what it has found wrong so far: all of it is told at the end.

use serde_json::{Value, json};
use std::time::Duration;
use testkit::{Api, Browser, PATIENCE, Screen};
use thirtyfour::prelude::*;

/// The browser in use.
pub(crate) struct Hands<'a> {
    pub(crate) browser: &'a Browser,
    pub(crate) api: &'a Api,
    /// What was found wrong.
    pub(crate) faults: Vec<String>,
    /// Where pages come from; a request for anything else has left home.
    pub(crate) homes: Vec<String>,
}

impl<'a> Hands<'a> {
    pub(crate) fn new(browser: &'a Browser, api: &'a Api) -> Self {
        Self { browser, api, faults: vec![], homes: vec![api.address.clone()] }
    }

    /// Opens a page of the demo.
    pub(crate) async fn open(&self, path: &str) {
        self.browser.driver.goto(format!("{}{path}", self.api.address)).await.unwrap();
    }

    /// Runs a script in the page.
    pub(crate) async fn ask(&self, script: &str, arguments: Vec<Value>) -> Value {
        self.browser.driver.execute(script, arguments).await.unwrap().json().clone()
    }

    /// A number that a script gives.
    pub(crate) async fn number(&self, script: &str) -> f64 {
        self.ask(&format!("return {script};"), vec![]).await.as_f64().unwrap()
    }

    /// Waits for what the selector finds.
    pub(crate) async fn appears(&self, css: &str) -> WebElement {
        let query = self.browser.driver.query(By::Css(css)).wait(PATIENCE, Duration::from_millis(50));
        query.first().await.unwrap_or_else(|e| panic!("{css}: {e}"))
    }

    /// Waits for an element that this XPath finds: what it says is asked in the same breath, so a page that is being left
    /// does no harm.
    pub(crate) async fn says(&self, xpath: &str) {
        let query = self.browser.driver.query(By::XPath(xpath)).wait(PATIENCE, Duration::from_millis(50));
        query.first().await.unwrap_or_else(|e| panic!("{xpath}: {e}"));
    }

    /// Waits until a script says yes.
    pub(crate) async fn until(&self, what: &str, script: &str) {
        // The pages' own frames are what is waited for, through the driver.
        let ask = format!(
            "const done = arguments[arguments.length - 1];\
             const look = () => ({script}) ? done(true) : requestAnimationFrame(look); look();"
        );
        let asked = tokio::time::timeout(PATIENCE, self.browser.driver.execute_async(&ask, vec![])).await;
        assert!(matches!(asked, Ok(Ok(_))), "never came true: {what}");
    }

    /// Takes a word down for each thing that is wrong.
    pub(crate) fn wrong(&mut self, place: &str, found: impl IntoIterator<Item = String>) {
        self.faults.extend(found.into_iter().map(|f| format!("{place}: {f}")));
    }

    pub(crate) async fn screen(&self, screen: Screen) {
        self.browser.screen(screen).await;
    }

    /// Presses a key.
    pub(crate) async fn key(&self, key: impl Into<char>) {
        let key: char = key.into();
        self.browser.driver.action_chain().key_down(key).key_up(key).perform().await.unwrap();
    }

    /// A finger on the glass at a point, and off again.
    pub(crate) async fn touch(&self, x: f64, y: f64) {
        let tools = self.browser.driver.cdp();
        let down = json!({"type": "touchStart", "touchPoints": [{"x": x, "y": y}]});
        tools.send_raw("Input.dispatchTouchEvent", down).await.unwrap();
        tools
            .send_raw("Input.dispatchTouchEvent", json!({"type": "touchEnd", "touchPoints": []}))
            .await
            .unwrap();
    }

    /// A fault of the simulated room.
    pub(crate) async fn breaks(&self, key: &str, broken: bool) {
        let (status, said) =
            self.api.post(&format!("api/v1/simulated/faults/{key}"), &json!({"broken": broken})).await;
        assert_eq!(status, 204, "{said}");
    }

    /// No word on the console, and no request that has left this machine.
    pub(crate) async fn quiet(&mut self) {
        let (console, asked) = self.browser.reports().await;
        // Chromium tells of pages that are answered 404 and 401, which are asked for on purpose.
        let told = ["404 (Not Found)", "401 (Unauthorized)", "422 (Unprocessable"];
        self.wrong("console", console.into_iter().filter(|line| !told.iter().any(|t| line.contains(t))));
        assert!(asked.len() > 100, "the requests were heard: {}", asked.len());
        let own = ["data:", "about:", "chrome:", "chrome-untrusted:"];
        let homes = self.homes.clone();
        let home = |url: &String| {
            own.iter().any(|s| url.starts_with(s)) || homes.iter().any(|h| url.starts_with(h.as_str()))
        };
        self.wrong("left home", asked.into_iter().filter(|url| !home(url)));
    }
}
