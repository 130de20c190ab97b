//! Signing in, sessions, tokens, and what others try against them; the list follows the OWASP cheat sheets on session
//! management, authentication and cross-site request forgery.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
#[path = "common/vault.rs"]
mod vault;

use axum::http::{StatusCode, header};
use common::now;
use units::Span;
use vault::{App, Ask, PASSWORD, cookies, signing, text, turned_away};
use web::access::{AccessSettings, How, Role, Scope};

fn settings() -> AccessSettings {
    AccessSettings { sign_in: true, ..AccessSettings::default() }
}

async fn signed_in(app: &App, ask: Ask) -> (String, String) {
    let answer = app.ask(ask).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    let given = cookies(&answer);
    let of = |name: &str| given.iter().find(|(pair, _)| pair.starts_with(name)).unwrap().0.clone();
    (of("hatchwarden="), of("hatchwarden-device="))
}

async fn reads(app: &App, cookie: &str) -> bool {
    app.ask(Ask::get("/api/v1/room").cookie(cookie)).await.status() == StatusCode::OK
}

#[tokio::test]
async fn signing_in_leads_back_with_a_cookie_that_scripts_cannot_read() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let answer = app.ask(Ask::get("/clutches/C06/what-if?celsius=25&life=rest")).await;
    let to = answer.headers()[header::LOCATION].to_str().unwrap().to_owned();
    assert_eq!(to, "/sign-in?to=/clutches/C06/what-if%3Fcelsius%3D25%26life%3Drest");
    let form = text(app.ask(Ask::get(&to)).await).await;
    assert!(form.contains("name=\"to\" value=\"/clutches/C06/what-if?celsius=25&amp;life=rest\""), "{form}");
    assert!(!form.contains("<nav"), "nothing of the room is shown");

    let answer = app.ask(signing("ada", PASSWORD)).await;
    assert_eq!(answer.headers()[header::LOCATION], "/log");
    for (pair, line) in cookies(&answer) {
        assert!(
            line.contains("; Path=/; HttpOnly; SameSite=Lax; Max-Age=") && !line.contains("Secure"),
            "{line}"
        );
        assert!(pair.split_once('=').unwrap().1.len() >= 43, "256 bits");
    }
    let (cookie, _) = signed_in(&app, signing("Ada", PASSWORD)).await;
    let page = text(app.ask(Ask::get("/log").cookie(&cookie)).await).await;
    assert!(page.contains("Signed in as <bdi>Ada</bdi>"), "{page}");
    let held = app.held();
    assert!(
        !format!("{:?}", held.sessions).contains(cookie.split_once('=').unwrap().1),
        "only a hash is kept"
    );
    assert_eq!((held.lines[0].who.as_str(), held.lines[0].what.as_str()), ("Ada", "signed in"));
    assert_eq!(held.lines[0].address, "192.0.2.7");
}

#[tokio::test]
async fn behind_tls_cookies_are_for_tls_and_this_host_alone() {
    let app = App::with(AccessSettings { tls_host: Some("fishroom.example".into()), ..settings() });
    app.add("Ada", Role::Keeper);
    let answer = app.ask(signing("Ada", PASSWORD).with("host", "fishroom.example")).await;
    let given = cookies(&answer);
    assert_eq!(given.len(), 2);
    for (pair, line) in &given {
        // RFC 6265bis, 4.1.3.2: what browsers ask of a cookie with this prefix.
        assert!(pair.starts_with("__Host-"), "{line}");
        assert!(
            line.contains("; Secure") && line.contains("; Path=/;") && !line.contains("Domain"),
            "{line}"
        );
    }
    // A cookie that was planted without TLS is not taken there.
    let plain = given[0].0.replace("__Host-", "");
    let room = || Ask::get("/api/v1/room").with("host", "fishroom.example");
    assert_eq!(app.ask(room().cookie(&plain)).await.status(), StatusCode::UNAUTHORIZED);
    assert_eq!(app.ask(room().cookie(&given[0].0)).await.status(), StatusCode::OK);
}

#[tokio::test]
async fn a_planted_session_is_worth_nothing_after_signing_in() {
    let app = App::new();
    let (ada, eve) = (app.add("Ada", Role::Keeper), app.add("Eve", Role::Looker));
    let planted = app.session(eve);
    let (cookie, _) = signed_in(&app, signing("Ada", PASSWORD).cookie(&planted)).await;
    assert_ne!(cookie, planted);
    assert!(!reads(&app, &planted).await, "the planted one has ended");
    let (again, _) = signed_in(&app, signing("Ada", PASSWORD).cookie("hatchwarden=chosen-by-eve")).await;
    assert!(again != cookie && !reads(&app, "hatchwarden=chosen-by-eve").await);
    assert!(app.held().sessions.iter().all(|(_, s)| s.person == ada));
}

#[tokio::test]
async fn sessions_end_by_signing_out_by_age_and_with_the_password() {
    let app = App::new();
    let ada = app.add("Ada", Role::Keeper);
    let (cookie, _) = signed_in(&app, signing("Ada", PASSWORD)).await;
    let out = app.ask(Ask::form("/sign-out", "").cookie(&cookie)).await;
    assert!(cookies(&out)[0].1.starts_with("hatchwarden=; ") && cookies(&out)[0].1.contains("Max-Age=0"));
    assert!(!reads(&app, &cookie).await, "ended in the store, not in the browser only");

    for (since, seen, good) in [(6, 6, true), (29, 6, true), (8, 8, false), (31, 0, false)] {
        let cookie = app.session(ada);
        for (_, s) in &mut app.held().sessions {
            (s.since, s.seen) = (now() - Span::days(since), now() - Span::days(seen));
        }
        assert_eq!(reads(&app, &cookie).await, good, "begun {since} days ago, used {seen} days ago");
        app.held().sessions.clear();
    }

    let (here, _) = signed_in(&app, signing("Ada", PASSWORD)).await;
    let (there, _) = signed_in(&app, signing("Ada", PASSWORD).from("192.0.2.9")).await;
    let wrong = "old=not+the+old+one+at+all&new=another+horse+altogether";
    let answer = app.ask(Ask::form("/own/password", wrong).cookie(&here)).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(answer).await.contains("that is not your password"));
    let right = format!("old={}&new=another+horse+altogether", PASSWORD.replace(' ', "+"));
    let answer = app.ask(Ask::form("/own/password", &right).cookie(&here)).await;
    let new = cookies(&answer)[0].0.clone();
    assert!(!reads(&app, &here).await && !reads(&app, &there).await && reads(&app, &new).await);
    assert_eq!(app.ask(signing("Ada", PASSWORD)).await.status(), StatusCode::UNAUTHORIZED);
    assert_eq!(app.ask(signing("Ada", "another horse altogether")).await.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_wrong_name_and_a_wrong_password_are_told_alike_and_cost_alike() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let mut said = Vec::new();
    for name in ["Ada", "Ida"] {
        let before = app.access.passwords_checked();
        let answer = app.ask(signing(name, "wrong horse battery")).await;
        assert_eq!(answer.status(), StatusCode::UNAUTHORIZED);
        assert!(cookies(&answer).is_empty());
        assert_eq!(app.access.passwords_checked(), before + 1, "{name}");
        said.push(text(answer).await.replace(name, "NAME"));
    }
    assert_eq!(said[0], said[1]);
    // A name that nobody has may be a password in the wrong field.
    assert!(app.held().lines.iter().all(|l| !l.who.contains("Ida")), "{:?}", app.held().lines);
}

#[tokio::test]
async fn a_flood_of_wrong_passwords_does_not_lock_the_owner_out() {
    let app = App::new();
    let ada = app.add("Ada", Role::Keeper);
    let (session, device) = signed_in(&app, signing("Ada", PASSWORD)).await;
    let token = app.token(Scope::Read);
    let mut refused = 0;
    for _ in 0..40 {
        let answer = app.ask(signing("Ada", "wrong horse battery")).await;
        refused += usize::from(answer.status() == StatusCode::TOO_MANY_REQUESTS);
    }
    assert_eq!(refused, 37, "three slips, then the delay");
    assert!(app.held().lines.len() < 6, "a flood does not fill the log: {}", app.held().lines.len());
    // Where the flood comes from, one waits.
    let answer = app.ask(signing("Ada", PASSWORD)).await;
    assert_eq!(answer.status(), StatusCode::TOO_MANY_REQUESTS);
    let after: u64 = answer.headers()[header::RETRY_AFTER].to_str().unwrap().parse().unwrap();
    assert!((1..=60).contains(&after), "{after}");
    // But not elsewhere, not as somebody else, not on a device that is known, and nobody is signed out.
    app.add("Bo", Role::Helper);
    signed_in(&app, signing("Ada", PASSWORD).from("192.0.2.8")).await;
    signed_in(&app, signing("Bo", PASSWORD)).await;
    signed_in(&app, signing("Ada", PASSWORD).cookie(&device)).await;
    assert!(reads(&app, &session).await);
    assert_eq!(app.ask(Ask::get("/api/v1/room").bearer(&token)).await.status(), StatusCode::OK);
    // A device that somebody else was known on, or a forged one, is any device.
    let answer = app.ask(signing("Ada", PASSWORD).cookie("hatchwarden-device=a.b")).await;
    assert_eq!(answer.status(), StatusCode::TOO_MANY_REQUESTS);
    let (_, of_bo) = signed_in(&app, signing("Bo", PASSWORD)).await;
    let answer = app.ask(signing("Ada", PASSWORD).cookie(&of_bo)).await;
    assert_eq!(answer.status(), StatusCode::TOO_MANY_REQUESTS);
    assert!(app.held().people.iter().any(|p| p.id == ada));
}

#[tokio::test]
async fn a_flood_at_once_gets_no_more_tries_than_one_after_the_other() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    let all = (0..30).map(|_| app.ask(signing("Ada", "wrong horse battery")));
    let all = futures::future::join_all(all).await;
    assert_eq!(app.access.passwords_checked(), 3);
    assert_eq!(all.iter().filter(|a| a.status() == StatusCode::UNAUTHORIZED).count(), 3);
}

#[tokio::test]
async fn other_sites_change_nothing() {
    let app = App::new();
    let cookie = app.session(app.add("Ada", Role::Keeper));
    let acknowledge = || Ask::json("/api/v1/alarms/TU1.air-stopped/acknowledge", "{}");
    let form = || Ask::form("/people", "name=Eve&role=keeper&password=correct+horse+battery");
    let foreign = [
        acknowledge().with("sec-fetch-site", "cross-site"),
        acknowledge().with("sec-fetch-site", "same-site"),
        acknowledge().with("origin", "https://evil.example"),
        acknowledge().with("origin", "null"),
        // No browser: a session is not for programs.
        acknowledge(),
        form().with("sec-fetch-site", "cross-site"),
        form().without("sec-fetch-site").with("origin", "http://evil.example"),
        form().without("sec-fetch-site"),
    ];
    for ask in foreign {
        let said = format!("{:?}", ask.0.headers());
        assert_eq!(app.ask(ask.cookie(&cookie)).await.status(), StatusCode::FORBIDDEN, "{said}");
    }
    let planted = signing("Ada", PASSWORD).with("sec-fetch-site", "cross-site");
    assert_eq!(app.ask(planted).await.status(), StatusCode::FORBIDDEN, "nor does it sign anybody in");
    assert!(app.keeper.heard().is_empty() && app.held().people.len() == 1);
    let own = acknowledge().with("origin", "http://localhost").cookie(&cookie);
    assert!(turned_away(&app.ask(own).await).is_none());
    assert_eq!(
        app.ask(acknowledge().bearer(&app.token(Scope::Record))).await.status(),
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn who_is_signed_in_acts_in_that_name_whatever_is_typed() {
    let app = App::new();
    app.keeper.room.send_replace(std::sync::Arc::new(common::alarm()));
    let cookie = app.session(app.add("Ada", Role::Helper));
    let form = Ask::form("/alarms/V2.too-cold/acknowledge", "by=Eve").cookie(&cookie).from("192.0.2.7");
    assert_eq!(app.ask(form).await.status(), StatusCode::SEE_OTHER);
    let token = app.token(Scope::Record);
    let json = Ask::json("/api/v1/alarms/V2.too-cold/acknowledge", r#"{"by":"Eve"}"#).bearer(&token);
    assert_eq!(app.ask(json).await.status(), StatusCode::NO_CONTENT);
    assert_eq!(app.keeper.heard(), ["acknowledge V2.too-cold by Ada", "acknowledge V2.too-cold by a script"]);
    let lines = app.held().lines.clone();
    let said: Vec<_> =
        lines.iter().map(|l| (l.who.as_str(), l.how, l.what.as_str(), l.place.as_str())).collect();
    assert_eq!(
        said,
        [
            ("Ada", How::Session, "took an alarm on", "/alarms/V2.too-cold/acknowledge"),
            ("a script", How::Token, "took an alarm on", "/api/v1/alarms/V2.too-cold/acknowledge"),
        ]
    );
    let page = text(app.ask(Ask::get("/clutches").cookie(&cookie)).await).await;
    assert!(page.contains("By <bdi>Ada</bdi>.") && !page.contains("Your name"), "nobody types a name");
    // What did not work is no change.
    let failed = Ask::form("/alarms/none/acknowledge", "").cookie(&cookie);
    assert_eq!(app.ask(failed).await.status(), StatusCode::NOT_FOUND);
    assert_eq!(app.held().lines.len(), 2);
}

#[tokio::test]
async fn on_the_machine_itself_the_typed_name_is_written_down() {
    let app = App::with(AccessSettings::default());
    app.keeper.room.send_replace(std::sync::Arc::new(common::alarm()));
    let form = Ask::form("/alarms/V2.too-cold/acknowledge", "by=Ada").from("127.0.0.1");
    assert_eq!(app.ask(form).await.status(), StatusCode::SEE_OTHER);
    let lines = app.held().lines.clone();
    assert_eq!(
        (lines[0].who.as_str(), lines[0].how, lines[0].address.as_str()),
        ("Ada", How::Machine, "127.0.0.1")
    );
    let audit = text(app.ask(Ask::get("/audit")).await).await;
    assert!(audit.contains("<bdi>Ada</bdi></b> <bdi>took an alarm on</bdi>"), "{audit}");
}

#[tokio::test]
async fn nothing_is_shown_before_there_is_a_keeper_and_the_cure_is_said() {
    let app = App::new();
    for path in ["/", "/sign-in", "/people", "/api/v1/room"] {
        let answer = app.ask(Ask::get(path)).await;
        assert_eq!(answer.status(), StatusCode::SERVICE_UNAVAILABLE, "{path}");
        let said = text(answer).await;
        assert!(said.contains("hatchwarden people --config FILE add NAME --role keeper"), "{said}");
        assert!(!said.contains("C06"), "nothing of the room");
    }
    assert_eq!(app.ask(Ask::get("/live")).await.status(), StatusCode::OK);
    app.add("Ada", Role::Keeper);
    assert_eq!(app.ask(Ask::get("/sign-in")).await.status(), StatusCode::OK, "without a restart");
}

#[tokio::test]
async fn only_a_proxy_of_ours_says_where_a_request_comes_from() {
    let proxies = vec!["192.0.2.2".parse().unwrap()];
    let app = App::with(AccessSettings { proxies, ..settings() });
    app.add("Ada", Role::Keeper);
    for (peer, said, address) in [
        ("192.0.2.7", "198.51.100.1", "192.0.2.7"),
        ("192.0.2.2", "203.0.113.9, 198.51.100.1", "198.51.100.1"),
        ("192.0.2.2", "198.51.100.1, 192.0.2.2", "198.51.100.1"),
        ("192.0.2.2", "<script>", "192.0.2.2"),
    ] {
        app.ask(signing("Ada", PASSWORD).from(peer).with("x-forwarded-for", said)).await;
        assert_eq!(app.held().lines.last().unwrap().address, address, "{peer} says {said}");
    }
}

const EVIL: &str = "<script>alert(1)</script>\"'&<img src=x>";

#[tokio::test]
async fn names_are_text_wherever_they_are_shown() {
    let app = App::new();
    // Hebrew reads from the right; the second is a fish.
    let names = [EVIL, "\u{1f420} O'Brien \"Bo\"", "\u{5d0}\u{5d3}\u{5d4}"];
    for name in names {
        let id = app.add(name, Role::Keeper);
        let cookie = app.session(id);
        let made =
            app.ask(Ask::form("/tokens", &format!("token={}&scope=read", "%3Cb%3Ex")).cookie(&cookie)).await;
        assert_eq!(made.status(), StatusCode::OK);
        for path in ["/people", "/audit", "/own", "/log", "/clutches"] {
            let page = text(app.ask(Ask::get(path).cookie(&cookie)).await).await;
            assert!(
                !page.contains("<script>alert") && !page.contains("<img src=x") && !page.contains("<b>x"),
                "{path}"
            );
            let escaped =
                name.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;");
            assert!(
                page.contains(&format!("<bdi>{escaped}</bdi>")),
                "{path}: {name} stands apart from what is round it"
            );
        }
    }
    // Letters that cannot be seen, and turn the direction of others, are refused.
    let cookie = app.session(1);
    for bad in ["%E2%80%AEadA", "Ada%00", "A%E2%80%8Bda", "", "%20"] {
        let form = format!("name={bad}&role=helper&password=correct+horse+battery");
        let answer = app.ask(Ask::form("/people", &form).cookie(&cookie)).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{bad}");
    }
}

#[tokio::test]
async fn nothing_that_is_sent_comes_back_as_script() {
    let app = App::new();
    let cookie = app.session(app.add("Ada", Role::Keeper));
    let evil: String = EVIL.bytes().map(|b| format!("%{b:02X}")).collect();
    let mut asks = vec![
        signing(EVIL, PASSWORD),
        Ask::form("/people", &format!("name={evil}&role={evil}&password=short")),
        Ask::form("/tokens", &format!("token={evil}&scope={evil}")),
        Ask::form("/people/1/role", &format!("role={evil}")),
        Ask::form("/clutches", &format!("id={evil}&fish={evil}")),
        Ask::form("/species", &format!("text={evil}")),
        Ask::form("/alarms/none/shelve", &format!("minutes={evil}&why={evil}")),
    ];
    for path in [
        "/sign-in?to=",
        "/probes/claim?topic=",
        "/probes/compare?probe=",
        "/clutches/C06/what-if?celsius=",
        "/audit?before=",
        "/",
    ] {
        asks.push(Ask::get(&format!("{path}{evil}")));
    }
    for ask in asks {
        let (said, path) = (format!("{} {}", ask.0.method(), ask.0.uri()), ask.0.uri().path().to_owned());
        let ask = if path == "/sign-in" { ask } else { ask.cookie(&cookie) };
        let answer = app.ask(ask).await;
        let policy = answer.headers()[header::CONTENT_SECURITY_POLICY].to_str().unwrap().to_owned();
        assert!(policy.contains("script-src 'self'") && !policy.contains("unsafe"), "{said}");
        assert!(!answer.status().is_server_error(), "{said}: {}", answer.status());
        let page = text(answer).await;
        assert!(!page.contains("<script>alert") && !page.contains("<img src=x"), "{said}\n{page}");
    }
}

#[tokio::test]
async fn no_path_leads_out() {
    let app = App::new();
    app.add("Ada", Role::Keeper);
    for path in [
        "/assets/x/night.css",
        "/assets/x/..%2f..%2fCargo.toml",
        "/assets/%2e%2e/Cargo.toml",
        "/assets/x/%2e%2e%2f%2e%2e%2fsrc%2flib.rs",
        "/assets/x/%2fetc%2fpasswd",
        "/assets/x/night.css%00.js",
        "/calendar/..%2f..%2fetc%2fpasswd",
        "/calendar/%2e%2e%2froom.db",
        "/calendar/guess.ics",
        "/on-it/..%2fpeople",
    ] {
        let answer = app.ask(Ask::get(path)).await;
        assert_eq!(answer.status(), StatusCode::NOT_FOUND, "{path}");
        let said = text(answer).await;
        assert!(
            !said.contains("root:") && !said.contains("[package]") && !said.contains("mod api"),
            "{path}"
        );
    }
}

#[tokio::test]
async fn keepers_let_people_and_programs_in_and_out() {
    let app = App::new();
    let cookie = app.session(app.add("Ada", Role::Keeper));
    let post = async |path: &str, body: &str| app.ask(Ask::form(path, body).cookie(&cookie)).await;
    for (body, said) in [
        ("name=Bo&role=helper&password=too+short", "9 letters are too few"),
        ("name=Bo&role=chief&password=correct+horse+battery", "is no role"),
        ("name=&role=helper&password=correct+horse+battery", "1 to 60 letters"),
    ] {
        let page = text(post("/people", body).await).await;
        assert!(page.contains(said), "{said}");
        assert!(!page.contains("horse"), "a password is not sent back");
    }
    assert_eq!(
        post("/people", "name=Bo&role=helper&password=wrong+horse+battery").await.status(),
        StatusCode::SEE_OTHER
    );
    let (bo, _) = signed_in(&app, signing("Bo", "wrong horse battery")).await;
    let id = app.held().people[1].id;
    assert_eq!(post(&format!("/people/{id}/role"), "role=looker").await.status(), StatusCode::SEE_OTHER);
    let said = app.ask(Ask::form("/alarms/x/acknowledge", "").cookie(&bo)).await;
    assert_eq!(said.status(), StatusCode::FORBIDDEN, "the new role holds at once");
    assert!(text(said).await.contains("As a looker you may not do that"));

    let page = text(post("/tokens", "token=a+lamp&scope=read").await).await;
    let token = page.split("class=\"token\">").nth(1).unwrap().split('<').next().unwrap().to_owned();
    assert!(token.starts_with("hw_") && token.len() >= 46, "{token}");
    assert!(!text(app.ask(Ask::get("/people").cookie(&cookie)).await).await.contains(&token), "shown once");
    assert!(!format!("{:?}", app.held().tokens).contains(&token));
    let room = || Ask::get("/api/v1/room").bearer(&token);
    assert_eq!(app.ask(room()).await.status(), StatusCode::OK);
    let number = app.held().tokens[0].1.id;
    post(&format!("/tokens/{number}/withdraw"), "").await;
    let refused = app.ask(room()).await;
    assert_eq!(refused.status(), StatusCode::UNAUTHORIZED);
    assert_eq!(refused.headers()[header::WWW_AUTHENTICATE], "Bearer");
    assert_eq!(refused.headers()[header::CONTENT_TYPE], "application/problem+json");

    assert!(reads(&app, &bo).await);
    let session = app.held().sessions.iter().find(|(_, s)| s.person == id).unwrap().1.id;
    post(&format!("/sessions/{session}/end"), "").await;
    assert!(!reads(&app, &bo).await);
    post(&format!("/people/{id}/remove"), "").await;
    let answer = app.ask(Ask::get("/api/v1/audit").cookie(&cookie)).await;
    let log: serde_json::Value = serde_json::from_str(&text(answer).await).unwrap();
    let said: Vec<_> =
        log["lines"].as_array().unwrap().iter().rev().map(|l| l["what"].as_str().unwrap()).collect();
    assert_eq!(
        said,
        [
            "added Bo as helper",
            "signed in",
            "made Bo a looker",
            "made a token for a lamp with the scope read",
            "withdrew the token for a lamp",
            "ended a session of Bo",
            "removed Bo, looker",
        ]
    );
    assert!(log["before"].is_null());
}

#[tokio::test]
async fn the_log_is_read_a_page_at_a_time() {
    let app = App::new();
    let cookie = app.session(app.add("Ada", Role::Keeper));
    let line = web::access::Line {
        at: now(),
        who: "Ada".into(),
        how: How::Session,
        address: "192.0.2.7".into(),
        what: "signed in".into(),
        place: "/sign-in".into(),
    };
    app.held().lines = vec![line; 250];
    let mut seen = Vec::new();
    let mut path = "/api/v1/audit".to_owned();
    loop {
        let answer = app.ask(Ask::get(&path).cookie(&cookie)).await;
        let page: serde_json::Value = serde_json::from_str(&text(answer).await).unwrap();
        seen.push(page["lines"].as_array().unwrap().len());
        match page["next"].as_u64() {
            Some(before) => path = format!("/api/v1/audit?after={before}"),
            None => break,
        }
    }
    assert_eq!(seen, [100, 100, 50]);
    let html = text(app.ask(Ask::get("/audit").cookie(&cookie)).await).await;
    assert!(html.contains("href=\"/audit?before=151\""), "older lines are a touch away");
}

#[tokio::test(start_paused = true)]
async fn an_open_stream_ends_with_its_session() {
    use http_body_util::BodyExt;
    let app = App::new();
    let cookie = app.session(app.add("Ada", Role::Looker));
    let answer = app.ask(Ask::get("/api/v1/events").cookie(&cookie)).await;
    let mut body = answer.into_body();
    let first = body.frame().await.unwrap().unwrap().into_data().unwrap();
    assert!(first.starts_with(b"event: room"));
    app.held().sessions.clear();
    let mut pieces = 0;
    while let Some(frame) = body.frame().await {
        assert!(!frame.unwrap().into_data().unwrap().starts_with(b"event: room"), "nothing more of the room");
        pieces += 1;
        assert!(pieces < 5, "it goes on");
    }
}

#[tokio::test]
async fn what_a_looker_may_not_do_is_not_offered() {
    let app = App::new();
    let looker = app.session(app.add("Lu", Role::Looker));
    let keeper = app.session(app.add("Ada", Role::Keeper));
    let page = async |cookie: &str| text(app.ask(Ask::get("/").cookie(cookie)).await).await;
    let sign_in = text(app.ask(Ask::get("/sign-in")).await).await;
    assert!(sign_in.contains("<body>"), "the form of signing in is offered to everybody");
    let (hers, his) = (page(&looker).await, page(&keeper).await);
    assert!(hers.contains("<body class=\"looks\">") && !hers.contains("href=\"/people\""));
    assert!(his.contains("<body>") && his.contains("href=\"/people\"") && his.contains("href=\"/audit\""));
}
