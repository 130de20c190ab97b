//! The pages, drawn on the server from the room.

pub(crate) mod access;
pub(crate) mod account;
pub(crate) mod alarms;
pub(crate) mod calls;
pub(crate) mod claim;
pub(crate) mod clutch;
pub(crate) mod clutches;
pub(crate) mod compare;
pub(crate) mod form;
pub(crate) mod fragments;
pub(crate) mod labels;
pub(crate) mod links;
pub(crate) mod log;
pub(crate) mod mothers;
pub(crate) mod moved;
pub(crate) mod night;
pub(crate) mod probes;
pub(crate) mod review;
pub(crate) mod simulated;
pub(crate) mod species;
pub(crate) mod strip;
pub(crate) mod tanks;
pub(crate) mod vessel;
pub(crate) mod whatif;
pub(crate) mod work;

use crate::access::{How, Need, who};
use crate::assets::href;
use crate::keeper::Trouble;
use crate::local::Local;
use crate::problem::Problem;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};
use units::Time;

/// What every drawing needs: the service's clock and the room's own.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Clock {
    /// The service's time.
    pub now: Time,
    /// The room's zone.
    pub local: Local,
}

/// Which of the pages is marked in the foot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tab {
    /// The opening page.
    Night,
    /// The clutches and each of them.
    Clutches,
    /// The vessels, what lives in them, and the mothers.
    Tanks,
    /// What there is to do.
    Work,
    /// Probes, devices and the map.
    Probes,
    /// Refusals, alarms, readings.
    Log,
}

fn tab(href: &str, words: &str, here: bool) -> Markup {
    html! { a href=(href) aria-current=[here.then_some("page")] { (words) } }
}

/// The frame round a page.
pub(crate) fn shell(title: &str, tab_here: Tab, main: &Markup) -> Html<String> {
    shell_with(title, tab_here, main, None)
}

/// The same with a style sheet more.
pub(crate) fn shell_with(title: &str, tab_here: Tab, main: &Markup, style: Option<&str>) -> Html<String> {
    let nav = html! {
        (signed())
        nav #pages aria-label="Pages" tabindex="-1" {
            (tab("/", "Night", tab_here == Tab::Night))
            (tab("/clutches", "Clutches", tab_here == Tab::Clutches))
            (tab("/vessels", "Tanks", tab_here == Tab::Tanks))
            (tab("/work", "Work", tab_here == Tab::Work))
            (tab("/probes", "Probes", tab_here == Tab::Probes))
            (tab("/log", "Log", tab_here == Tab::Log))
        }
    };
    framed(title, main, &nav, style)
}

/// The frame round a page for whoever is not signed in.
pub(crate) fn bare_shell(title: &str, main: &Markup) -> Html<String> {
    framed(title, main, &html! {}, None)
}

/// Who is signed in, and the way to what only she sees.
fn signed() -> Markup {
    let asker = who::current();
    let name = asker.as_ref().and_then(|a| a.name.clone());
    html! {
        @if asker.as_ref().is_some_and(|a| a.how != How::Nobody) {
            nav.signed aria-label="People" {
                @if let Some(name) = name { a.go href="/own" { "Signed in as " bdi { (name) } } " " }
                @if who::may(Need::Manage) { a.go href="/people" { "People" } " " a.go href="/audit" { "Changes" } }
            }
        }
    }
}

fn framed(title: &str, main: &Markup, after: &Markup, style: Option<&str>) -> Html<String> {
    // What a looker may not do is not offered either. Pages for everybody have forms for everybody.
    let looks = who::current().is_some_and(|a| a.how == How::Session && !a.role.may(Need::Record));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width,initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " - Hatchwarden" }
                link rel="icon" type="image/svg+xml" href=(href("favicon.svg"));
                link rel="stylesheet" href=(href("night.css"));
                @if let Some(style) = style { link rel="stylesheet" href=(href(style)); }
                script type="module" src=(href("night.js")) {}
            }
            body class=[looks.then_some("looks")] {
                // What is asked for comes first on a page, so the way that is long by keys is that to the other pages.
                @if !after.0.is_empty() { a.skip href="#pages" { "To the other pages" } }
                p #lost hidden role="alert" {}
                (main)
                (after)
            }
        }
    };
    Html(page.into_string())
}

/// A page that says only what went wrong.
pub(crate) fn sorry(status: StatusCode, words: &str) -> Response {
    let main = html! {
        main.plain {
            h1 { (if status == StatusCode::NOT_FOUND { "Not found" } else { "That did not work" }) }
            p { (words) }
            p { a.go href="/" { "Back to the night" } }
        }
    };
    (status, shell("Sorry", Tab::Night, &main)).into_response()
}

/// A trouble as a page.
pub(crate) fn trouble(trouble: Trouble) -> Response {
    let words = trouble.to_string();
    let status = Problem::from(trouble).into_response().status();
    sorry(status, &words)
}

/// The cautions at the foot of a page where hands are near water.
pub(crate) fn cautions() -> Markup {
    html! {
        footer {
            p { "Hatchwarden watches and tells; it switches nothing. \u{201c}Act within\u{201d} is a planning value for the stage, not science." }
            p { "Dry your hands before you touch a plug. Pull the plug before hands go into the water. Follow your local electrical code." }
        }
    }
}
