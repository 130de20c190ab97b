//! Pages, forms and guards through the router.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use axum::response::Response;
use common::{FakeKeeper, alarm, calm, now};
use http_body_util::BodyExt;
use std::sync::Arc;
use tower::ServiceExt;
use units::Span;
use web::view::{RoomView, ShelvedView};
use web::{Settings, router};

async fn ask(keeper: &Arc<FakeKeeper>, request: Request<Body>) -> Response {
    router(keeper.clone(), Settings { hosts: vec!["fishroom.lan".into()], ..Settings::default() })
        .oneshot(request)
        .await
        .unwrap()
}

fn get(path: &str) -> Request<Body> {
    Request::get(path).header(header::HOST, "127.0.0.1:8080").body(Body::empty()).unwrap()
}

fn form(path: &str, body: &str) -> Request<Body> {
    Request::post(path)
        .header(header::HOST, "127.0.0.1:8080")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header("sec-fetch-site", "same-origin")
        .body(Body::from(body.to_owned()))
        .unwrap()
}

async fn text(response: Response) -> String {
    String::from_utf8(response.into_body().collect().await.unwrap().to_bytes().to_vec()).unwrap()
}

async fn page(room: RoomView, path: &str) -> String {
    let answer = ask(&FakeKeeper::new(room), get(path)).await;
    assert_eq!(answer.status(), StatusCode::OK, "{path}");
    text(answer).await
}

/// Text between the tags.
fn words(html: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for c in html.chars() {
        match c {
            '<' => inside = true,
            '>' => inside = false,
            c if !inside => out.push(c),
            _ => {}
        }
    }
    out
}

fn sentence(html: &str) -> String {
    words(html.split("<h1>").nth(1).unwrap().split("</h1>").next().unwrap())
}

#[tokio::test]
async fn a_calm_night_is_said_in_one_sentence() {
    let html = page(calm(), "/").await;
    assert_eq!(sentence(&html), "All three in use turn. Water steady. C06 hatches today, about 14:00.");
    assert!(words(&html).contains("Then C09 hatches Sun 29 about 02:00 ± 7 h."));
    let status = html.split("id=\"status\" role=\"status\"").nth(1).unwrap().split_once('>').unwrap().1;
    assert!(status.starts_with("</p>"), "no alarm, nothing said: {status:.80}");
    assert!(!html.contains("<form"), "nothing to press on a calm night");
    assert!(html.contains("1 drawn = 18"));
    assert!(html.contains("TU2: not heard 22:12 to 22:36; else turning"));
}

#[tokio::test]
async fn an_alarm_comes_first_with_step_time_and_button() {
    let html = page(alarm(), "/").await;
    assert_eq!(sentence(&html), "TU1 lies still since 01:52. V2 is too cold since 01:20.");
    let said = words(&html);
    for part in [
        "Next hatch: C06, today about 14:00 ± 7 h.",
        "Act within 45 min: by 02:37, 23 min left (planning value)",
        "First: Look whether the pump runs",
        "33 eggs of C06 lie still",
        "I am on it (acknowledge: TU1 lies still)",
        "Acknowledged by Ada, 01:31.",
        "Gone, but not yet acknowledged",
        "Loading three weeks of history, 7 of 21",
        "2 messages were refused.",
        "Alarm: TU1 lies still since 01:52.",
        "it switches nothing",
        "Pull the plug before hands go into the water",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    assert!(html.contains("<progress id=\"loading\" value=\"7\" max=\"21\">"));
    assert!(html.contains("action=\"/alarms/TU1.air-stopped/acknowledge\""));
}

#[tokio::test]
async fn what_is_not_known_never_looks_fine() {
    let mut room = alarm();
    room.alarms.clear();
    let html = page(room, "/").await;
    let said = sentence(&html);
    assert!(
        said.starts_with(
            "No tumbler is known to turn. TU1 lies still. TU4 is not heard. TU2 has no probe of its air."
        ),
        "{said}"
    );
    let flask = |name: &str| {
        let svg = html
            .split("<svg class=\"flask\"")
            .find(|s| s.contains(&format!("aria-label=\"{name}:")))
            .unwrap();
        svg.split("</svg>").next().unwrap().to_owned()
    };
    for unknown in ["TU2", "TU4"] {
        assert!(flask(unknown).contains("hollow") && flask(unknown).contains(">?</text>"), "{unknown}");
        assert!(!flask(unknown).contains("class=\"egg\""), "{unknown}");
    }
    assert_eq!(flask("TU1").matches("class=\"egg\"").count(), 33);
    assert!(!flask("TU1").contains("spin"));
    let mut never = calm();
    never.heard = web::view::Heard { probes: 0, silent: vec![], newest: None };
    assert_eq!(sentence(&page(never, "/").await), "No probe has been heard yet.");
    let mut lost = calm();
    lost.tanks[0].water.celsius = None;
    assert!(sentence(&page(lost, "/").await).contains("V1's temperature is not heard."));
    let mut old = calm();
    old.now = old.now - units::Span::minutes(5);
    assert!(words(&page(old, "/").await).contains("This picture is of 02:09"));
}

#[tokio::test]
async fn the_keepers_words_are_escaped_everywhere() {
    let evil = "<script>alert(1)</script>\"'&";
    let mut room = alarm();
    room.room = evil.into();
    room.clutches.iter_mut().for_each(|c| {
        c.fish = evil.into();
        c.shift = Some(evil.into());
        c.warnings = vec![evil.into()];
    });
    room.alarms[0].text = evil.into();
    room.alarms[0].subject = evil.into();
    room.alarms[0].id = format!("{evil}/..");
    room.refusals[0].excerpt = evil.into();
    for path in ["/", "/clutches", "/clutches/C06", "/log"] {
        let html = page(room.clone(), path).await;
        assert!(!html.contains("<script>"), "{path}");
        assert!(html.contains("&lt;script&gt;"), "{path}");
        assert_eq!(html.matches("<script").count(), 1, "{path}: only our module");
        assert!(!html.contains(" style=") && !html.contains(" onclick"), "{path}");
    }
}

#[tokio::test]
async fn every_answer_carries_the_policy() {
    let keeper = FakeKeeper::new(calm());
    for path in [
        "/",
        "/clutches",
        "/clutches/C06",
        "/clutches/none",
        "/log",
        "/live",
        "/nowhere",
        "/api/v1/room",
        "/api/v1/x",
    ] {
        let answer = ask(&keeper, get(path)).await;
        let h = answer.headers();
        let policy = h[header::CONTENT_SECURITY_POLICY].to_str().unwrap();
        assert!(
            policy.starts_with("default-src 'none'; script-src 'self'")
                && policy.ends_with("frame-ancestors 'none'")
        );
        assert_eq!(h[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
        assert!(h.contains_key(header::REFERRER_POLICY));
        assert_eq!(h[header::CACHE_CONTROL], "no-store", "{path}");
    }
}

#[tokio::test]
async fn assets_are_for_ever_and_named_by_their_content() {
    let html = page(calm(), "/").await;
    let keeper = FakeKeeper::new(calm());
    for name in ["night.css", "night.js", "favicon.svg"] {
        let end = html.find(name).unwrap() + name.len();
        let path = &html[html[..end].rfind('"').unwrap() + 1..end];
        let answer = ask(&keeper, get(path)).await;
        assert_eq!(answer.status(), StatusCode::OK, "{path}");
        assert!(answer.headers()[header::CACHE_CONTROL].to_str().unwrap().contains("immutable"));
    }
    assert_eq!(ask(&keeper, get("/assets/0000/night.css")).await.status(), StatusCode::NOT_FOUND);
    assert_eq!(ask(&keeper, get("/favicon.ico")).await.status(), StatusCode::OK);
}

#[tokio::test]
async fn foreign_hosts_and_foreign_sites_are_turned_away() {
    let keeper = FakeKeeper::new(alarm());
    let host = |name: &str| Request::get("/").header(header::HOST, name).body(Body::empty()).unwrap();
    assert_eq!(ask(&keeper, host("evil.example")).await.status(), StatusCode::MISDIRECTED_REQUEST);
    assert_eq!(ask(&keeper, host("fishroom.lan:8080")).await.status(), StatusCode::OK);
    assert_eq!(
        ask(&keeper, Request::get("/").body(Body::empty()).unwrap()).await.status(),
        StatusCode::MISDIRECTED_REQUEST
    );
    let post = |name: &'static str, value: &'static str| {
        let mut r = form("/alarms/TU1.air-stopped/acknowledge", "by=Ada");
        r.headers_mut().remove("sec-fetch-site");
        r.headers_mut().insert(name, value.parse().unwrap());
        r
    };
    for foreign in [
        post("sec-fetch-site", "cross-site"),
        post("sec-fetch-site", "same-site"),
        post("origin", "http://evil.example"),
        post("origin", "null"),
    ] {
        assert_eq!(ask(&keeper, foreign).await.status(), StatusCode::FORBIDDEN);
    }
    assert!(keeper.heard().is_empty());
    let own = ask(&keeper, post("origin", "http://127.0.0.1:8080")).await;
    assert_eq!(own.status(), StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn acknowledging_reaches_the_keeper_and_comes_back() {
    let keeper = FakeKeeper::new(alarm());
    let answer = ask(&keeper, form("/alarms/TU1.air-stopped/acknowledge", "by=Ada")).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    assert_eq!(answer.headers()[header::LOCATION], "/");
    ask(&keeper, form("/alarms/V2.too-cold/acknowledge", "by=")).await;
    assert_eq!(
        keeper.heard(),
        ["acknowledge TU1.air-stopped by Ada", "acknowledge V2.too-cold by someone at the page"]
    );
    let gone = ask(&keeper, form("/alarms/none/acknowledge", "by=Ada")).await;
    assert_eq!(gone.status(), StatusCode::NOT_FOUND);
}

const NEW: &str = "id=C12&fish=Tropheus&species=oreochromis-niloticus&mother=&vessel=V1\
    &day0_grade=seen&day0_earliest=2026-11-25T18%3A30&day0_latest=&by=Ada";

#[tokio::test]
async fn a_clutch_is_added_in_the_rooms_time() {
    let keeper = FakeKeeper::new(calm());
    let answer = ask(&keeper, form("/clutches", NEW)).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    assert_eq!(answer.headers()[header::LOCATION], "/clutches/C12");
    assert_eq!(keeper.heard(), ["open C12 2026-11-25T17:30:00Z by Ada"]);
}

#[tokio::test]
async fn a_form_that_will_not_do_comes_again_with_its_values() {
    let keeper = FakeKeeper::new(calm());
    for (body, field, message) in [
        (NEW.replace("id=C12", "id=C06"), "add-id", "C06 is already in use"),
        (NEW.replace("id=C12", "id=a+b"), "add-id", "will not do"),
        (
            NEW.replace("2026-11-25T18%3A30", "2026-03-29T02%3A30"),
            "add-day0_earliest",
            "does not exist in Europe/Berlin",
        ),
    ] {
        let answer = ask(&keeper, form("/clutches", &body)).await;
        assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY, "{body}");
        let html = text(answer).await;
        let note = format!("<p class=\"fault\" id=\"{field}-fault\" role=\"alert\">");
        let said = html.split(&note).nth(1).unwrap().split("</p>").next().unwrap();
        assert!(said.contains(message), "{said}");
        assert!(html.contains("value=\"Tropheus\""), "the entered fish is kept");
        assert!(html.contains("<option value=\"oreochromis-niloticus\" selected>"), "the choice is kept");
    }
    let body = "what=loss&at=2026-11-26T01%3A00&count=99&reason=white&by=Ada";
    let answer = ask(&keeper, form("/clutches/C06/record", body)).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let html = text(answer).await;
    assert!(html.contains("only 33 are alive by the account") && html.contains("value=\"99\""));
    assert!(html.contains("<details class=\"record\" id=\"do-loss\" open>"), "the form stands open");
    let odd = ask(&keeper, form("/clutches/C06/record", "what=seen&at=2026-11-26T01%3A00&colour=red")).await;
    assert!(text(odd).await.contains("colour: no such field"));
    for (body, field, message) in [
        ("stage=hatch&known=between", "not_before", "write when you looked before"),
        (
            "stage=hatch&known=watched&not_before=2026-11-25T20%3A00",
            "not_before",
            "for between two looks only",
        ),
        ("stage=hatched&known=watched", "stage", "yolk-half-gone"),
        ("stage=hatch&known=perhaps", "known", "use watched, between or already"),
    ] {
        let body = format!("what=seen&at=2026-11-26T01%3A00&{body}");
        let html = text(ask(&keeper, form("/clutches/C06/record", &body)).await).await;
        let note = format!("<p class=\"fault\" id=\"seen-{field}-fault\" role=\"alert\">");
        let said = html.split(&note).nth(1).unwrap().split("</p>").next().unwrap();
        assert!(said.contains(message), "{said}");
    }
}

#[tokio::test]
async fn records_reach_the_keeper() {
    let keeper = FakeKeeper::new(calm());
    for body in [
        "what=seen&stage=hatch&known=watched&at=2026-11-26T01%3A00&not_before=&by=Ada",
        "what=seen&stage=yolk-half-gone&known=already&at=2026-11-26T01%3A00&not_before=&by=Ada",
        "what=seen&stage=free-swimming&known=between&at=2026-11-26T01%3A00&not_before=2026-11-25T20%3A00&by=Ada",
        "what=withdraw&entry=2&by=Ada",
        "what=day0&day0_grade=window&day0_earliest=2026-11-20T01%3A00&day0_latest=2026-11-20T09%3A00&by=Ada",
        "what=strip&at=2026-11-26T01%3A00&vessel=TU3&alive=30&dead=1&by=Ada",
        "what=move&at=2026-11-26T01%3A00&vessel=V2&by=Ada",
        "what=loss&at=2026-11-26T01%3A00&count=2&reason=white&by=Ada",
    ] {
        let answer = ask(&keeper, form("/clutches/C06/record", body)).await;
        assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{body}");
    }
    let heard = keeper.heard();
    assert_eq!(heard.len(), 8);
    assert!(heard[1].contains("YolkHalfGone") && heard[1].contains("already: true"), "{}", heard[1]);
    assert!(heard[2].contains("not_before: Some("), "{}", heard[2]);
    assert!(heard[3].contains("Withdraw { entry: 2 }"), "{}", heard[3]);
    assert!(heard[0].contains("Stage(Hatch)") && heard[5].contains("alive: 30, dead: 1"), "{heard:?}");
}

#[tokio::test]
async fn the_clutch_page_shows_windows_shifts_events_and_sources() {
    let said = words(&page(calm(), "/clutches/C06").await);
    for part in [
        "C06 hatches today about 14:00, give or take 7 h.",
        "After 4 clutches your Labidochromis caeruleus swim free at 171 ± 9 °C·d.",
        "Spawned between",
        "by what was seen since likeliest Sat 21 Nov, 06:26, four times of five between",
        "That is when half are out; the first then Thu 26 Nov, 11:14, the last Thu 26 Nov, 17:14",
        "60.2 of 67.0",
        "sooner by 7 h 00 min",
        "taken into TU1: 33 alive, 0 dead",
        "14.2 °C",
        "invented for the preview (computed)",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    assert_eq!(ask(&FakeKeeper::new(calm()), get("/clutches/C77")).await.status(), StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_log_tells_fresh_from_late() {
    let said = words(&page(alarm(), "/log").await);
    for part in [
        "TU4/air-flow is silent.",
        "fault code from V2/temperature: 2 times",
        "85.0",
        "fresh, 40 s old",
        "silent for 15 min",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
}

#[tokio::test]
async fn live_and_ready_answer_for_the_service() {
    let keeper = FakeKeeper::new(calm());
    assert_eq!(text(ask(&keeper, get("/live")).await).await, "live");
    assert_eq!(ask(&keeper, get("/ready")).await.status(), StatusCode::OK);
    let mut failing = Arc::into_inner(keeper).unwrap();
    failing.unready = Some("the store is failing".into());
    let answer = ask(&Arc::new(failing), get("/ready")).await;
    assert_eq!(answer.status(), StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(text(answer).await, "the store is failing");
}

#[tokio::test]
async fn pages_are_packed_when_asked_for() {
    let mut request = get("/");
    request.headers_mut().insert(header::ACCEPT_ENCODING, "gzip".parse().unwrap());
    let answer = ask(&FakeKeeper::new(calm()), request).await;
    assert_eq!(answer.headers()[header::CONTENT_ENCODING], "gzip");
}

/// An alarm can be put away for a while, with who, how long and why; what is put away stays in sight.
#[tokio::test]
async fn an_alarm_is_shelved_and_let_out_again() {
    let mut room = alarm();
    room.shelved = vec![ShelvedView {
        id: "V2.too-cold".into(),
        flag: "shelved".into(),
        standing: true,
        until: Some(now() + Span::minutes(20)),
        text: "V2: too cold is shelved by Ada until 02:34 (water change). It calls nobody until then.".into(),
    }];
    let said = page(room.clone(), "/").await;
    assert!(said.contains("action=\"/alarms/V2.too-cold/unshelve\""), "{said}");
    assert!(words(&said).contains("V2: too cold is shelved by Ada until 02:34 (water change)"));
    assert!(words(&said).contains("It is so now."));
    let standing = room.alarms.iter().find(|a| a.standing).unwrap().id.clone();
    assert!(said.contains(&format!("action=\"/alarms/{standing}/shelve\"")));

    let keeper = FakeKeeper::new(room);
    let sent = form("/alarms/TU3.air-stopped/shelve", "minutes=20&why=new+stone&by=Ada");
    assert_eq!(ask(&keeper, sent).await.status(), StatusCode::SEE_OTHER);
    let sent = form("/alarms/V2.too-cold/unshelve", "by=Ada");
    assert_eq!(ask(&keeper, sent).await.status(), StatusCode::SEE_OTHER);
    assert_eq!(
        keeper.heard(),
        [
            "shelve TU3.air-stopped Shelving { minutes: 20, why: \"new stone\" } Ada",
            "unshelve V2.too-cold Ada",
        ]
    );
    let sent = form("/alarms/TU3.air-stopped/shelve", "minutes=soon&why=new+stone&by=Ada");
    assert_eq!(ask(&keeper, sent).await.status(), StatusCode::UNPROCESSABLE_ENTITY);
}
