//! Sizes, colours, large text and axe.

use crate::hands::Hands;
use serde_json::json;
use testkit::{Axe, Screen};

const LOOKS: &str = include_str!("looks.js");
const SCREENS: [(Screen, &str); 3] =
    [(Screen::PHONE_LIGHT, "phone"), (Screen::TABLET_LIGHT, "tablet"), (Screen::DESK, "desk")];
/// WCAG 2.2, 1.4.10: reads at 320 px, which is 1280 px at 400 %, without scrolling sideways.
const NARROW: Screen = Screen { width: 320, height: 256, ratio: 1, dark: false };

/// Everything that is folded is looked at too.
pub(crate) const UNFOLD: &str = "for (const d of document.querySelectorAll('details')) d.open = true;";
const TWICE: &str = "document.documentElement.style.fontSize = '200%';";
const ONCE: &str = "document.documentElement.style.fontSize = '';";

/// The name of a picture of this page.
fn picture(path: &str) -> String {
    let plain = path.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect::<String>();
    format!("eye-{}", if plain.is_empty() { "opening" } else { &plain })
}

/// What does not fit the screen.
pub(crate) async fn fit(hands: &mut Hands<'_>, screen: Screen, place: &str) {
    let found = hands.ask(LOOKS, vec![json!(screen.width)]).await;
    hands.wrong(place, serde_json::from_value::<Vec<String>>(found).unwrap());
}

/// One page on every screen, and its text twice as large.
pub(crate) async fn page(hands: &mut Hands<'_>, path: &str, axe: &Axe) {
    hands.screen(SCREENS[0].0).await;
    hands.open(path).await;
    hands.browser.picture(&format!("{}-phone", picture(path))).await;
    everywhere(hands, path, axe).await;
}

/// The page that is open.
pub(crate) async fn everywhere(hands: &mut Hands<'_>, path: &str, axe: &Axe) {
    hands.ask(UNFOLD, vec![]).await;
    for (screen, name) in SCREENS {
        for dark in [false, true] {
            hands.screen(screen.dark(dark)).await;
            let place = format!("/{path} on a {name}{}", if dark { ", dark" } else { "" });
            fit(hands, screen, &place).await;
            if name == "phone" {
                // What lies under the foot is scrolled from under it; axe would take it for covered.
                hands
                    .ask("document.getElementById('pages')?.style.setProperty('position', 'static');", vec![])
                    .await;
                let said = axe.faults(hands.browser).await;
                hands
                    .ask("document.getElementById('pages')?.style.removeProperty('position');", vec![])
                    .await;
                hands.wrong(&place, said);
            }
        }
    }
    hands.browser.picture(&format!("{}-desk-dark", picture(path))).await;
    hands.ask(TWICE, vec![]).await;
    for (screen, name) in [(SCREENS[0].0, "phone"), (SCREENS[2].0, "desk")] {
        hands.screen(screen).await;
        fit(hands, screen, &format!("/{path} with text of 200 % on a {name}")).await;
        hands.browser.picture(&format!("{}-{name}-large", picture(path))).await;
    }
    hands.ask(ONCE, vec![]).await;
    // Last, since a phone keeps how far it has zoomed.
    hands.screen(NARROW).await;
    fit(hands, NARROW, &format!("/{path} at 320 px")).await;
}

pub(crate) async fn check(hands: &mut Hands<'_>, all: &[String], axe: &Axe) {
    for path in all {
        page(hands, path, axe).await;
    }
}

/// A page that is spoilt is found to be: the checks can fail.
pub(crate) async fn teeth(hands: &mut Hands<'_>, axe: &Axe) {
    hands.screen(SCREENS[0].0).await;
    hands.open("work").await;
    // Styles by the object model: the page's policy takes none from its text.
    let spoil = "document.querySelector('main').insertAdjacentHTML('beforeend', '<img src=\"/favicon.ico\"><button></button><input><p>over</p>');\
        const [button, p] = ['main > button', 'main > p:last-child'].map(s => document.querySelector(s));\
        button.style.cssText = 'min-height:20px;height:20px;width:900px';\
        p.style.cssText = 'position:absolute;margin:0;left:20px;background:#777;color:#777';\
        p.style.top = document.querySelector('h1').getBoundingClientRect().top + scrollY + 'px';";
    hands.ask(spoil, vec![]).await;
    let said = axe.faults(hands.browser).await.join("\n");
    for rule in ["image-alt", "button-name", "label"] {
        assert!(said.contains(&format!("{rule}:")), "axe misses {rule}: {said}");
    }
    let found = hands.ask(LOOKS, vec![json!(390)]).await.to_string();
    for part in ["px wide on 390", "× 20 px", "lies over"] {
        assert!(found.contains(part), "the look misses {part:?}: {found}");
    }
}
