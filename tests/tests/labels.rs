//! Labels in a browser: a foreign reader reads every code from what is drawn, also at night, and sheets fit A4.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::json;
use std::path::Path;
use std::process::Command;
use testkit::{Browser, Hatchwarden, RoomFile, Screen};
use thirtyfour::prelude::*;

const FISH: &str = "<script>alert(1)</script> \u{1f41f} \u{5d3}\u{5d2}";

/// What zxing-cpp reads in a picture, sorted.
fn read(picture: &Path) -> Vec<String> {
    let out = Command::new("python3").args(["-c", include_str!("labels.py")]).arg(picture).output().unwrap();
    assert!(
        out.status.success(),
        "python with zxing-cpp and pillow; run tests/run once to install it: {}",
        String::from_utf8_lossy(&out.stderr)
    );
    serde_json::from_slice(&out.stdout).unwrap()
}

/// A page as paper: width and height of each sheet in points.
fn printed(address: &str) -> Vec<(f64, f64)> {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("labels.pdf");
    // By a chromium of its own: the driven one refuses to print while it takes on the size of a phone.
    let made = Command::new("chromium")
        .args(["--headless=new", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"])
        .arg(format!("--user-data-dir={}", folder.path().join("profile").display()))
        .arg(format!("--print-to-pdf={}", file.display()))
        .arg(address)
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let out = Command::new("python3").args(["-c", include_str!("sheets.py")]).arg(&file).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

async fn clutch(service: &Hatchwarden) {
    let clutch = json!({
        "id": "C06", "fish": FISH, "species": "generic-mouthbrooder", "mother": null, "vessel": "V1",
        "day0_earliest": "2026-01-10T06:00:00Z", "day0_latest": null, "day0_grade": "seen",
    });
    let (status, said) = service.api.post("api/v1/clutches", &clutch).await;
    assert_eq!(status, 201, "{said}");
}

#[tokio::test(flavor = "multi_thread")]
async fn every_code_is_read_by_a_foreign_reader_and_sheets_fit_their_paper() {
    let (room, _) = RoomFile::with_front_door("");
    let service = Hatchwarden::run(&room).await;
    clutch(&service).await;
    let browser = Browser::start().await;
    let driver = &browser.driver;
    let folder = tempfile::tempdir().unwrap();
    for (screen, sheet) in [(Screen::DESK_LIGHT, "2x5"), (Screen::PHONE_DARK, "3x8")] {
        // So high that everything is in one picture, and nothing beneath the pages' foot.
        browser.screen(Screen { height: 3_000, ..screen }).await;
        let page =
            format!("{}labels?vessel=V1&vessel=TU1&vessel=TU4&sheet={sheet}&living=yes", service.api.address);
        driver.goto(&page).await.unwrap();
        assert!(browser.misfits().await.is_empty(), "{:?}", browser.misfits().await);
        let picture = folder.path().join("page.png");
        std::fs::write(&picture, browser.picture(&format!("labels-{sheet}")).await).unwrap();
        let wanted = ["TU1", "TU4", "V1"].map(|v| format!("{}vessels/{v}", service.api.address));
        assert_eq!(read(&picture), wanted, "{sheet}");
        let lives = driver.find(By::Css(".lives bdi")).await.unwrap().text().await.unwrap();
        assert!(lives.starts_with("<script>alert(1)</script> \u{1f41f}"), "{lives}");
    }
    // A full sheet, and one label more than that.
    for (query, sheets) in
        [("sheet=2x5&copies=10", 1), ("sheet=2x5&copies=11", 2), ("sheet=3x8&copies=24", 1)]
    {
        let address = format!("{}labels?vessel=V1&living=yes&{query}", service.api.address);
        let sizes = printed(&address);
        assert_eq!(sizes.len(), sheets, "{query}: {sizes:?}");
        // ISO 216: 210 mm by 297 mm, in points of 1/72 inch.
        for (width, height) in sizes {
            assert!(
                (width - 595.28).abs() < 1.0 && (height - 841.89).abs() < 1.0,
                "{query}: {width} by {height}"
            );
        }
    }
    let (console, _) = browser.reports().await;
    assert!(console.is_empty(), "{console:?}");
    browser.close().await;
}
