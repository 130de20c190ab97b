//! What the opening page weighs: document, style, script, icon, and the first event, which brings every piece again.

use crate::hands::Hands;
use testkit::Screen;

/// Bytes over the wire.
const MOST: f64 = 150_000.0;

pub(crate) async fn check(hands: &mut Hands<'_>) {
    hands.screen(Screen::PHONE_DARK).await;
    hands.open("").await;
    let all = hands
        .number("performance.getEntriesByType('navigation').concat(performance.getEntriesByType('resource')).reduce((sum, e) => sum + e.transferSize, 0)")
        .await;
    let first = hands.api.first_event().await as f64;
    let page = hands.api.page("").await;
    assert!(page.contains("<svg") && all > 10_000.0 && first > 1_000.0, "{all} and {first} bytes");
    println!("opening page: {all} bytes, and {first} of its first event");
    if all + first >= MOST {
        hands.wrong("weight", [format!("{all} bytes, and {first} of its first event")]);
    }
}
