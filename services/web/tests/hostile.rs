//! What hostile names and hostile sites try, on every page, form and call of the API.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
#[path = "common/vault.rs"]
mod vault;

use axum::http::{StatusCode, header};
use serde_json::{Value, json};
use std::sync::Arc;
use vault::{App, Ask, cookies, signing, text};
use web::access::{Hash, Person, Role, Session, Token};

/// Script, quotes, an emoji, and Hebrew, which is written from the right.
const NAME: &str = "<script>alert(1)</script>\"'&<img src=x onerror=alert(1)>\u{1f420}\u{5d0}\u{5d3}\u{5d4}";

const PAGES: &[&str] = &[
    "/",
    "/clutches",
    "/clutches/C06",
    "/clutches/C06/what-if?celsius=25",
    "/vessels",
    "/vessels/V1",
    "/mothers",
    "/mothers/bur-03",
    "/strip",
    "/night",
    "/night/2026-11-24",
    "/species",
    "/work",
    "/log",
    "/probes",
    "/probes/claim",
    "/probes/compare",
    "/calls",
    "/people",
    "/audit",
    "/own",
];

/// Every change of the pages, with a body that would do.
const FORMS: &[(&str, &str)] = &[
    ("/clutches", "id=C12&fish=x&species=y&vessel=V1&day0_earliest=2026-11-25T10%3A00&day0_grade=seen"),
    ("/clutches/C06/record", "what=loss&at=2026-11-25T10%3A00&count=1&reason=x"),
    ("/clutches/C06/enter", "doing=lost&at=2026-11-25T10%3A00&count=1&reason=x"),
    ("/vessels", "doing=retired&at=2026-11-25T10%3A00&name=P1"),
    ("/vessels/V1/enter", "doing=fed&at=2026-11-25T10%3A00&food=x"),
    ("/mothers/bur-03/enter", "doing=noted&at=2026-11-25T10%3A00&text=x"),
    ("/species", "text=x"),
    ("/species/my-fish/withdraw", ""),
    ("/calendar/address", ""),
    ("/probes/claim", "topic=a&vessel=V1&quantity=temperature"),
    ("/probes/compare", "probe=V1%2Ftemperature&reference=26&against=x"),
    ("/alarms/none/acknowledge", ""),
    ("/alarms/none/shelve", "minutes=5&why=x"),
    ("/alarms/none/unshelve", ""),
    ("/calls/mail/try", ""),
    ("/simulated/pace", "pace=2"),
    ("/people", "name=Eve&role=keeper&password=correct+horse+battery"),
    ("/people/1/role", "role=looker"),
    ("/people/1/remove", ""),
    ("/tokens", "token=x&scope=manage"),
    ("/own/password", "old=correct+horse+battery&password=another+horse+altogether"),
    ("/sign-out", ""),
];

fn app() -> (App, String) {
    let app = App::new();
    let ada = app.add(NAME, Role::Keeper);
    let cookie = app.session(ada);
    (app, cookie)
}

type People = (Vec<Person>, Vec<(Hash, Session)>, Vec<(Hash, Token)>);

/// People, sessions and tokens: what a hostile change would be after.
fn held(app: &App) -> People {
    let held = app.held();
    (held.people.clone(), held.sessions.clone(), held.tokens.clone())
}

/// Every string in a room is the hostile one, but for what has a form of its own: names, words, times.
fn hostile_room(app: &App) {
    let mut room = (**app.keeper.room.borrow()).clone();
    for c in &mut room.clutches {
        (c.fish, c.shift, c.warnings) = (NAME.into(), Some(NAME.into()), vec![NAME.into()]);
    }
    for task in &mut room.work {
        task.fish = NAME.into();
    }
    for r in &mut room.refusals {
        (r.place, r.reason, r.excerpt) = (NAME.into(), NAME.into(), NAME.into());
    }
    app.keeper.room.send_replace(Arc::new(room));
}

#[tokio::test]
async fn no_page_runs_what_a_name_says() {
    let (app, cookie) = app();
    hostile_room(&app);
    for path in PAGES {
        let answer = app.ask(Ask::get(path).cookie(&cookie)).await;
        assert_eq!(answer.status(), StatusCode::OK, "{path}");
        let policy = answer.headers()[header::CONTENT_SECURITY_POLICY].to_str().unwrap().to_owned();
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{path}");
        let page = text(answer).await;
        assert!(!page.contains("<script>") && !page.contains("<img src=x"), "{path}");
        assert!(!page.contains(" onerror=alert(1)>\u{1f420}"), "{path}");
        assert_eq!(page.matches("<script").count(), 1, "{path}: only our module");
        assert!(
            page.contains("&lt;script&gt;alert(1)&lt;/script&gt;&quot;"),
            "{path}: the name is there, as text"
        );
    }
}

#[tokio::test]
async fn the_api_says_a_name_as_data_and_says_that_it_is_data() {
    let (app, cookie) = app();
    hostile_room(&app);
    for path in ["room", "clutches", "clutches/C06", "work", "session", "people", "openapi.json"] {
        let answer = app.ask(Ask::get(&format!("/api/v1/{path}")).cookie(&cookie)).await;
        assert_eq!(answer.headers()[header::CONTENT_TYPE], "application/json", "{path}");
        assert_eq!(answer.headers()[header::X_CONTENT_TYPE_OPTIONS], "nosniff", "{path}");
        let body = text(answer).await;
        let said: Value = serde_json::from_str(&body).unwrap();
        let named = said.to_string().contains(&json!(NAME).to_string().trim_matches('"').to_owned());
        assert!(named || path == "openapi.json", "{path}: letter for letter as it was given");
    }
    let refused = app.ask(Ask::get(&format!("/api/v1/nights/{}", encoded("<script>"))).cookie(&cookie)).await;
    assert_eq!(refused.headers()[header::CONTENT_TYPE], "application/problem+json");
}

fn encoded(text: &str) -> String {
    text.bytes().map(|b| format!("%{b:02X}")).collect()
}

/// Letters that turn what stands behind them are refused wherever words are taken; right-to-left writing itself is not.
#[tokio::test]
async fn letters_that_turn_others_are_refused_on_every_form_and_call() {
    let (app, cookie) = app();
    let forms = [
        ("/clutches", "id=C12&species=y&vessel=V1&day0_earliest=2026-11-25T10%3A00&day0_grade=seen&fish="),
        ("/clutches/C06/record", "what=loss&at=2026-11-25T10%3A00&count=1&reason="),
        ("/vessels", "doing=retired&at=2026-11-25T10%3A00&name="),
        ("/vessels/V1/enter", "doing=fed&at=2026-11-25T10%3A00&food="),
        ("/mothers/bur-03/enter", "doing=noted&at=2026-11-25T10%3A00&text="),
        ("/species", "text="),
        ("/probes/compare", "probe=V1%2Ftemperature&reference=26&against="),
        ("/alarms/none/shelve", "minutes=5&why="),
        ("/alarms/none/acknowledge", "by="),
        ("/people", "role=helper&password=correct+horse+battery&name="),
        ("/tokens", "scope=read&token="),
    ];
    let bodies = [
        (
            "clutches",
            json!({"id": "C12", "species": "y", "vessel": "V1", "day0_earliest": "2026-11-25T10:00:00Z", "day0_grade": "seen"}),
            "fish",
        ),
        ("clutches/C06/records", json!({"what": "loss", "at": "2026-11-25T10:00:00Z", "count": 1}), "reason"),
        ("account", json!({"event": "fed", "at": "2026-11-25T10:00:00Z", "vessel": "V1"}), "food"),
        ("species", json!({}), "text"),
        ("comparisons", json!({"probe": "V1/temperature", "reference": 26.0}), "against"),
        ("alarms/none/shelve", json!({"minutes": 5}), "why"),
        ("alarms/none/acknowledge", json!({}), "by"),
    ];
    // Override, embedding, isolate (UAX 9, 2); and what is no letter at all.
    for turning in ["a\u{202e}b", "\u{202b}a", "a\u{2067}", "a\u{0}b"] {
        for (path, form) in forms {
            let ask = Ask::form(path, &format!("{form}{}", encoded(turning))).cookie(&cookie);
            let answer = app.ask(ask).await;
            assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{path} {turning:?}");
        }
        for (path, body, field) in &bodies {
            let mut body = body.clone();
            body[*field] = turning.into();
            let ask = Ask::json(&format!("/api/v1/{path}"), &body.to_string());
            let answer = app.ask(ask.with("sec-fetch-site", "same-origin").cookie(&cookie)).await;
            assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{path} {turning:?}");
            let said: Value = serde_json::from_str(&text(answer).await).unwrap();
            assert_eq!(said["field"], *field, "{path}: {said}");
            assert!(said["detail"].as_str().unwrap().contains("U+"), "{path}: {said}");
        }
    }
    assert!(
        app.keeper.heard().iter().all(|h| !h.contains("loss") && !h.contains("fed")),
        "nothing came through"
    );
    let fed = json!({"event": "fed", "at": "2026-11-25T10:00:00Z", "vessel": "V1", "food": "\u{5d0}\u{5d3}\u{5d4} \u{1f420}"});
    let ask = Ask::json("/api/v1/account", &fed.to_string()).with("sec-fetch-site", "same-origin");
    assert_eq!(app.ask(ask.cookie(&cookie)).await.status(), StatusCode::NO_CONTENT);
}

#[tokio::test]
async fn no_other_site_changes_anything_by_any_address() {
    let (app, cookie) = app();
    let description = text(app.ask(Ask::get("/api/v1/openapi.json")).await).await;
    let description: Value = serde_json::from_str(&description).unwrap();
    let calls = description["paths"].as_object().unwrap().iter().filter(|(_, m)| m["post"].is_object());
    let calls: Vec<String> = calls.map(|(p, _)| p.replace(['{', '}'], "")).collect();
    assert!(calls.len() > 15, "the description lists them");
    let before = held(&app);
    let forms = FORMS.iter().map(|(path, body)| Ask::form(path, body).without("sec-fetch-site"));
    let asks = forms.chain(calls.iter().map(|path| Ask::json(path, "{}"))).collect::<Vec<_>>();
    // What a browser sends when another site asks (Fetch standard), with TLS and without; and no browser at all.
    for (name, value) in [
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
        ("origin", "http://evil.example"),
        ("origin", "http://localhost.evil.example"),
        ("origin", "null"),
        ("x-nothing", "said"),
    ] {
        for ask in &asks {
            let mut request =
                axum::http::Request::post(ask.0.uri()).body(axum::body::Body::from("{}")).unwrap();
            request.headers_mut().extend(ask.0.headers().iter().map(|(n, v)| (n.clone(), v.clone())));
            let said = format!("{} {name}: {value}", ask.0.uri());
            let answer = app.ask(Ask(request).with(name, value).cookie(&cookie)).await;
            assert_eq!(answer.status(), StatusCode::FORBIDDEN, "{said}");
        }
    }
    assert!(app.keeper.heard().is_empty(), "{:?}", app.keeper.heard());
    assert!(before == held(&app));
}

/// An address that only looks changes nothing, whatever method a proxy or a form says it stands for.
#[tokio::test]
async fn a_get_stays_a_get() {
    let (app, cookie) = app();
    for (path, body) in FORMS {
        for ask in [
            Ask::get(&format!("{path}?{body}")),
            Ask::get(&format!("{path}?_method=POST&{body}")),
            Ask::get(path).with("x-http-method-override", "POST"),
        ] {
            app.ask(ask.cookie(&cookie)).await;
        }
    }
    let looked = ["history ", "clutch ", "what if ", "shift ", "link ", "probes", "night ", "entries "];
    let done: Vec<String> = app.keeper.heard();
    let done: Vec<_> = done.iter().filter(|h| !looked.iter().any(|l| h.starts_with(l))).collect();
    assert!(done.is_empty(), "{done:?}");
    let (people, sessions, tokens) = held(&app);
    assert_eq!((people.len(), sessions.len(), tokens.len()), (1, 1, 0));
}

#[tokio::test]
async fn no_address_leads_out_of_assets_calendars_and_lists() {
    let (app, cookie) = app();
    let out = [
        "..%2f..%2fCargo.toml",
        "%2e%2e%2fCargo.toml",
        "..%5c..%5cCargo.toml",
        "%252e%252e%252fCargo.toml",
        "%2fetc%2fpasswd",
        "....%2f%2fCargo.toml",
        "Cargo.toml%00.ics",
        "file:%2f%2f%2fetc%2fpasswd",
        "..%c0%af..%c0%afetc%2fpasswd",
    ];
    for under in [
        "/assets/x/",
        "/assets/",
        "/calendar/",
        "/night/",
        "/clutches/",
        "/vessels/",
        "/mothers/",
        "/on-it/",
        "/api/v1/clutches/",
        "/api/v1/vessels/",
        "/api/v1/mothers/",
        "/api/v1/nights/",
        "/api/v1/readings/V1/",
    ] {
        for path in out.map(|o| format!("{under}{o}")) {
            let answer = app.ask(Ask::get(&path).cookie(&cookie)).await;
            assert!(answer.status().is_client_error(), "{path}: {}", answer.status());
            let said = text(answer).await;
            assert!(!said.contains("root:") && !said.contains("[package]"), "{path}");
        }
    }
}

/// Whatever session a browser is given before, signing in draws a new one, and the old one opens nothing.
#[tokio::test]
async fn no_session_is_kept_through_signing_in_or_out() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let mut seen = Vec::new();
    for planted in ["", "hatchwarden=planted", "hatchwarden=; hatchwarden=planted"] {
        let answer = app.ask(signing("Ada", vault::PASSWORD).cookie(planted)).await;
        let own = cookies(&answer).into_iter().find(|(pair, _)| pair.starts_with("hatchwarden=")).unwrap().0;
        assert!(!own.contains("planted") && !seen.contains(&own) && own.len() > 30, "{own}");
        let at = |cookie: &str| Ask::get("/").cookie(cookie);
        assert_eq!(app.ask(at(&own)).await.status(), StatusCode::OK);
        assert_eq!(app.ask(at("hatchwarden=planted")).await.status(), StatusCode::SEE_OTHER);
        app.ask(Ask::form("/sign-out", "").cookie(&own)).await;
        assert_eq!(app.ask(at(&own)).await.status(), StatusCode::SEE_OTHER, "signed out is signed out");
        seen.push(own);
    }
}
