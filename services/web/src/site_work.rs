//! Handlers of the work list and of the calendar feed.

use crate::Site;
use crate::calendar::{CalendarView, feed};
use crate::entry;
use crate::page;
use crate::site::{Sent, unreadable};
use axum::Json;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

/// `GET /work`
pub(crate) async fn work(State(site): State<Site>, headers: HeaderMap) -> Response {
    match site.keeper.calendar().await {
        Ok(calendar) => {
            let room = site.room();
            // The guard has let only a host of ours through.
            let host = headers.get(header::HOST).and_then(|h| h.to_str().ok()).unwrap_or_default();
            page::work::page(&room, &calendar, host, &site.clock(&room)).into_response()
        }
        Err(trouble) => page::trouble(trouble),
    }
}

/// `POST /calendar/address`
pub(crate) async fn new_address(State(site): State<Site>, sent: Sent) -> Response {
    let values = match sent {
        Ok(Form(values)) => values,
        Err(e) => return unreadable(&e),
    };
    let by = match entry::only_by(&values) {
        Ok(by) => by,
        Err(trouble) => return page::trouble(trouble),
    };
    match site.keeper.new_address(by).await {
        Ok(()) => Redirect::to("/work#calendar").into_response(),
        Err(trouble) => page::trouble(trouble),
    }
}

/// `GET /api/v1/work`
pub(crate) async fn tasks(State(site): State<Site>) -> Response {
    Json(&site.room().work).into_response()
}

fn is_its_address(calendar: &CalendarView, file: &str) -> bool {
    let token = calendar.address.as_ref().map(|a| a.token.as_bytes());
    token.zip(file.strip_suffix(".ics")).is_some_and(|(token, asked)| token.ct_eq(asked.as_bytes()).into())
}

/// Weak, since the same feed goes out compressed and not (RFC 9110, 8.8.1).
fn mark(feed: &str) -> String {
    let hash = Sha256::digest(feed.as_bytes());
    let hex: String = hash.iter().take(16).map(|b| format!("{b:02x}")).collect();
    format!("W/\"{hex}\"")
}

/// Whether the asker has it already (RFC 9110, 13.1.2, by weak comparison).
fn has_it(headers: &HeaderMap, mark: &str) -> bool {
    let bare = |tag: &str| tag.trim().trim_start_matches("W/").to_owned();
    let sent = headers.get_all(header::IF_NONE_MATCH).iter().filter_map(|v| v.to_str().ok());
    sent.flat_map(|v| v.split(',')).any(|tag| tag.trim() == "*" || bare(tag) == bare(mark))
}

/// `GET /calendar/{token}.ics`
pub(crate) async fn calendar(
    State(site): State<Site>,
    Path(file): Path<String>,
    headers: HeaderMap,
) -> Response {
    let view = match site.keeper.calendar().await {
        Ok(view) => view,
        Err(trouble) => return page::trouble(trouble),
    };
    if !is_its_address(&view, &file) {
        return page::sorry(StatusCode::NOT_FOUND, "There is no calendar at this address.");
    }
    let text = feed(&view);
    let mark = mark(&text);
    let said = [
        (header::CONTENT_TYPE, "text/calendar; charset=utf-8".to_owned()),
        // May be kept, but is to be asked for again, so that the mark is of use.
        (header::CACHE_CONTROL, "private, no-cache".to_owned()),
        (header::ETAG, mark.clone()),
    ];
    if has_it(&headers, &mark) {
        return (StatusCode::NOT_MODIFIED, said).into_response();
    }
    (said, text).into_response()
}
