//! One thing that can be asked for, and how it is written in the description.

use super::schemas::{object, reference};
use crate::access::Need;
use crate::access::rules;
use crate::once::LONGEST_KEY;
use axum::http::Method;
use serde_json::{Map, Value, json};

/// One address with one method.
pub(super) struct Operation {
    pub(super) path: &'static str,
    pub(super) post: bool,
    tag: &'static str,
    summary: &'static str,
    about: Option<&'static str>,
    queries: Vec<Value>,
    body: Option<(Value, Option<Value>)>,
    answers: Map<String, Value>,
}

/// The body of a refusal: RFC 9457 with the field as an extension member.
pub(super) fn problem() -> Value {
    let text = |says: &str| json!({"type": "string", "description": says});
    let mut problem = object(&[
        ("type", text("about:blank: the status says what kind of problem it is.")),
        ("title", text("The words of the status.")),
        ("status", json!({"type": "integer", "description": "The status of the answer."})),
        ("detail", text("What is wrong, with the value and what to do instead.")),
    ]);
    problem["properties"]["field"] = text("The field, parameter or header that will not do.");
    problem["description"] = json!("Problem details, RFC 9457.");
    problem
}

fn json_answer(words: &str, schema: &Value) -> Value {
    json!({"description": words, "content": {"application/json": {"schema": schema}}})
}

impl Operation {
    fn new(path: &'static str, post: bool, tag: &'static str, summary: &'static str) -> Self {
        let (queries, answers) = (Vec::new(), Map::new());
        Self { path, post, tag, summary, about: None, queries, body: None, answers }
    }

    /// Something to look at, answered by JSON.
    pub(super) fn get(path: &'static str, tag: &'static str, summary: &'static str, schema: &Value) -> Self {
        Self::new(path, false, tag, summary).answer("200", json_answer("As asked.", schema))
    }

    /// The same, answered by something else.
    pub(super) fn get_text(path: &'static str, tag: &'static str, summary: &'static str, kind: &str) -> Self {
        let said = json!({"description": "As asked.", "content": {kind: {"schema": {"type": "string"}}}});
        Self::new(path, false, tag, summary).answer("200", said)
    }

    /// A change that is answered by nothing but that it is done.
    pub(super) fn post(
        path: &'static str,
        tag: &'static str,
        summary: &'static str,
        body: Value,
        example: Option<Value>,
    ) -> Self {
        let mut new = Self::new(path, true, tag, summary);
        new.body = Some((body, example));
        new.answer("204", json!({"description": "Done, and on disk."}))
    }

    /// A change that makes something: 201 in the place of 204.
    pub(super) fn makes(mut self, schema: Option<&Value>) -> Self {
        self.answers.remove("204");
        let mut said = json!({
            "description": "Made, and on disk.",
            "headers": {"Location": {"description": "Where it is found.", "schema": {"type": "string"}, "required": true}},
        });
        if let Some(schema) = schema {
            said["content"] = json!({"application/json": {"schema": schema}});
        }
        self.answer("201", said)
    }

    /// A question that is put with a body, and changes nothing: 200 in the place of 204.
    pub(super) fn tells(mut self, schema: &Value) -> Self {
        self.answers.remove("204");
        self.answer("200", json_answer("As asked.", schema))
    }

    pub(super) fn answer(mut self, status: &str, said: Value) -> Self {
        self.answers.insert(status.to_owned(), said);
        self
    }

    pub(super) fn about(self, words: &'static str) -> Self {
        Self { about: Some(words), ..self }
    }

    pub(super) fn query(mut self, name: &str, schema: &Value, words: &str) -> Self {
        self.queries.push(json!({"name": name, "in": "query", "description": words, "schema": schema}));
        self
    }

    /// A list that comes in pieces.
    pub(super) fn paged(self, usual: usize, most: usize, place: &Value) -> Self {
        let limit = json!({"type": "integer", "minimum": 1, "maximum": most, "default": usual});
        let mut paged = self.query("limit", &limit, "How many at most.").query(
            "after",
            place,
            "Where to go on: the value of next of the piece before.",
        );
        let link = json!({"description": "The address of the next piece, rel=next (RFC 8288), if there is one.", "schema": {"type": "string"}});
        paged.answers["200"]["headers"] = json!({"Link": link});
        paged
    }

    fn need(&self) -> Need {
        let method = if self.post { Method::POST } else { Method::GET };
        rules::find(&method, self.path).map_or(Need::Manage, |rule| rule.need)
    }

    fn refusals(&self) -> Vec<(u16, &'static str)> {
        let mut all = vec![(421, "The host name is not one of ours.")];
        if self.need() != Need::Public {
            all.extend([
                (401, "Nobody is signed in, and no token that holds was sent."),
                (403, "Whoever asks may not do that, or another site asked for it."),
                (503, "The service cannot just now: its store is failing, or nobody can sign in yet."),
            ]);
        }
        if self.path.contains('{') {
            all.extend([(400, "The address cannot be read."), (404, "There is nothing of that name.")]);
        }
        if self.path.contains("{date}") {
            all.push((422, "There is no such date."));
        }
        if !self.queries.is_empty() {
            all.extend([
                (400, "The query cannot be read, or has a parameter that is not known."),
                (422, "A parameter will not do; field says which."),
            ]);
        }
        if self.post {
            all.extend([
                (400, "The body is not a JSON object, or the Idempotency-Key will not do."),
                (409, "A request with this Idempotency-Key is being answered just now."),
                (413, "The body is too long."),
                (415, "The body is not application/json."),
                (422, "A field will not do, or the room has something against it; or the Idempotency-Key was used for another request."),
                (429, "Too many keys in the last day."),
            ]);
        }
        all
    }

    fn parameters(&self) -> Vec<Value> {
        let places = self.path.split('/').filter_map(|s| s.strip_prefix('{')?.strip_suffix('}'));
        let mut all: Vec<Value> = places.map(|name| place(self.path, name)).collect();
        all.extend(self.queries.iter().cloned());
        if self.post {
            let words = "Makes a repeat safe: draft-ietf-httpapi-idempotency-key-header. In quotes, or bare.";
            let schema = json!({"type": "string", "minLength": 1, "maxLength": LONGEST_KEY, "pattern": "^(\"[ !#-\\[\\]-~]+\"|[A-Za-z0-9_.~:/+=-]+)$"});
            all.push(
                json!({"name": "Idempotency-Key", "in": "header", "description": words, "schema": schema}),
            );
        }
        all
    }

    /// A name for programs: `getClutchesIdShift`.
    fn id(&self) -> String {
        let word = |w: &str| {
            let mut letters = w.chars();
            letters.next().map(|c| c.to_ascii_uppercase().to_string() + letters.as_str()).unwrap_or_default()
        };
        let path = self.path.strip_prefix("/api/v1").unwrap_or(self.path);
        let words: String = path.split(|c: char| !c.is_ascii_alphanumeric()).map(word).collect();
        format!("{}{words}", if self.post { "post" } else { "get" })
    }

    pub(super) fn describe(self) -> Value {
        let mut all = json!({
            "tags": [self.tag],
            "summary": self.summary,
            "operationId": self.id(),
            "parameters": self.parameters(),
        });
        if let Some(words) = self.about {
            all["description"] = words.into();
        }
        if self.need() == Need::Public {
            all["security"] = json!([]);
        } else {
            all["security"] = json!([{"token": []}, {"session": []}]);
        }
        let mut answers = self.answers.clone();
        for (status, words) in self.refusals() {
            let content = json!({"application/problem+json": {"schema": reference("Problem")}});
            answers.entry(status.to_string()).or_insert(json!({"description": words, "content": content}));
        }
        all["responses"] = Value::Object(answers);
        if let Some((schema, example)) = self.body {
            let mut content = json!({"schema": schema});
            if let Some(example) = example {
                content["example"] = example;
            }
            all["requestBody"] = json!({"required": true, "content": {"application/json": content}});
        }
        all
    }
}

/// A piece of an address.
fn place(path: &str, name: &str) -> Value {
    let text = json!({"type": "string", "minLength": 1});
    let (schema, words, example) = match name {
        "id" if path.contains("/clutches/") => (reference("ClutchId"), "Name of a clutch or a group.", "C06"),
        "id" if path.contains("/vessels/") => (reference("VesselId"), "Name of a vessel.", "V1"),
        "id" if path.contains("/mothers/") => (reference("MotherId"), "Code of a mother.", "bur-03"),
        "id" => (text, "Id of an alarm, as GET /api/v1/alarms lists them.", "TU1.air-stopped"),
        "vessel" => (reference("VesselId"), "Vessel of the probe.", "V1"),
        "quantity" => (reference("Quantity"), "What the probe measures.", "temperature"),
        "date" => (
            json!({"type": "string", "pattern": "^(last|20[2-9][0-9]-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01]))$"}),
            "Date of the night's evening, or last for the last one that has ended.",
            "last",
        ),
        "number" => (json!({"type": "integer", "minimum": 0}), "Number of the comparison.", "1"),
        "claim" => (json!({"type": "integer", "minimum": 0}), "Number of the claimed entry.", "1"),
        "file" => (text, "The secret part of the feed's address, with .ics at its end.", "c0ffee.ics"),
        _ => (text, "Key or name, as the list of them has it.", "my-fish"),
    };
    json!({"name": name, "in": "path", "required": true, "description": words, "schema": schema, "example": example})
}
