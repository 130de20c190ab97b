//! Chromium, driven through its own driver.

use crate::process::{Child, free_port};
use serde_json::{Value, json};
use std::path::Path;
use tempfile::TempDir;
use thirtyfour::CapabilitiesHelper;
use thirtyfour::prelude::*;
use tokio::process::Command;

/// A size of screen and the colours asked for.
#[derive(Debug, Clone, Copy)]
pub struct Screen {
    /// CSS pixels.
    pub width: u32,
    /// CSS pixels.
    pub height: u32,
    /// Device pixels for each CSS pixel.
    pub ratio: u32,
    /// Dark colours wanted.
    pub dark: bool,
}

impl Screen {
    /// A phone at night.
    pub const PHONE_DARK: Self = Self { width: 390, height: 844, ratio: 2, dark: true };
    /// A phone by day.
    pub const PHONE_LIGHT: Self = Self { width: 390, height: 844, ratio: 2, dark: false };
    /// A tablet by day.
    pub const TABLET_LIGHT: Self = Self { width: 768, height: 1024, ratio: 1, dark: false };
    /// A desk, 1280 × 800.
    pub const DESK: Self = Self { width: 1280, height: 800, ratio: 1, dark: false };
    /// A desk by day.
    pub const DESK_LIGHT: Self = Self { width: 1280, height: 900, ratio: 1, dark: false };
}

impl Screen {
    /// The same in dark colours, or in light ones.
    pub fn dark(self, dark: bool) -> Self {
        Self { dark, ..self }
    }
}

/// A headless browser of the test's own.
pub struct Browser {
    /// The session.
    pub driver: WebDriver,
    _chromedriver: Child,
    _profile: TempDir,
}

impl Browser {
    /// Starts driver and browser.
    pub async fn start() -> Self {
        let port = free_port();
        let mut command = Command::new("chromedriver");
        command.arg(format!("--port={port}"));
        let mut chromedriver = Child::start("chromedriver", &mut command);
        chromedriver.line_with("started successfully").await;
        let profile = tempfile::tempdir().unwrap();
        let mut wanted = DesiredCapabilities::chrome();
        for flag in [
            "headless=new",
            "no-sandbox",
            "disable-gpu",
            "disable-quic",
            "no-first-run",
            "disable-background-networking",
            "disable-component-update",
            "disable-sync",
        ] {
            wanted.add_arg(&format!("--{flag}")).unwrap();
        }
        wanted.add_arg(&format!("--user-data-dir={}", profile.path().display())).unwrap();
        CapabilitiesHelper::set(
            &mut wanted,
            "goog:loggingPrefs",
            json!({"browser": "ALL", "performance": "ALL"}),
        )
        .unwrap();
        let driver = WebDriver::new(&format!("http://127.0.0.1:{port}"), wanted).await.unwrap();
        Self { driver, _chromedriver: chromedriver, _profile: profile }
    }

    /// Takes on a screen.
    pub async fn screen(&self, s: Screen) {
        let tools = self.driver.cdp();
        let metrics = json!({
            "width": s.width, "height": s.height, "deviceScaleFactor": s.ratio, "mobile": s.width < 600
        });
        tools.send_raw("Emulation.setDeviceMetricsOverride", metrics).await.unwrap();
        let colours = json!({"features": [
            {"name": "prefers-color-scheme", "value": if s.dark { "dark" } else { "light" }},
            {"name": "prefers-reduced-motion", "value": "reduce"}
        ]});
        tools.send_raw("Emulation.setEmulatedMedia", colours).await.unwrap();
    }

    /// What does not fit this screen: width that scrolls sideways, and controls under 44 px; none is good.
    ///
    /// # Panics
    /// When the page cannot be asked.
    pub async fn misfits(&self) -> Vec<String> {
        let script = "const out = [...document.querySelectorAll('button, nav a, a.go, select, summary, textarea, input:not([type=hidden])')]\
            .filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && r.height < 44; })\
            .map(e => `${e.tagName} ${e.textContent.trim().slice(0, 40)} is under 44 px`);\
            const wide = document.documentElement.scrollWidth;\
            if (wide > innerWidth) out.push(`${wide} px wide on ${innerWidth}`);\
            return out;";
        let said = self.driver.execute(script, vec![]).await.unwrap();
        serde_json::from_value(said.json().clone()).unwrap()
    }

    /// Everything the console and the network have reported since the last call: (console, addresses asked for).
    pub async fn reports(&self) -> (Vec<String>, Vec<String>) {
        let console = self.log("browser").await.iter().map(|e| e["message"].to_string()).collect();
        let mut asked = Vec::new();
        for entry in self.log("performance").await {
            let message: Value = serde_json::from_str(entry["message"].as_str().unwrap_or("{}")).unwrap();
            if message["message"]["method"] == "Network.requestWillBeSent" {
                asked.push(
                    message["message"]["params"]["request"]["url"].as_str().unwrap_or_default().to_owned(),
                );
            }
        }
        (console, asked)
    }

    async fn log(&self, kind: &str) -> Vec<Value> {
        let client = reqwest::Client::builder().no_proxy().build().unwrap();
        let url = format!(
            "{}session/{}/se/log",
            self.driver.handle().server_url(),
            self.driver.handle().session_id()
        );
        let answer = client.post(url).json(&json!({"type": kind})).send().await.unwrap();
        let body: Value = answer.json().await.unwrap();
        body["value"].as_array().cloned().unwrap_or_default()
    }

    /// Saves a picture under target/, and under tests/screens when `HATCHWARDEN_KEEP_SCREENS` is set.
    pub async fn picture(&self, name: &str) -> Vec<u8> {
        let png = self.driver.screenshot_as_png().await.unwrap();
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut folders = vec![root.join("../target/screens")];
        // Only the picture of the README is kept with the project.
        if name == "night" && std::env::var_os("HATCHWARDEN_KEEP_SCREENS").is_some() {
            folders.push(root.join("screens"));
        }
        for folder in folders {
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(folder.join(format!("{name}.png")), &png).unwrap();
        }
        png
    }

    /// Ends the session.
    pub async fn close(self) {
        self.driver.quit().await.unwrap();
    }
}
