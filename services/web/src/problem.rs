//! Errors of the API as problem details (RFC 9457).

use crate::keeper::Trouble;
use axum::body::to_bytes;
use axum::extract::Request;
use axum::http::{StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use serde_json::json;

const KIND: &str = "application/problem+json";
/// Longest refusal of the framework that is said on.
const LONGEST: usize = 1_000;

/// Makes a problem of what the framework itself refuses: an address that is no UTF-8, a body that is too long.
pub(crate) async fn every(request: Request, next: Next) -> Response {
    let answer = next.run(request).await;
    let status = answer.status();
    let kind = answer.headers().get(header::CONTENT_TYPE);
    if !(status.is_client_error() || status.is_server_error()) || kind.is_some_and(|k| k == KIND) {
        return answer;
    }
    if status == StatusCode::PAYLOAD_TOO_LARGE {
        return crate::once::too_large().into_response();
    }
    let allowed = answer.headers().get(header::ALLOW).cloned();
    let said = to_bytes(answer.into_body(), LONGEST).await.unwrap_or_default();
    let mut problem = Problem::new(status, String::from_utf8_lossy(&said)).into_response();
    problem.headers_mut().extend(allowed.map(|a| (header::ALLOW, a)));
    problem
}

/// One problem; its `status` is always that of the answer.
#[derive(Debug, Clone)]
pub(crate) struct Problem {
    status: StatusCode,
    detail: String,
    field: Option<String>,
}

impl Problem {
    /// A problem with its sentence.
    pub(crate) fn new(status: StatusCode, detail: impl Into<String>) -> Self {
        Self { status, detail: detail.into(), field: None }
    }

    /// The same, about a field or a header.
    #[must_use]
    pub(crate) fn about(self, field: &str) -> Self {
        Self { field: Some(field.to_owned()), ..self }
    }

    /// The field that it is about.
    #[cfg(test)]
    pub(crate) fn field_name(&self) -> Option<&str> {
        self.field.as_deref()
    }

    /// Input that will not do.
    pub(crate) fn field(field: &str, reason: impl Into<String>) -> Self {
        Self {
            status: StatusCode::UNPROCESSABLE_ENTITY,
            detail: reason.into(),
            field: Some(field.to_owned()),
        }
    }
}

impl From<Trouble> for Problem {
    fn from(trouble: Trouble) -> Self {
        match trouble {
            Trouble::NotFound(what) => Self::new(StatusCode::NOT_FOUND, what),
            Trouble::Refused { field, reason } => Self::field(&field, reason),
            Trouble::Unable(why) => Self::new(StatusCode::SERVICE_UNAVAILABLE, why),
        }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut body = json!({
            "type": "about:blank",
            "title": self.status.canonical_reason().unwrap_or("Error"),
            "status": self.status.as_u16(),
            "detail": self.detail,
        });
        if let Some(field) = self.field {
            body["field"] = field.into();
        }
        (self.status, [(header::CONTENT_TYPE, KIND)], body.to_string()).into_response()
    }
}
