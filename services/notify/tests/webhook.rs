//! Webhooks in the form that a receiver wants: names, templates, headers, methods; through a real socket where something is sent.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{header, receiver};
use notify::{Failure, Item, Method, Way, WebhookSettings, sign, webhook};
use serde_json::{Value, json};

const SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
const CHAT: &str = r#"{"text": {{ data.subject | json }}, "urgent": {{ (data.priority == 1) | json }}}"#;

fn settings(url: &str) -> WebhookSettings {
    WebhookSettings::new("siren".to_owned(), url.to_owned(), Some(SECRET.to_owned().into()))
}

fn item(body: &str) -> Item {
    Item { id: "msg_undercroft-TU3".to_owned(), way: "siren".to_owned(), body: body.to_owned(), tries: 0 }
}

fn alarm() -> String {
    let data =
        json!({ "subject": "TU3 \"back row\" lies still", "message": "Air stopped.\nLook.", "priority": 1 });
    json!({ "type": "alarm.raised", "timestamp": "2026-03-14T01:52:00Z", "data": data }).to_string()
}

/// Delivers a body to a receiver that gives this answer; how it went, and the request that came.
async fn delivered(
    answer: &'static str,
    body: &str,
    change: impl FnOnce(&mut WebhookSettings),
) -> (Result<(), Failure>, String) {
    let (url, mut requests) = receiver(vec![Some(answer)]).await;
    let mut settings = settings(&url);
    change(&mut settings);
    let tried = webhook(settings).unwrap().deliver(&item(body), 1_700_000_000).await;
    (tried, requests.recv().await.unwrap())
}

fn body(request: &str) -> &str {
    request.split_once("\r\n\r\n").unwrap().1
}

#[tokio::test]
async fn a_template_makes_the_body_and_the_signature_is_of_what_was_sent() {
    let template = |s: &mut WebhookSettings| s.template = Some(CHAT.to_owned());
    let (tried, request) = delivered("200 OK", &alarm(), template).await;
    assert_eq!(tried, Ok(()));
    let sent: Value = serde_json::from_str(body(&request)).unwrap();
    assert_eq!(sent, json!({ "text": "TU3 \"back row\" lies still", "urgent": true }));
    assert_eq!(header(&request, "content-type"), "application/json");
    let key = base64::Engine::decode(&base64::engine::general_purpose::STANDARD, &SECRET[6..]).unwrap();
    let signed = sign(&key, "msg_undercroft-TU3", 1_700_000_000, body(&request));
    assert_eq!(header(&request, "webhook-signature"), signed);
}

#[tokio::test]
async fn method_content_type_and_headers_are_those_of_the_settings() {
    let (tried, request) = delivered("201 Created", &alarm(), |s| {
        s.secret = None;
        s.method = Method::Put;
        s.content_type = "text/plain".to_owned();
        s.template = Some("{{ data.subject }}".to_owned());
        s.headers = vec![("Authorization".to_owned(), "Bearer moonfish\n".to_owned().into())];
    })
    .await;
    assert_eq!(tried, Ok(()));
    assert!(request.starts_with("PUT /alarms?key=private HTTP/1.1\r\n"), "{request}");
    assert_eq!(header(&request, "authorization"), "Bearer moonfish");
    assert_eq!(header(&request, "content-type"), "text/plain");
    assert_eq!(header(&request, "webhook-id"), "msg_undercroft-TU3");
    assert!(!request.contains("webhook-signature"), "nothing to sign with: {request}");
    assert_eq!(body(&request), "TU3 \"back row\" lies still");
}

#[tokio::test]
async fn an_alarm_that_its_template_fails_on_leaves_as_bare_words() {
    let without_priority =
        json!({ "type": "alarm.raised", "data": { "subject": "TU3 lies still", "message": "Air stopped." } });
    for (answer, good) in [("200 OK", true), ("400 Bad Request", false)] {
        let template = |s: &mut WebhookSettings| s.template = Some(format!("\n{CHAT}"));
        let (tried, request) = delivered(answer, &without_priority.to_string(), template).await;
        assert_eq!(body(&request), "TU3 lies still\n\nAir stopped.");
        assert_eq!(header(&request, "content-type"), "text/plain; charset=utf-8");
        match tried {
            Ok(()) => assert!(good),
            Err(Failure::Later { reason, .. }) => {
                assert!(!good && reason.contains("[[webhook]] siren template"), "{reason}");
                assert!(reason.contains("template line 2") && reason.contains("default"), "{reason}");
            }
            Err(never) => panic!("{never:?}"),
        }
    }
}

#[tokio::test]
async fn a_body_that_is_no_json_leaves_all_the_same() {
    let template = |s: &mut WebhookSettings| s.template = Some(CHAT.to_owned());
    let (tried, request) = delivered("200 OK", "air stopped at TU3", template).await;
    assert_eq!((tried, body(&request)), (Ok(()), "message\n\nair stopped at TU3"));
}

fn said(change: impl FnOnce(&mut WebhookSettings)) -> String {
    let mut settings = settings("https://example.org/alarms");
    change(&mut settings);
    webhook(settings).map(|_| ()).unwrap_err().to_string()
}

fn headers(name: &str, value: &str) -> Vec<(String, notify::Secret)> {
    vec![(name.to_owned(), value.to_owned().into())]
}

#[test]
fn a_name_is_that_of_the_way() {
    assert_eq!(webhook(settings("https://example.org")).unwrap().name(), "siren");
}

#[test]
fn a_template_is_tried_when_it_is_made_and_says_line_and_cure() {
    let template = |text: &str| said(|s| s.template = Some(text.to_owned()));
    let misspelt = template("{\n\"text\": {{ data.subjct | json }}\n}");
    assert!(misspelt.starts_with("template line 2:") && misspelt.contains("data.subjct"), "{misspelt}");
    // Alarms of the service itself have no clutch.
    let missing = template("{{ data.clutch.fish | json }}");
    assert!(missing.contains("line 1") && missing.contains("default"), "{missing}");
    let bare = template("{\"text\":\n\"{{ data.subject }}\"}");
    assert!(bare.contains("line 2 of the body") && bare.contains("data.subject | json"), "{bare}");
    assert!(bare.contains("content_type"), "{bare}");
}

#[test]
fn text_need_not_be_json() {
    let mut settings = settings("https://example.org/alarms");
    settings.template = Some("{{ data.subject }}".to_owned());
    settings.content_type = "text/plain".to_owned();
    assert!(webhook(settings).is_ok());
}

#[test]
fn headers_that_will_not_do_are_refused_without_showing_their_value() {
    for (name, value, cure) in [
        ("X Key", "moonfish", "letters, digits"),
        ("", "moonfish", "letters, digits"),
        ("Content-Type", "moonfish", "write content_type instead"),
        ("Webhook-Signature", "moonfish", "leave it out"),
        ("Host", "moonfish", "url"),
        ("X-Key", "moon\r\nfish", "one line"),
        ("X-Key", "moon\u{0}fish", "one line"),
    ] {
        let said = said(|s| s.headers = headers(name, value));
        assert!(said.contains(&format!("headers {name:?}")) && said.contains(cure), "{said}");
        assert!(!said.contains("fish"), "{said}");
    }
    let said = said(|s| s.content_type = "text/\nplain".to_owned());
    assert!(said.starts_with("content_type \"text/\\nplain\""), "{said}");
}

#[test]
fn addresses_and_secrets_that_will_not_do_are_refused_without_showing_the_secret() {
    let url = |url: &str| said(|s| s.url = url.to_owned());
    assert!(url("ftp://example.org").contains("https://example.org/alarms"));
    assert!(url("alarms").contains("\"alarms\""));
    let mistyped = url("htps://example.org/alarms?key=private");
    assert!(mistyped.contains("htps://example.org/alarms") && !mistyped.contains("private"), "{mistyped}");
    for bad in ["MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "whsec_short", "whsec_c2hvcnQ="] {
        let said = said(|s| s.secret = Some(bad.to_owned().into()));
        assert!(said.contains("secret_file") && !said.contains(bad), "{said}");
    }
    let shown = format!("{:?}", settings("https://example.org"));
    assert!(!shown.contains("MfKQ") && shown.contains("hidden"), "{shown}");
}
