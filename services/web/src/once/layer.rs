//! Round every handler of the API: the first under a key is let through, a repeat is answered from what is kept.

use super::table::{Busy, Table, Turn};
use super::{KEPT, Kept, LONGEST_KEY, MOST, Once, Said, key};
use crate::access::who;
use crate::problem::Problem;
use crate::{LARGEST_BODY, Site};
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;

/// Marks an answer that was given before: nothing was changed by this request.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Again;

/// Longest answer to a change, bytes.
const LONGEST_ANSWER: usize = 1024 * 1024;

pub(crate) async fn layer(State(site): State<Site>, request: Request, next: Next) -> Response {
    if request.method() != Method::POST {
        return next.run(request).await;
    }
    match key::read(request.headers()) {
        Ok(None) => next.run(request).await,
        Ok(Some(key)) => once(site, &key, request, next).await.unwrap_or_else(IntoResponse::into_response),
        Err(problem) => problem.into_response(),
    }
}

async fn once(site: Site, key: &str, request: Request, next: Next) -> Result<Response, Problem> {
    let (parts, body) = request.into_parts();
    let body = to_bytes(body, LARGEST_BODY).await.map_err(|_| too_large())?;
    let fingerprint = key::fingerprint(&parts, &body);
    let key = key::of(who::current().as_deref(), key);
    let mut turn = Table::begin(&site.once, key, MOST).map_err(busy)?;
    let answers = site.keeper.answers();
    if let Some(kept) = answers.find(key).await? {
        turn.hold(None);
        return if kept.fingerprint == fingerprint { Ok(again(kept.said)) } else { Err(another()) };
    }
    if let Some(held) = turn.held() {
        return Err(if held == fingerprint { held_still() } else { another() });
    }
    if answers.since(site.keeper.now() - KEPT).await? >= MOST {
        return Err(busy(Busy::TooMany));
    }
    let once = Arc::new(Once::new(key, fingerprint));
    let request = Request::from_parts(parts, Body::from(body));
    first(site, turn, once, request, next).await
}

/// Has the change made and its answer kept, even if whoever asked does not wait: else the next one would find the key unused
/// while the change is under way.
async fn first(
    site: Site,
    mut turn: Turn,
    once: Arc<Once>,
    request: Request,
    next: Next,
) -> Result<Response, Problem> {
    let asker = who::current();
    let work = async move {
        let answer = super::with(once.clone(), next.run(request)).await;
        finish(&site, &mut turn, &once, answer).await
    };
    let done = match asker {
        Some(asker) => tokio::spawn(who::with(asker, work)),
        None => tokio::spawn(work),
    };
    done.await.unwrap_or_else(|error| {
        tracing::error!(%error, "a change broke off");
        Err(Problem::new(StatusCode::INTERNAL_SERVER_ERROR, "the service broke off; its log says why"))
    })
}

async fn finish(site: &Site, turn: &mut Turn, once: &Once, answer: Response) -> Result<Response, Problem> {
    if answer.status().is_server_error() {
        // Not done, and may be asked for again; or taken by the service, and written later.
        turn.hold(once.is_taken().then_some(once.fingerprint));
        return Ok(answer);
    }
    let (mut parts, body) = answer.into_parts();
    let body = to_bytes(body, LONGEST_ANSWER).await.unwrap_or_default();
    let said = said(parts.status, &parts.headers, &body);
    if !once.is_taken() || said != once.promised() {
        let kept: Kept = once.kept(said, site.keeper.now());
        if let Err(error) = site.keeper.answers().keep(kept).await {
            tracing::error!(%error, "the answer to a change could not be kept; a repeat may change again");
        }
    }
    parts.headers.remove(header::CONTENT_LENGTH);
    Ok(Response::from_parts(parts, Body::from(body)))
}

fn said(status: StatusCode, headers: &HeaderMap, body: &Bytes) -> Said {
    let text = |name| headers.get(name).and_then(|v: &HeaderValue| v.to_str().ok()).map(str::to_owned);
    Said {
        status: status.as_u16(),
        kind: text(header::CONTENT_TYPE),
        location: text(header::LOCATION),
        body: String::from_utf8_lossy(body).into_owned(),
    }
}

fn again(said: Said) -> Response {
    let mut answer = Response::new(Body::from(said.body));
    *answer.status_mut() = StatusCode::from_u16(said.status).unwrap_or(StatusCode::OK);
    for (name, value) in [(header::CONTENT_TYPE, said.kind), (header::LOCATION, said.location)] {
        if let Some(value) = value.and_then(|v| HeaderValue::try_from(v).ok()) {
            answer.headers_mut().insert(name, value);
        }
    }
    answer.extensions_mut().insert(Again);
    answer
}

pub(crate) fn too_large() -> Problem {
    let said = format!("the body is longer than {LARGEST_BODY} bytes; send less at a time");
    Problem::new(StatusCode::PAYLOAD_TOO_LARGE, said)
}

fn busy(busy: Busy) -> Problem {
    match busy {
        Busy::UnderWay => Problem::new(
            StatusCode::CONFLICT,
            "a request with this Idempotency-Key is being answered just now; ask again in a moment",
        ),
        Busy::TooMany => Problem::new(
            StatusCode::TOO_MANY_REQUESTS,
            format!("{MOST} keys were used in the last day; send this one later, or without a key"),
        ),
    }
    .about(key::HEADER)
}

fn another() -> Problem {
    let said = format!(
        "this Idempotency-Key was used for another request; draw a new one, of up to {LONGEST_KEY} letters, for each change"
    );
    Problem::field(key::HEADER, said)
}

fn held_still() -> Problem {
    let said = "this change is held in memory and written as soon as the store works again; ask again then";
    Problem::new(StatusCode::SERVICE_UNAVAILABLE, said)
}
