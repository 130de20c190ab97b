//! How long the page takes before anything is seen, with a year of history for 100 probes, and how long a picture of 30 days of six
//! probes takes. Beside each figure stands the same of an empty room in the same run.
//!
//! `cargo build --release --bin hatchwarden && cargo bench -p hatchwarden-tests --bench page`
#![allow(
    clippy::unwrap_used,
    missing_docs,
    reason = "a bench: a broken expectation is the failure to report"
)]

mod history;
mod room;

use clap::Parser;
use serde_json::json;
use std::process::ExitCode;
use std::time::Instant;
use testkit::{Browser, Hatchwarden, Screen};

/// Measures the page of a release build.
#[derive(Debug, Parser)]
struct Line {
    /// Loads of each page by the browser.
    #[arg(long, default_value_t = 60)]
    loads: usize,
    /// Requests of each page without one.
    #[arg(long, default_value_t = 200)]
    requests: usize,
    /// Minutes between two readings of a probe through the year.
    #[arg(long, default_value_t = 10)]
    rhythm: u32,
    /// Seconds between two readings of the six probes of the picture, through its 30 days.
    #[arg(long, default_value_t = 60)]
    quick: u32,
    /// Fails if a goal is missed.
    #[arg(long)]
    strict: bool,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

/// Milliseconds of one page.
struct Found {
    name: &'static str,
    server: Vec<f64>,
    painted: Vec<f64>,
    bytes: usize,
}

fn main() -> ExitCode {
    let line = Line::parse();
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap();
    let met = runtime.block_on(measure(&line));
    if line.strict && !met { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

async fn measure(line: &Line) -> bool {
    let empty = room::Room::new();
    let empty_service = empty.start().await;
    let browser = Browser::start().await;
    browser.screen(Screen::PHONE_LIGHT).await;
    let empty_found = pages(line, &browser, &empty_service).await;
    let full = room::Room::new();
    let (_, said) = full.start().await.child.stop().await;
    assert!(full.file.store().exists(), "{said}");
    let began = Instant::now();
    let rows = history::write(&full.file.store(), line.rhythm, line.quick);
    println!(
        "{rows} readings of {} probes written in {:.1} s",
        room::probes().len(),
        began.elapsed().as_secs_f64()
    );
    let began = Instant::now();
    let service = full.start().await;
    println!("the service has started on them after {:.1} s", began.elapsed().as_secs_f64());
    room::clutches(&service.api).await;
    let found = pages(line, &browser, &service).await;
    browser.close().await;
    report(&found, &empty_found)
}

/// The opening page, and the picture of 30 days of V1.
async fn pages(line: &Line, browser: &Browser, service: &Hatchwarden) -> Vec<Found> {
    let mut all = Vec::new();
    for (name, path) in [("opening page", ""), ("30 days of six series", "vessels/V1?hours=720")] {
        let url = format!("{}{path}", service.api.address);
        let (mut server, mut painted, mut bytes) = (Vec::new(), Vec::new(), 0);
        for _ in 0..line.requests {
            let began = Instant::now();
            bytes = service.api.page(path).await.len();
            server.push(began.elapsed().as_secs_f64() * 1000.0);
        }
        for _ in 0..line.loads {
            painted.push(painted_after(browser, &url).await);
        }
        all.push(Found { name, server, painted, bytes });
    }
    all
}

/// From the wish for a page to its first words on the screen, as the browser counts it.
async fn painted_after(browser: &Browser, url: &str) -> f64 {
    let tools = browser.driver.cdp();
    tools.send_raw("Network.setCacheDisabled", json!({"cacheDisabled": true})).await.unwrap();
    browser.driver.goto(url).await.unwrap();
    let script = "const done = arguments[arguments.length - 1];\
        const look = () => { const [p] = performance.getEntriesByName('first-contentful-paint'); p ? done(p.startTime) : requestAnimationFrame(look); };\
        look();";
    browser.driver.execute_async(script, vec![]).await.unwrap().json().as_f64().unwrap()
}

fn at(mut all: Vec<f64>, share: f64) -> f64 {
    all.sort_by(f64::total_cmp);
    all[((all.len() - 1) as f64 * share).round() as usize]
}

fn report(found: &[Found], empty: &[Found]) -> bool {
    println!(
        "\n{:<22} | {:>9} | {:>22} | {:>22} | against an empty room",
        "page", "bytes", "answered, ms (95 %)", "painted, ms (95 %)"
    );
    let mut met = true;
    for (f, e) in found.iter().zip(empty) {
        let [answered, slow] = [0.5, 0.95].map(|s| at(f.server.clone(), s));
        let [painted, late] = [0.5, 0.95].map(|s| at(f.painted.clone(), s));
        let ratio = painted / at(e.painted.clone(), 0.5);
        println!(
            "{:<22} | {:>9} | {answered:>10.1} ({slow:>8.1}) | {painted:>10.1} ({late:>8.1}) | {ratio:.2} times",
            f.name, f.bytes
        );
        // A picture is timed until it is answered; the opening page until it is seen.
        met &= if f.name == "opening page" { late < 100.0 } else { answered < 100.0 };
    }
    println!(
        "goals: opening page painted under 100 ms (95 %), 30 days of six series answered under 100 ms: {}",
        if met { "met" } else { "NOT met" }
    );
    met
}
