//! The description of the API: OpenAPI 3.1, at `GET /api/v1/openapi.json`.
//!
//! Shapes of bodies are derived from the types themselves; what each address does stands in `looking` and `changing`, and a test holds that
//! against the routes that there are.

mod changing;
mod looking;
mod operation;
mod schemas;

use axum::http::header;
use axum::response::{IntoResponse, Response};
use operation::Operation;
use schemas::Schemas;
use serde_json::{Map, Value, json};
use std::sync::OnceLock;
use utoipa::openapi::security::{ApiKey, ApiKeyValue, HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::{
    ComponentsBuilder, InfoBuilder, LicenseBuilder, OpenApiBuilder, PathsBuilder, ServerBuilder,
};

/// What is worth knowing before the first request.
const ABOUT: &str = "Watches a room in which eggs and young of mouthbrooding fish are raised: its water and air, clutches with \
    their dates, alarms, and the account of every fish. Times are RFC 3339, in answers in UTC; lengths of time are milliseconds; \
    temperatures °C; flows L/min; other units stand beside their fields.\n\nA change may carry the header Idempotency-Key: repeated \
    by the same person with the same request within 24 hours, it gets the same answer and changes nothing. Refusals are problem \
    details (RFC 9457); where a field is to blame, `field` names it.\n\nPrograms sign in with a token, made on the page under People. \
    A page that listens on loopback only asks nobody to sign in, unless it is configured to.";

/// `GET /api/v1/openapi.json`. Public: it holds nothing of the room, and programs read it before they have a token.
pub(crate) async fn openapi() -> Response {
    static TEXT: OnceLock<String> = OnceLock::new();
    let text = TEXT.get_or_init(|| document().to_string());
    ([(header::CONTENT_TYPE, "application/json")], text.as_str()).into_response()
}

fn frame() -> Value {
    let licence =
        LicenseBuilder::new().name("MIT OR Apache-2.0").identifier(Some("MIT OR Apache-2.0")).build();
    let info = InfoBuilder::new()
        .title("Hatchwarden")
        .version(env!("CARGO_PKG_VERSION"))
        .description(Some(ABOUT))
        .license(Some(licence));
    let token = HttpBuilder::new()
        .scheme(HttpAuthScheme::Bearer)
        .description(Some("A token, hw_…, with the scope read, record or manage."))
        .build();
    let session = ApiKeyValue::with_description(
        "hatchwarden",
        "The cookie of a signed-in browser (__Host-hatchwarden over https). A change must also carry Origin or Sec-Fetch-Site, as browsers do.",
    );
    let components = ComponentsBuilder::new()
        .security_scheme("token", SecurityScheme::Http(token))
        .security_scheme("session", SecurityScheme::ApiKey(ApiKey::Cookie(session)));
    let server = ServerBuilder::new().url("/").description(Some("The room that this description came from."));
    let document = OpenApiBuilder::new()
        .info(info)
        .servers(Some([server.build()]))
        .paths(PathsBuilder::new())
        .components(Some(components.build()));
    // Made of text alone, which always serialises.
    serde_json::to_value(document.build()).unwrap_or_default()
}

/// All of it.
fn document() -> Value {
    let mut schemas = Schemas::default();
    schemas.add("Problem", operation::problem());
    let operations: Vec<Operation> =
        looking::all(&mut schemas).into_iter().chain(changing::all(&mut schemas)).collect();
    let mut paths = Map::new();
    for operation in operations {
        let path = paths.entry(operation.path).or_insert_with(|| json!({}));
        let method = if operation.post { "post" } else { "get" };
        path[method] = operation.describe();
    }
    let mut document = frame();
    document["paths"] = Value::Object(paths);
    document["components"]["schemas"] = schemas.all();
    document
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::access::rules;
    use std::collections::BTreeSet;

    /// What is described beside the API.
    const BESIDE: [&str; 3] = ["/live", "/ready", "/calendar/{file}"];

    #[test]
    fn every_route_of_the_api_is_described_and_nothing_else_is() {
        let document = document();
        let described = document["paths"].as_object().unwrap().iter().flat_map(|(path, methods)| {
            methods.as_object().unwrap().keys().map(move |m| (path.clone(), m == "post"))
        });
        let routes = rules::RULES
            .iter()
            .filter(|r| r.path.starts_with("/api/") || BESIDE.contains(&r.path))
            .map(|r| (r.path.to_owned(), r.post));
        assert_eq!(described.collect::<BTreeSet<_>>(), routes.collect());
    }

    #[test]
    fn it_is_openapi_3_1_with_ours_for_title_and_licence_and_every_reference_holds() {
        let document = document();
        assert!(document["openapi"].as_str().unwrap().starts_with("3.1."), "{}", document["openapi"]);
        assert_eq!(document["info"]["title"], "Hatchwarden");
        assert_eq!(document["info"]["license"]["identifier"], "MIT OR Apache-2.0");
        let text = document.to_string();
        for piece in text.split("\"$ref\":\"#").skip(1) {
            let place = piece.split('"').next().unwrap();
            assert!(document.pointer(place).is_some(), "{place} is spoken of and is not there");
        }
    }

    #[test]
    fn every_operation_has_its_words_and_its_own_id() {
        let document = document();
        let mut ids = BTreeSet::new();
        for (path, methods) in document["paths"].as_object().unwrap() {
            for (method, operation) in methods.as_object().unwrap() {
                let place = format!("{method} {path}");
                assert!(operation["summary"].as_str().is_some_and(|s| s.len() > 5), "{place}");
                assert!(ids.insert(operation["operationId"].as_str().unwrap().to_owned()), "{place}");
                let parameters = operation["parameters"].as_array().cloned().unwrap_or_default();
                for parameter in &parameters {
                    assert!(
                        parameter["description"].as_str().is_some_and(|s| !s.is_empty()),
                        "{place} {parameter}"
                    );
                    assert!(
                        !parameter["in"].is_null() && !parameter["schema"].is_null(),
                        "{place} {parameter}"
                    );
                }
                let placed = path.matches('{').count();
                assert_eq!(parameters.iter().filter(|p| p["in"] == "path").count(), placed, "{place}");
                let keyed = parameters.iter().any(|p| p["name"] == "Idempotency-Key");
                assert_eq!(keyed, method == "post", "{place}");
                for (status, answer) in operation["responses"].as_object().unwrap() {
                    let refused = status.starts_with(['4', '5']);
                    let beside = BESIDE.contains(&path.as_str());
                    assert!(
                        !refused || beside || !answer["content"]["application/problem+json"].is_null(),
                        "{place} {status}"
                    );
                }
            }
        }
    }
}
