//! The description of the API against the running service, tried by schemathesis: no server error, and no answer that breaks its own
//! description. `HATCHWARDEN_API_SECONDS=300` has it tried for so long instead of a fixed number of examples.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;
use testkit::{Hatchwarden, RoomFile, binary, mosquitto_pub};
use tokio::io::AsyncWriteExt;
use tokio::process::Command;

const PASSWORD: &str = "correct horse battery";
/// Draws for each operation, beside the corner cases that are worked out.
const DRAWS: &str = "5";
/// The stream of events never ends, so nothing that waits for its end can try it; `services/web/tests/api.rs` does.
const NO_END: &str = "/api/v1/events";
/// A run that takes longer hangs.
const PATIENCE: Duration = Duration::from_secs(540);

/// A room with sign-in on, though on loopback: so that it shows whether doors are shut.
fn room() -> (RoomFile, u16) {
    let (room, port) = RoomFile::with_front_door("");
    let text = std::fs::read_to_string(&room.path).unwrap();
    let listen = "listen = \"127.0.0.1:0\"\n";
    std::fs::write(&room.path, text.replace(listen, &format!("{listen}sign_in = true\n"))).unwrap();
    (room, port)
}

async fn add_keeper(room: &RoomFile) {
    let mut command = Command::new(binary());
    command.args(["people", "--config"]).arg(&room.path).args(["add", "Ada", "--role", "keeper"]);
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(format!("{PASSWORD}\n").as_bytes()).await.unwrap();
    assert!(child.wait().await.unwrap().success());
}

fn client() -> reqwest::Client {
    reqwest::Client::builder().no_proxy().redirect(reqwest::redirect::Policy::none()).build().unwrap()
}

async fn form(address: &str, path: &str, cookie: &str, body: &str) -> reqwest::Response {
    let request = client().post(format!("{address}{path}")).header("cookie", cookie);
    let request = request.header("origin", address.trim_end_matches('/'));
    let kind = "application/x-www-form-urlencoded";
    request.header("content-type", kind).body(body.to_owned()).send().await.unwrap()
}

/// Signs in and has a token made that may do everything.
async fn token(address: &str) -> String {
    let body = format!("name=Ada&password={}", PASSWORD.replace(' ', "+"));
    let answer = form(address, "sign-in", "", &body).await;
    let cookie = answer.headers()["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned();
    let page = form(address, "tokens", &cookie, "token=a+script&scope=manage").await.text().await.unwrap();
    let secret = |rest: &str| -> String {
        rest.chars().take_while(|c| c.is_ascii_alphanumeric() || "-_".contains(*c)).collect()
    };
    let found = page.split("hw_").skip(1).map(secret).find(|s| s.len() > 20);
    format!("hw_{}", found.unwrap_or_else(|| panic!("no token: {page}")))
}

/// What the examples of the description speak of: a clutch, its mother, a reading, an entry of the map.
async fn furnish(address: &str, token: &str, port: u16) {
    let room = client().get(format!("{address}api/v1/room")).bearer_auth(token).send().await.unwrap();
    let room: Value = room.json().await.unwrap();
    let now: units::Time = serde_json::from_value(room["now"].clone()).unwrap();
    let ago = |hours: i64| (now - units::Span::hours(hours)).to_string();
    let clutch = json!({"id": "C06", "fish": "Astatotilapia burtoni", "species": "generic-mouthbrooder", "mother": "bur-03",
        "day0_earliest": ago(96), "day0_grade": "seen", "vessel": "V1"});
    let strip = json!({"what": "strip", "at": ago(48), "vessel": "TU1", "alive": 40, "dead": 2});
    let entry = json!({"topic": "cellar/v1/temp_f", "vessel": "V1", "quantity": "temperature", "mark": "second", "unit": "°F"});
    for (path, body) in [("clutches", clutch), ("clutches/C06/records", strip), ("map", entry)] {
        let request = client().post(format!("{address}api/v1/{path}")).bearer_auth(token).json(&body);
        let answer = request
            .header("idempotency-key", format!("\"{}\"", path.replace('/', "-")))
            .send()
            .await
            .unwrap();
        assert!(answer.status().is_success(), "{path}: {}", answer.text().await.unwrap());
    }
    let reading = ["-q", "1", "-t", "hatchwarden/undercroft/V1/temperature", "-m", "26.94"];
    mosquitto_pub(port, &reading).await;
}

fn config() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("schemathesis.toml")
}

/// Has the API tried; what is said of it must be that nothing was found.
async fn tried(address: &str, more: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    let seconds = std::env::var("HATCHWARDEN_API_SECONDS").ok();
    let mut command = Command::new("python3");
    command.current_dir(folder.path()).args(["-m", "schemathesis.cli", "--config-file"]).arg(config());
    command.args(["run", &format!("{address}api/v1/openapi.json"), "--url", address, "--no-color"]);
    command.args(["--exclude-path", NO_END, "--generation-database", "none", "--request-timeout", "20"]);
    command.args(["--continue-on-failure", "--suppress-health-check", "all"]);
    match &seconds {
        Some(seconds) => command.args(["--max-time", seconds]),
        None => command.args(["--seed", "7", "--max-examples", DRAWS]),
    };
    let said = command.args(more).kill_on_drop(true).output();
    let out = tokio::time::timeout(PATIENCE, said).await.expect("schemathesis hangs").unwrap();
    let text = [out.stdout, out.stderr].map(|said| String::from_utf8_lossy(&said).into_owned()).concat();
    assert!(out.status.success(), "schemathesis has found something:\n{text}");
    assert!(text.contains("No issues found") || text.contains("passed"), "it tried nothing:\n{text}");
    println!("{text}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_room_keeps_to_its_description() {
    let (room, port) = room();
    let service = Hatchwarden::run(&room).await;
    add_keeper(&room).await;
    let address = service.api.address.clone();
    let token = token(&address).await;
    furnish(&address, &token, port).await;
    let document: Value = service.api.get("api/v1/openapi.json").await;
    assert_eq!(document["openapi"].as_str().map(|v| v.starts_with("3.1.")), Some(true));
    tried(&address, &["--header", &format!("Authorization: Bearer {token}")]).await;
    assert_eq!(service.api.page("live").await, "live");
}

/// Nobody signs in at the demo, so whether doors are shut cannot be seen there.
#[tokio::test(flavor = "multi_thread")]
async fn a_simulated_room_keeps_to_its_description() {
    let service = Hatchwarden::demo(&["--bench", "--listen", "127.0.0.1:0"]).await;
    let address = service.api.address.clone();
    tried(
        &address,
        &[
            "--exclude-checks",
            "ignored_auth",
            "--generation-with-security-parameters",
            "false",
            "--include-path-regex",
            "simulated|alarms|session",
        ],
    )
    .await;
    assert_eq!(service.api.page("live").await, "live");
}
