//! Errors of the API as problem details (RFC 9457).

use crate::keeper::Trouble;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::json;

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
        (self.status, [(header::CONTENT_TYPE, "application/problem+json")], body.to_string()).into_response()
    }
}
