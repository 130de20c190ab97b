//! Long lists in pieces: `limit` and `after`, and the address of the next piece in a Link header (RFC 8288).
//!
//! A cursor is the place of the last one that was given, never a count of those before: pieces joined are the whole, whatever is
//! added meanwhile at the head of the list.

use crate::problem::Problem;
use axum::Json;
use axum::extract::Query;
use axum::extract::rejection::QueryRejection;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::Value;

/// A piece that nobody has asked for otherwise.
pub(crate) const USUAL: usize = 100;
/// The largest piece.
pub(crate) const MOST: usize = 1_000;

/// What a query says of a list of numbered things.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Asked {
    limit: Option<String>,
    after: Option<String>,
}

/// One piece of a list: so many, after that number.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Piece {
    pub(crate) limit: usize,
    pub(crate) after: Option<u64>,
}

impl Piece {
    pub(crate) fn of(asked: Result<Query<Asked>, QueryRejection>) -> Result<Self, Problem> {
        let Query(Asked { limit, after }) = asked.map_err(|e| refused(&e))?;
        let after = after.map(|text| {
            let cure = "give the value of next of the piece before, or leave it out";
            text.parse().map_err(|_| Problem::field("after", format!("{text:?} will not do; {cure}")))
        });
        Ok(Self { limit: read_limit(limit.as_deref(), USUAL, MOST)?, after: after.transpose()? })
    }
}

pub(crate) fn refused(rejection: &QueryRejection) -> Problem {
    Problem::new(rejection.status(), rejection.body_text())
}

pub(crate) fn read_limit(text: Option<&str>, usual: usize, most: usize) -> Result<usize, Problem> {
    let Some(text) = text else { return Ok(usual) };
    let good = text.parse().ok().filter(|n| (1..=most).contains(n));
    good.ok_or_else(|| Problem::field("limit", format!("{text:?} will not do; write 1 to {most}")))
}

/// Takes off the one that was asked for beyond the limit, to see whether there are more: the place of the last that stays.
pub(crate) fn cut<T, C>(all: &mut Vec<T>, limit: usize, place: impl Fn(&T) -> C) -> Option<C> {
    let more = all.len() > limit;
    all.truncate(limit);
    all.last().map(place).filter(|_| more)
}

/// The piece, with the address of the next one.
pub(crate) fn answer(body: &Value, path: &str, query: &[(&str, String)]) -> Response {
    let mut answer = Json(body).into_response();
    let next = body.get("next").filter(|n| !n.is_null());
    if let Some(next) = next {
        let after = next.as_str().map_or_else(|| next.to_string(), str::to_owned);
        let all = query.iter().map(|(k, v)| (*k, v.as_str())).chain([("after", after.as_str())]);
        let query: Vec<String> = all.map(|(k, v)| format!("{k}={}", encoded(v))).collect();
        let link = format!("<{path}?{}>; rel=\"next\"", query.join("&"));
        answer.headers_mut().extend(link.parse().ok().map(|v| (header::LINK, v)));
    }
    answer
}

/// A value of a query: what is unreserved stays (RFC 3986, 2.3).
fn encoded(text: &str) -> String {
    let letter = |b: u8| match b {
        b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(b).to_string(),
        b => format!("%{b:02X}"),
    };
    text.bytes().map(letter).collect()
}
