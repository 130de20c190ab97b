//! Mail to a real server: Python's aiosmtpd as a child process (`smtp_server.py`), which prints what it took.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod postbox;

use notify::{Failure, Item, MailServer, MailSettings, Tls, Way, mail};
use postbox::{Certificates, Postbox};
use serde_json::{Value, json};
use std::time::Duration;

const NOON: i64 = 1_700_000_000;

fn settings(port: u16) -> MailSettings {
    let from = "Hatchwarden <room@example.org>".to_owned();
    let server = MailServer { port, tls: Tls::None, ..MailServer::new("127.0.0.1".to_owned(), from) };
    MailSettings { name: "mia".to_owned(), to: vec!["Mia Groß <mia@example.org>".to_owned()], server }
}

fn item(data: &Value) -> Item {
    let body = json!({ "type": "alarm.raised", "timestamp": "2023-11-14T22:13:20Z", "data": data });
    Item { id: "msg_undercroft-TU3".to_owned(), way: "mia".to_owned(), body: body.to_string(), tries: 0 }
}

fn alarm() -> Item {
    item(&json!({ "subject": "TU3 lies still", "message": "Air stopped.\nLook at its valve." }))
}

async fn send(settings: MailSettings, item: &Item) -> Result<(), String> {
    reason(mail(settings).unwrap().deliver(item, NOON).await)
}

/// Every failure of mail is one that may get well.
fn reason(tried: Result<(), Failure>) -> Result<(), String> {
    tried.map_err(|failure| match failure {
        Failure::Later { reason, after: None } => reason,
        other => panic!("{other:?}"),
    })
}

#[tokio::test]
async fn a_letter_arrives_whole() {
    let mut postbox = Postbox::start(&json!({})).await;
    let long = "ö".repeat(120);
    let message = format!("Luft steht. ½ °C\n.\n.dot\n{long}\n\u{1F41F}");
    let data =
        json!({ "subject": format!("TU3 “back row” {long}"), "message": message, "thread": "TU3.air" });
    assert_eq!(send(settings(postbox.port), &item(&data)).await, Ok(()));
    let letter = postbox.letter().await;
    assert_eq!(letter.header("Subject"), format!("TU3 “back row” {long}"));
    assert_eq!(letter.json["text"].as_str().unwrap().trim_end(), message);
    assert_eq!(letter.header("From"), "Hatchwarden <room@example.org>");
    assert_eq!(letter.header("To"), "Mia Groß <mia@example.org>");
    assert_eq!(letter.header("Date"), "Tue, 14 Nov 2023 22:13:20 +0000");
    assert_eq!(letter.header("Message-ID"), "<msg_undercroft-TU3@example.org>");
    assert_eq!(letter.header("Auto-Submitted"), "auto-generated");
    assert_eq!(letter.header("In-Reply-To"), "<TU3=2Eair@example.org>");
    assert_eq!(letter.header("References"), "<TU3=2Eair@example.org>");
    assert_eq!(letter.json["sender"], "room@example.org");
    assert_eq!(letter.json["to"], json!(["mia@example.org"]));
    assert_eq!(letter.json["hello"], "example.org");
    assert_eq!(letter.json["defects"], json!([]), "read by Python without complaint");
}

/// Pictures stand in the page under their content ids (RFC 2392); names that could spoil a header are made harmless.
#[tokio::test]
async fn a_page_and_its_pictures_arrive_beside_the_plain_text() {
    let mut postbox = Postbox::start(&json!({})).await;
    let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\"><title>V1 ½ °C</title></svg>";
    let picture = |id: &str, name: &str| json!({ "id": id, "name": name, "svg": svg });
    let html = "<!DOCTYPE html><p>26.8 °C <img src=\"cid:vessel-0@night\"></p>";
    let nasty = "V1\r\nBcc: all@example.org\">.svg";
    let data = json!({
        "headline": "The night", "message": "Mean 26.8 °C", "html": html,
        "pictures": [picture("vessel-0@night", "2026-11-25-V1.svg"), picture("vessel-1@night", nasty), { "id": 7 }],
    });
    assert_eq!(send(settings(postbox.port), &item(&data)).await, Ok(()));
    let letter = postbox.letter().await;
    assert_eq!(letter.json["text"].as_str().unwrap().trim_end(), "Mean 26.8 °C");
    assert!(!letter.names().contains(&"Bcc") && letter.json["to"] == json!(["mia@example.org"]));
    let parts = letter.json["parts"].as_array().unwrap();
    let of =
        |key: &str| parts.iter().map(|p| p[key].as_str().unwrap_or_default().trim_end()).collect::<Vec<_>>();
    assert_eq!(of("type"), ["text/plain", "text/html", "image/svg+xml", "image/svg+xml"]);
    assert_eq!(of("id"), ["", "", "<vessel-0@night>", "<vessel-1@night>"]);
    assert_eq!(of("name"), ["", "", "2026-11-25-V1.svg", "V1--Bcc--all@example.org--.svg"]);
    assert_eq!(of("text"), ["Mean 26.8 °C", html, svg, svg]);
    assert_eq!(letter.json["defects"], json!([]), "read by Python without complaint");
}

#[tokio::test]
async fn a_subject_cannot_add_a_header_or_a_recipient() {
    let mut postbox = Postbox::start(&json!({})).await;
    let nasty = "still\r\nBcc: all@example.org\r\nX-Evil: 1\r\n\r\nbody";
    let data = json!({ "subject": nasty, "message": "m\r\n.\r\nMAIL FROM:<x@example.org>", "thread": nasty });
    let item = Item { id: format!("id{nasty}"), ..item(&data) };
    assert_eq!(send(settings(postbox.port), &item).await, Ok(()));
    let letter = postbox.letter().await;
    let mut names = letter.names();
    names.sort_unstable();
    let own = [
        "Auto-Submitted",
        "Content-Transfer-Encoding",
        "Content-Type",
        "Date",
        "From",
        "In-Reply-To",
        "MIME-Version",
        "Message-ID",
        "References",
        "Subject",
        "To",
    ];
    assert_eq!(names, own);
    assert_eq!(letter.header("Subject"), "still Bcc: all@example.org X-Evil: 1 body");
    assert_eq!(letter.json["to"], json!(["mia@example.org"]));
    assert!(letter.json["text"].as_str().unwrap().contains("\n.\nMAIL FROM:<x@example.org>"));
}

#[tokio::test]
async fn a_busy_server_gets_it_at_the_next_try_under_the_same_id() {
    let mut postbox = Postbox::start(&json!({ "answers": ["451 4.3.0 too much to do", "ok", "ok"] })).await;
    let way = mail(settings(postbox.port)).unwrap();
    let said = reason(way.deliver(&alarm(), NOON).await).unwrap_err();
    assert!(said.contains(&format!("127.0.0.1:{}", postbox.port)), "{said}");
    assert!(said.contains("451 4.3.0 too much to do"), "{said}");
    let mut ids = Vec::new();
    for later in [2, 60] {
        reason(way.deliver(&alarm(), NOON + later).await).unwrap();
        ids.push(postbox.letter().await.header("Message-ID"));
    }
    assert_eq!(ids[0], ids[1]);
}

#[tokio::test]
async fn a_server_that_will_not_is_asked_again_with_its_words() {
    let postbox = Postbox::start(&json!({ "answers": ["554 5.7.1 looks like spam"] })).await;
    let said = send(settings(postbox.port), &alarm()).await.unwrap_err();
    assert!(said.contains("does not take the message: 554 5.7.1 looks like spam"), "{said}");
}

#[tokio::test]
async fn an_unknown_mailbox_is_named_and_keeps_the_letter_from_nobody_else() {
    let refuse =
        json!({ "mai@example.org": "550 5.1.1 no such mailbox", "ole@example.org": "450 4.2.0 greylisted" });
    let mut postbox = Postbox::start(&json!({ "refuse": refuse })).await;
    let mut settings = settings(postbox.port);
    settings.to = ["mai@example.org", "mia@example.org", "ole@example.org"].map(str::to_owned).into();
    let way = mail(settings).unwrap();
    let said = reason(way.deliver(&alarm(), NOON).await).unwrap_err();
    assert!(said.contains("mai@example.org (550 5.1.1 no such mailbox)"), "{said}");
    assert!(said.contains("ole@example.org (450 4.2.0 greylisted)"), "{said}");
    assert!(said.contains("correct [[mail]] mia to") && said.contains("the others have it"), "{said}");
    assert_eq!(postbox.letter().await.json["to"], json!(["mia@example.org"]));
    // Who has it gets no repeat of it, but does get the next item.
    assert!(reason(way.deliver(&alarm(), NOON + 2).await).is_err());
    let next = Item { id: "msg_2".to_owned(), ..alarm() };
    assert!(reason(way.deliver(&next, NOON + 4).await).is_err());
    assert_eq!(postbox.letter().await.header("Message-ID"), "<msg_2@example.org>");
}

#[tokio::test]
async fn a_server_that_never_says_a_word_costs_the_timeout_and_no_more() {
    let postbox = Postbox::start(&json!({ "answers": ["hang", "silent"] })).await;
    let mut settings = settings(postbox.port);
    for (millis, wanted) in [(300, "within 0.3 s"), (1_500, "within 1.5 s")] {
        settings.server.timeout = Duration::from_millis(millis);
        let said = send(settings.clone(), &alarm()).await.unwrap_err();
        assert!(said.contains("did not take the message") && said.contains(wanted), "{said}");
    }
}

#[tokio::test]
async fn a_server_that_closes_in_the_middle_is_said_and_asked_again() {
    let mut postbox = Postbox::start(&json!({ "answers": ["close", "ok"] })).await;
    let way = mail(settings(postbox.port)).unwrap();
    let said = reason(way.deliver(&alarm(), NOON).await).unwrap_err();
    assert!(said.contains("127.0.0.1:") && !said.contains("within"), "{said}");
    reason(way.deliver(&alarm(), NOON).await).unwrap();
    postbox.letter().await;
}

#[tokio::test]
async fn nobody_at_the_port_is_said_with_the_cure() {
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let said = send(settings(port), &alarm()).await.unwrap_err();
    assert!(said.contains("refused") && said.contains("check [[mail]] mia host and port"), "{said}");
}

#[tokio::test]
async fn a_login_is_used_and_a_refused_one_says_what_to_check() {
    let mut postbox = Postbox::start(&json!({ "login": ["mia", "moonfish"] })).await;
    let mut settings = settings(postbox.port);
    settings.server.username = Some("mia".to_owned());
    for (password, good) in [("moonfish", true), ("sunfish", false)] {
        settings.server.password = Some(password.to_owned().into());
        match send(settings.clone(), &alarm()).await {
            Ok(()) => assert!(good),
            Err(said) => {
                assert!(!good && said.contains("refuses the login: 535"), "{said}");
                assert!(said.contains("username and password_file") && !said.contains("fish"), "{said}");
            }
        }
    }
    assert_eq!(postbox.letter().await.json["login"], true);
    (settings.server.username, settings.server.password) = (None, None);
    let said = send(settings, &alarm()).await.unwrap_err();
    assert!(said.contains("refuses the sender: 530") && said.contains("password_file"), "{said}");
}

/// Sends over TLS with this authority to trust.
async fn safely(postbox: &Postbox, tls: Tls, host: &str, authority: Option<&str>) -> Result<(), String> {
    let mut settings = settings(postbox.port);
    settings.server.tls = tls;
    settings.server.host = host.to_owned();
    settings.server.ca_file = authority.map(str::to_owned);
    send(settings, &alarm()).await
}

#[tokio::test]
async fn both_kinds_of_tls_work_and_a_certificate_that_is_not_trusted_gets_no_letter() {
    let (certificates, stranger) = (Certificates::new("127.0.0.1"), Certificates::new("127.0.0.1"));
    for (how, tls) in [("starttls", Tls::StartTls), ("wrapped", Tls::Tls)] {
        let mut postbox = Postbox::start(&json!({ "tls": certificates.files(), "how": how })).await;
        safely(&postbox, tls, "127.0.0.1", Some(&certificates.authority)).await.unwrap();
        assert_eq!(postbox.letter().await.json["encrypted"], true);
        for (host, authority) in [
            ("127.0.0.1", Some(&stranger.authority)),
            ("127.0.0.1", None),
            ("localhost", Some(&certificates.authority)),
        ] {
            let said = safely(&postbox, tls, host, authority.map(String::as_str)).await.unwrap_err();
            assert!(
                said.contains("cannot be reached safely") && said.contains("ca_file"),
                "{how} {host}: {said}"
            );
        }
        let next = Item { id: "msg_next".to_owned(), ..alarm() };
        let mut good = settings(postbox.port);
        (good.server.tls, good.server.ca_file) = (tls, Some(certificates.authority.clone()));
        send(good, &next).await.unwrap();
        let letter = postbox.letter().await;
        assert_eq!(letter.header("Message-ID"), "<msg_next@example.org>", "no other came in between");
    }
}

#[tokio::test]
async fn the_wrong_kind_of_tls_says_what_to_set() {
    let plain = Postbox::start(&json!({})).await;
    let said = safely(&plain, Tls::StartTls, "127.0.0.1", None).await.unwrap_err();
    assert!(said.contains("STARTTLS") && said.contains("[[mail]] mia tls"), "{said}");
    let said = safely(&plain, Tls::Tls, "127.0.0.1", None).await.unwrap_err();
    assert!(said.contains("\"tls\" goes with 465"), "{said}");
}

#[tokio::test]
async fn a_login_goes_over_tls() {
    let certificates = Certificates::new("127.0.0.1");
    let login = json!({ "login": ["mia", "moonfish"], "tls": certificates.files(), "how": "starttls" });
    let mut postbox = Postbox::start(&login).await;
    let mut settings = settings(postbox.port);
    settings.server.tls = Tls::StartTls;
    settings.server.ca_file = Some(certificates.authority.clone());
    settings.server.username = Some("mia".to_owned());
    settings.server.password = Some("moonfish".to_owned().into());
    send(settings, &alarm()).await.unwrap();
    let letter = postbox.letter().await;
    assert_eq!((&letter.json["login"], &letter.json["encrypted"]), (&json!(true), &json!(true)));
}
