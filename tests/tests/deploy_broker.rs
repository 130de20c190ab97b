//! The broker of deploy/mosquitto keeps strangers out, devices to their own topics, and what it was given.
//! Expectations were measured with mosquitto 2.0.11 unless a clause of MQTT 3.1.1 is named.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use std::io::{Seek, Write};
use std::process::Stdio;
use testkit::{Child, Deployed, Hatchwarden, RoomFile};
use tokio::process::Command;

const V1: &str = "hatchwarden/undercroft/V1/temperature";
const V2: &str = "hatchwarden/undercroft/V2/temperature";

async fn end(command: &mut Command) -> (Option<i32>, String) {
    Child::start("a client", command).end().await
}

/// mosquitto_pub of one reading without a login, by whatever port.
fn stranger(port: u16, more: &[&str]) -> Command {
    let mut command = Command::new("mosquitto_pub");
    command.args(["-h", "127.0.0.1", "-q", "1", "-t", V1, "-m", "26.9", "-p", &port.to_string()]).args(more);
    command
}

#[tokio::test]
async fn who_has_no_password_or_a_wrong_one_is_refused() {
    let broker = Deployed::start().await;
    let ca = broker.ca();
    let tls = ["--cafile", ca.to_str().unwrap()];
    for (port, by) in [(broker.port, [].as_slice()), (broker.tls_port, tls.as_slice())] {
        for login in
            [[].as_slice(), &["-u", "V1"], &["-u", "V1", "-P", "wrong"], &["-u", "no-one", "-P", "x"]]
        {
            let (code, said) = end(stranger(port, by).args(login)).await;
            assert_ne!(code, Some(0), "{login:?} was let in");
            assert!(said.to_lowercase().contains("not authorised"), "{login:?}: {said}"); // MQTT 3.1.1, 3.2.2.3: code 5
        }
        let login = ["-u", "V1", "-P", &Deployed::password("V1")];
        let (code, said) = end(stranger(port, by).args(login)).await;
        assert_eq!(code, Some(0), "{said}");
    }
}

#[tokio::test]
async fn each_user_writes_its_own_topics_only() {
    let broker = Deployed::start().await;
    let mut hatchwarden = broker.subscribe("hatchwarden", "#").await;
    let alarm = "hatchwarden/undercroft/alarm/V1";
    // (user, topic it must not write, topic it may write)
    let cases = [
        ("V1", V2, V1),
        ("V2", V1, V2),
        ("V1", alarm, V1),
        ("V1", "hatchwarden/undercroft/service", V1),
        ("V1", "cellar/rack-c/tumblers", V1),
        ("V1", "hatchwarden/attic/V1/temperature", V1),
        ("rack-c", "hatchwarden/undercroft/TU3/air-flow", "hatchwarden/undercroft/TU2/air-flow"),
        ("rack-c", V1, "cellar/rack-c/tumblers"),
        ("keeper", alarm, "hatchwarden/undercroft/keeper/x"),
        ("hatchwarden", V1, alarm),
        ("hatchwarden", V1, "hatchwarden/undercroft/service"),
    ];
    // mosquitto acknowledges what it drops, so only what arrives tells: the next message must be the permitted one.
    for (n, (user, forbidden, own)) in cases.into_iter().enumerate() {
        broker.publish(user, forbidden, "forbidden", &[]).await;
        broker.publish(user, own, &format!("own {n}"), &[]).await;
        hatchwarden.line_with(&format!("{own} own {n}")).await;
    }
    assert!(!hatchwarden.printed().contains("forbidden"));
}

#[tokio::test]
async fn a_keeper_hears_alarms_and_no_readings() {
    let broker = Deployed::start().await;
    let mut keeper = broker.subscribe("keeper", "hatchwarden/#").await;
    broker.publish("V1", V1, "26.9", &[]).await;
    broker.publish("hatchwarden", "hatchwarden/undercroft/alarm/V1", "still", &[]).await;
    keeper.line_with("alarm/V1 still").await;
    assert!(!keeper.printed().contains("26.9"));
}

#[tokio::test]
async fn tls_needs_the_right_authority_name_and_version() {
    let broker = Deployed::start().await;
    let (ca, port) = (broker.ca(), broker.tls_port.to_string());
    let login = ["-u", "V1", "-P", &Deployed::password("V1")];
    let (code, said) = end(stranger(broker.tls_port, &["--tls-use-os-certs"]).args(login)).await;
    assert_ne!(code, Some(0));
    assert!(said.contains("TLS error"), "{said}");
    let (code, _) = end(stranger(broker.tls_port, &[]).args(login)).await;
    assert_ne!(code, Some(0), "the TLS listener took plain text");

    // SECLEVEL=0 lets openssl itself offer the old version, so that the broker must refuse it.
    let cases = [
        ("-tls1_1", "localhost", "alert protocol version"),
        ("-tls1_3", "elsewhere", "hostname mismatch"),
        ("-tls1_2", "localhost", ""),
        ("-tls1_3", "localhost", ""),
    ];
    for (version, name, fault) in cases {
        let mut command = Command::new("openssl");
        command.args(["s_client", "-connect", &format!("127.0.0.1:{port}"), version]);
        command.args([
            "-cipher",
            "ALL:@SECLEVEL=0",
            "-verify_return_error",
            "-verify_hostname",
            name,
            "-CAfile",
        ]);
        let (code, said) = end(command.arg(&ca)).await;
        assert_eq!(code == Some(0), fault.is_empty(), "{version} {name}: {said}");
        assert!(said.contains(fault), "{version} {name}: {said}");
    }
}

/// Something is asked and answered: a turn of the broker's loop is over, and at its end it saved.
async fn saved(broker: &Deployed) {
    broker.publish("V2", V2, "28.1", &[]).await;
}

#[tokio::test]
async fn a_retained_state_outlives_a_kill() {
    let broker = Deployed::start().await;
    broker.publish("hatchwarden", "hatchwarden/undercroft/alarm/TU3", "air stopped", &["-r"]).await;
    saved(&broker).await;
    let broker = broker.kill_and_start().await;
    let mut keeper = broker.subscribe("keeper", "hatchwarden/undercroft/alarm/#").await;
    keeper.line_with("alarm/TU3 air stopped").await;
}

#[tokio::test]
async fn three_thousand_messages_wait_for_a_subscriber_and_outlive_a_kill() {
    const MESSAGES: usize = 3_000;
    let broker = Deployed::start().await;
    let session = |more: &[&str]| {
        let mut command = broker.client("mosquitto_sub", "hatchwarden");
        command.args(["-c", "-i", "hw-undercroft", "-t", V1]).args(more);
        command
    };
    let (mut subscribe, mut collect) = (session(&["-E"]), session(&["-C", &MESSAGES.to_string()]));
    assert_eq!(end(&mut subscribe).await.0, Some(0));

    let mut lines = tempfile::tempfile().unwrap();
    (0..MESSAGES).for_each(|n| writeln!(lines, "{n}").unwrap());
    lines.rewind().unwrap();
    let mut publish = broker.client("mosquitto_pub", "V1");
    publish.args(["-t", V1, "-l"]);
    let publisher = Child::start_reading("mosquitto_pub", &mut publish, Stdio::from(lines));
    assert_eq!(publisher.end().await.0, Some(0));
    saved(&broker).await;

    let _broker = broker.kill_and_start().await;
    let (code, got) = end(&mut collect).await;
    assert_eq!(code, Some(0));
    let wanted: Vec<String> = (0..MESSAGES).map(|n| n.to_string()).collect();
    assert!(got.lines().eq(wanted.iter()), "missing, doubled or out of order"); // [MQTT-4.6.0-6]
}

#[tokio::test]
async fn a_message_beyond_the_limit_is_dropped_and_the_next_one_arrives() {
    let broker = Deployed::start().await;
    let mut hatchwarden = broker.subscribe("hatchwarden", V1).await;
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), "9".repeat(65_537)).unwrap();
    let mut large = broker.client("mosquitto_pub", "V1");
    end(large.args(["-t", V1, "-f"]).arg(file.path())).await;
    broker.publish("V1", V1, "26.9", &[]).await;
    hatchwarden.line_with(&format!("{V1} 26.9")).await;
    assert!(!hatchwarden.printed().contains("99999"));
}

#[tokio::test(flavor = "multi_thread")]
async fn the_service_works_behind_it() {
    let broker = Deployed::start().await;
    let room = RoomFile::behind_broker_as(broker.port, "hatchwarden", &Deployed::password("hatchwarden"));
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;
    broker.publish("V1", V1, "26.9", &[]).await;
    let arrived = |r: &serde_json::Value| (r[0]["value"] == 26.9).then_some(());
    service.api.until("V1's reading", "api/v1/readings", arrived).await;
    let mut keeper = broker.subscribe("keeper", "hatchwarden/undercroft/service").await;
    keeper.line_with("service here").await;
    service.child.kill().await;
    keeper.line_with("service away").await; // its will [MQTT-3.1.2-8]
}
