//! The page behind a link in a message.

use super::{Clock, Tab, alarms, cautions, shell};
use crate::links::LinkView;
use axum::response::Html;
use maud::html;

/// The alarm, and one button.
pub(crate) fn page(link: &LinkView, token: &str, clock: &Clock) -> Html<String> {
    let a = &link.alarm;
    let main = html! {
        main.plain {
            h1 { (a.subject) }
            @if a.acknowledged.is_none() {
                form.take method="post" action={ "/on-it/" (token) } {
                    button type="submit" { "I am on it" span.vh { " (" (link.person) ")" } }
                }
            } @else { (alarms::taken(a, clock)) }
            @if let Some(line) = alarms::deadline(a, clock) { p.deadline { (line) } }
            p { (a.text) }
            @if a.standing { p.first { b { "First: " } (a.first_step) } }
            p { a.go href="/" { "To the night" } }
            (cautions())
        }
    };
    shell(&a.subject, Tab::Night, &main)
}

/// After the button.
pub(crate) fn taken(link: &LinkView, clock: &Clock) -> Html<String> {
    let a = &link.alarm;
    let main = html! {
        main.plain {
            h1 { "You are on it, " (link.person) }
            p { (a.subject) ". It calls nobody else now. The alarm stands until it is over." }
            @if let Some(line) = alarms::deadline(a, clock) { p.deadline { (line) } }
            @if a.standing { p.first { b { "First: " } (a.first_step) } }
            p { a.go href="/" { "To the night" } }
            (cautions())
        }
    };
    shell(&a.subject, Tab::Night, &main)
}
