//! Handlers of the JSON API under `/api/v1`.

use crate::Site;
use crate::access::who;
use crate::entry::NOBODY;
use crate::letters;
use crate::once;
use crate::paged::{self, read_limit};
use crate::problem::Problem;
use crate::strict::tagged;
use axum::Json;
use axum::body::Bytes;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::{Map, Value, json};
use units::{ClutchId, ProbeKey, Span, Time, TimeError};

pub(crate) use crate::strict::strict;

pub(crate) type Answer = Result<Response, Problem>;

/// Readings of one answer, if nothing is said.
pub(crate) const USUAL_READINGS: usize = 10_000;
/// At most; a probe that reads every twelve seconds has so many in two weeks.
pub(crate) const MOST_READINGS: usize = 100_000;
/// Longest history of one call.
const LONGEST: Span = Span::days(62);

/// `GET /api/v1/room`
pub(crate) async fn room(State(site): State<Site>) -> Response {
    Json(&*site.room()).into_response()
}

/// `GET /api/v1/readings`
pub(crate) async fn readings(State(site): State<Site>) -> Response {
    Json(site.keeper.readings()).into_response()
}

/// `GET /api/v1/clutches`
pub(crate) async fn clutches(State(site): State<Site>) -> Response {
    Json(&site.room().clutches).into_response()
}

/// `GET /api/v1/alarms`
pub(crate) async fn alarms(State(site): State<Site>) -> Response {
    Json(&site.room().alarms).into_response()
}

pub(crate) fn id(text: &str) -> Result<ClutchId, Problem> {
    ClutchId::new(text).map_err(|e| Problem::new(StatusCode::NOT_FOUND, e.to_string()))
}

/// `GET /api/v1/clutches/{id}`
pub(crate) async fn clutch(State(site): State<Site>, Path(name): Path<String>) -> Answer {
    Ok(Json(site.keeper.clutch(id(&name)?).await?).into_response())
}

/// From when to when, and which of several probes.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Range {
    from: Option<String>,
    to: Option<String>,
    mark: Option<String>,
    limit: Option<String>,
    after: Option<String>,
}

pub(crate) fn time(field: &str, text: Option<&str>, otherwise: Time) -> Result<Time, Problem> {
    text.map_or(Ok(otherwise), |t| utc(t).map_err(|e| Problem::field(field, e.to_string())))
}

/// A time out of a query, where a bare + is a space.
pub(crate) fn utc(text: &str) -> Result<Time, TimeError> {
    Time::parse_rfc3339(&text.replace(' ', "+"))
}

/// `GET /api/v1/readings/{vessel}/{quantity}?from&to&mark`; the last day when no range is given.
pub(crate) async fn history(
    State(site): State<Site>,
    Path((vessel, quantity)): Path<(String, String)>,
    range: Result<Query<Range>, QueryRejection>,
) -> Answer {
    let Query(range) = range.map_err(|e| paged::refused(&e))?;
    let limit = read_limit(range.limit.as_deref(), USUAL_READINGS, MOST_READINGS)?;
    let mark = range.mark.map(|m| format!("/{m}")).unwrap_or_default();
    let probe: ProbeKey = format!("{vessel}/{quantity}{mark}")
        .parse()
        .map_err(|e: units::IdError| Problem::new(StatusCode::NOT_FOUND, e.to_string()))?;
    let to = time("to", range.to.as_deref(), site.keeper.now())?;
    let from = time("from", range.from.as_deref(), to - Span::hours(24))?;
    if from > to {
        return Err(Problem::field("from", format!("{from} lies after to, {to}; swap the two")));
    }
    if to - from > LONGEST {
        return Err(Problem::field(
            "from",
            format!("more than {LONGEST} in one call; ask in shorter pieces"),
        ));
    }
    // A time is the place of a reading: there is one for each probe and millisecond.
    let begin = match range.after.as_deref() {
        Some(text) => time("after", Some(text), from)? + Span::from_millis(1),
        None => from,
    };
    let mut rows = site.keeper.history(probe.clone(), begin.max(from), to, limit + 1).await?;
    let next = paged::cut(&mut rows, limit, |r| r.time);
    let body = json!({"probe": probe, "unit": probe.quantity.unit(), "from": from, "to": to, "readings": rows, "next": next});
    let path = format!("/api/v1/readings/{}/{}", probe.vessel, probe.quantity);
    let mark = probe.mark.clone().map(|m| ("mark", m));
    let query = [("limit", limit.to_string()), ("from", from.to_string()), ("to", to.to_string())];
    Ok(paged::answer(&body, &path, &query.into_iter().chain(mark).collect::<Vec<_>>()))
}

/// The body as an object; anything else is named.
pub(crate) fn object(headers: &HeaderMap, body: &Bytes) -> Result<Map<String, Value>, Problem> {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or_default();
    if !kind.to_ascii_lowercase().starts_with("application/json") {
        let said = format!("content type {kind:?} is not read here; send application/json");
        return Err(Problem::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, said));
    }
    let sent = serde_json::from_slice(body)
        .map_err(|e| Problem::new(StatusCode::BAD_REQUEST, format!("the body is not a JSON object: {e}")))?;
    letters::all_straight(&sent)?;
    Ok(sent)
}

/// Takes `by` out, so that the rest can be read strictly. Whoever is signed in, or has a token, acts in that name.
pub(crate) fn by(object: &mut Map<String, Value>) -> Result<String, Problem> {
    let typed = match object.remove("by") {
        None | Some(Value::Null) => NOBODY.to_owned(),
        Some(Value::String(s)) if s.trim().is_empty() => NOBODY.to_owned(),
        Some(Value::String(s)) if s.chars().count() <= 200 => s.trim().to_owned(),
        Some(_) => return Err(Problem::field("by", "write a name of at most 200 letters")),
    };
    Ok(who::proved_or(typed))
}

/// Nothing more.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Bare {}

/// Who asks, from a body with nothing else in it.
pub(crate) fn only_by(headers: &HeaderMap, body: &Bytes) -> Result<String, Problem> {
    let mut sent = object(headers, body)?;
    let who = by(&mut sent)?;
    let _: Bare = strict(sent)?;
    Ok(who)
}

/// `POST /api/v1/clutches` with the fields of a new clutch and `by`: 201 and its place.
pub(crate) async fn open_clutch(State(site): State<Site>, headers: HeaderMap, body: Bytes) -> Answer {
    let mut sent = object(&headers, &body)?;
    let who = by(&mut sent)?;
    let new: crate::keeper::NewClutch = strict(sent)?;
    let name = new.id.clone();
    let place = format!("/api/v1/clutches/{name}");
    let body = json!({"id": name});
    once::will_answer(&place, Some(&body));
    site.keeper.open_clutch(new, who).await?;
    Ok((StatusCode::CREATED, [(header::LOCATION, place)], Json(body)).into_response())
}

/// `POST /api/v1/clutches/{id}/records` with `{"what": …}` and `by`: 204.
pub(crate) async fn record(
    State(site): State<Site>,
    Path(name): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Answer {
    let mut sent = object(&headers, &body)?;
    let who = by(&mut sent)?;
    let what: crate::keeper::Record = tagged("what", &sent)?;
    site.keeper.record(id(&name)?, what, who).await?;
    Ok(StatusCode::NO_CONTENT.into_response())
}

/// Any other address under the API.
pub(crate) async fn nothing() -> Problem {
    Problem::new(StatusCode::NOT_FOUND, "there is nothing at this address of the API")
}

/// An address that knows other methods.
pub(crate) async fn wrong_method() -> Problem {
    Problem::new(StatusCode::METHOD_NOT_ALLOWED, "this address does not answer that method")
}
