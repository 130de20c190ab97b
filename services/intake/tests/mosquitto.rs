//! The session with a real broker: encryption, identity, and what it keeps.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, reason = "test code")]

#[path = "support/mosquitto.rs"]
mod support;

use bytes::Bytes;
use intake::broker::{Identity, Link, Roots, Secret, Session, Settings, Tls, open};
use intake::{Incoming, Outlet};
use std::time::Duration;
use support::{Authority, Certificate, Mosquitto};
use tokio::sync::mpsc;

const PATIENCE: Duration = Duration::from_secs(60);
const OPEN: &str = "allow_anonymous true\n";
const TLS: &str = "allow_anonymous true\ncafile $/ca.pem\ncertfile $/cert.pem\nkeyfile $/key.pem\n";

fn settings(host: &str, broker: &Mosquitto, filters: &[&str]) -> Settings {
    let filters = filters.iter().map(|&filter| filter.to_owned()).collect();
    let mut settings = Settings::new(host, broker.port, "test", filters, "service/state");
    settings.back_off = (Duration::from_millis(1), Duration::from_millis(2));
    settings
}

async fn tls_broker(ca: &Authority, own: &Certificate, more: &str) -> Mosquitto {
    let files = [("ca.pem", ca.pem()), ("cert.pem", own.chain.clone()), ("key.pem", own.key.clone())];
    let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (*name, text.as_str())).collect();
    Mosquitto::start(&format!("{TLS}{more}"), &files).await
}

fn secured(host: &str, broker: &Mosquitto, roots: &Authority, client: Option<&Certificate>) -> Session {
    let mut settings = settings(host, broker, &["tank/#"]);
    let roots = Roots::Only(roots.pem().into_bytes());
    let identity = client.map(|Certificate { chain, key }| Identity {
        chain: chain.clone().into_bytes(),
        key: Secret::from(key.clone()),
    });
    settings.tls = Some(Tls::new(&roots, identity.as_ref()).unwrap());
    open(settings, 16).0
}

/// Waits, but not for ever for what never comes.
async fn in_time<T>(awaited: impl Future<Output = T>) -> T {
    tokio::time::timeout(PATIENCE, awaited).await.expect("what is awaited never comes")
}

async fn up(session: &Session) {
    let mut link = session.link();
    let seen = in_time(link.wait_for(|link| !matches!(link, Link::Connecting))).await.unwrap().clone();
    assert!(matches!(seen, Link::Up { .. }), "{seen:?}");
}

/// Waits until the link is away for a reason that holds `part`. Other reasons may come before it:
/// a broker that closes at once may cut off its own explanation.
async fn away_for(session: &Session, part: &str) -> String {
    let mut link = session.link();
    let seen = link.wait_for(|link| match link {
        Link::Away { reason, tries } => {
            assert!(*tries < 200, "never {part:?}, but {reason}");
            reason.contains(part)
        }
        other => *other != Link::Connecting && panic!("{other:?}"),
    });
    match &*in_time(seen).await.unwrap() {
        Link::Away { reason, .. } => reason.clone(),
        other => panic!("{other:?}"),
    }
}

async fn message(incoming: &mut mpsc::Receiver<Incoming>) -> (String, usize) {
    let message = in_time(incoming.recv()).await.unwrap();
    message.ack.done();
    (message.topic, message.oversize.unwrap_or(message.payload.len()))
}

#[tokio::test]
async fn the_right_authority_opens_by_name_and_by_address() {
    let ca = Authority::new("ours");
    for host in ["localhost", "127.0.0.1"] {
        let broker = tls_broker(&ca, &ca.sign(host), "").await;
        up(&secured(host, &broker, &ca, None)).await;
    }
}

#[tokio::test]
async fn an_unknown_authority_is_not_believed() {
    let (ca, other) = (Authority::new("ours"), Authority::new("another"));
    let broker = tls_broker(&ca, &ca.sign("localhost"), "").await;
    let session = secured("localhost", &broker, &other, None);
    away_for(&session, "signed by no authority that counts here; name the file").await;
}

#[tokio::test]
async fn an_expired_certificate_is_called_that() {
    let ca = Authority::new("ours");
    let broker = tls_broker(&ca, &ca.sign_expired("localhost"), "").await;
    away_for(&secured("localhost", &broker, &ca, None), "has expired; renew it there").await;
}

#[tokio::test]
async fn a_certificate_of_another_host_is_told_with_both_names() {
    let ca = Authority::new("ours");
    let broker = tls_broker(&ca, &ca.sign("hall.example"), "").await;
    let session = secured("localhost", &broker, &ca, None);
    let reason = away_for(&session, "is not made out to this host").await;
    assert!(reason.contains("localhost") && reason.contains("hall.example"), "{reason}");
}

#[tokio::test]
async fn a_broker_that_asks_for_a_certificate_gets_ours_and_no_other() {
    let (ca, other) = (Authority::new("ours"), Authority::new("another"));
    let broker = tls_broker(&ca, &ca.sign("localhost"), "require_certificate true\n").await;
    away_for(&secured("localhost", &broker, &ca, None), "client certificate").await;
    let foreign = other.sign("service");
    away_for(&secured("localhost", &broker, &ca, Some(&foreign)), "client certificate").await;
    up(&secured("localhost", &broker, &ca, Some(&ca.sign("service")))).await;
}

#[tokio::test]
async fn a_port_without_encryption_and_one_with_it_are_not_confused() {
    let ca = Authority::new("ours");
    let plain = Mosquitto::start(OPEN, &[]).await;
    away_for(&secured("localhost", &plain, &ca, None), "name its TLS port").await;
    let secure = tls_broker(&ca, &ca.sign("localhost"), "").await;
    let session = open(settings("localhost", &secure, &["tank/#"]), 16).0;
    away_for(&session, "this port is not one for TLS only").await;
}

#[tokio::test]
async fn user_name_and_password_are_checked() {
    let configuration = "allow_anonymous false\npassword_file $/passwords\n";
    let broker = Mosquitto::start(configuration, &[("passwords", "keeper:moonfish\n")]).await;
    for (password, good) in [(Some("moonfish"), true), (Some("sunfish"), false), (None, false)] {
        let mut settings = settings("localhost", &broker, &["tank/#"]);
        settings.username = password.map(|_| "keeper".to_owned());
        settings.password = password.map(|text| Secret::from(text.to_owned()));
        let session = open(settings, 16).0;
        if good {
            up(&session).await;
        } else {
            away_for(&session, "refuses user name or password").await;
        }
    }
}

#[tokio::test]
async fn an_oversize_message_and_what_is_behind_it_arrive() {
    let broker = Mosquitto::start(OPEN, &[]).await;
    let (session, mut incoming) = open(settings("localhost", &broker, &["tank/#"]), 16);
    up(&session).await;
    let mut other = settings("localhost", &broker, &[]);
    (other.client_id, other.packet_limit) = ("sender".to_owned(), 8 << 20);
    let (sender, _none) = open(other, 16);
    sender.publish("tank/1/temp", Bytes::from(vec![b'7'; 4 << 20]), false);
    sender.publish("tank/2/temp", Bytes::from_static(b"26.2"), false);
    assert_eq!(message(&mut incoming).await, ("tank/1/temp".to_owned(), 4 << 20));
    assert_eq!(message(&mut incoming).await, ("tank/2/temp".to_owned(), 4));
}

#[tokio::test]
async fn subscriptions_of_former_settings_are_given_up_when_they_show() {
    let mut broker = Mosquitto::start(OPEN, &[]).await;
    let (former, _none) = open(settings("localhost", &broker, &["tank/+/temp", "hall/#", "#"]), 16);
    up(&former).await;
    former.close().await;
    let (session, mut incoming) = open(settings("localhost", &broker, &["tank/+/temp"]), 16);
    up(&session).await;
    let publish = |topic: &str| session.publish(topic, Bytes::from_static(b"26.1"), false);
    publish("hall/1/temp");
    while message(&mut incoming).await.0 != "hall/1/temp" {}
    in_time(broker.says("UNSUBACK")).await;
    // Neither comes any more; what is asked for does.
    publish("hall/2/temp");
    publish("loft/1/temp");
    publish("tank/1/temp");
    loop {
        // The former subscription to everything also brought our own state.
        match message(&mut incoming).await.0.as_str() {
            "tank/1/temp" => break,
            topic => assert!(topic.starts_with("hall/1") || topic == "service/state", "{topic}"),
        }
    }
}
