//! Signing in at the real service: the first keeper and the way back by the command line while it runs, sessions that outlive a
//! kill, and what lies on the disk.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::Value;
use std::process::{Command, Output, Stdio};
use std::time::Duration;
use testkit::{Browser, Hatchwarden, PATIENCE, RoomFile, Screen, binary};
use thirtyfour::prelude::*;

const FIRST: &str = "correct horse battery";
const SECOND: &str = "another horse altogether";

/// A room at whose page people sign in, though on loopback.
fn room() -> RoomFile {
    let (room, _) = RoomFile::with_front_door("");
    let text = std::fs::read_to_string(&room.path).unwrap();
    let listen = "listen = \"127.0.0.1:0\"\n";
    std::fs::write(&room.path, text.replace(listen, &format!("{listen}sign_in = true\n"))).unwrap();
    room
}

/// `hatchwarden people` with a line of standard input.
fn people(room: &RoomFile, arguments: &[&str], line: &str) -> Output {
    use std::io::Write;
    let mut command = Command::new(binary());
    command.args(["people", "--config"]).arg(&room.path).args(arguments);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    // One that reads no password may have ended already.
    let _ = writeln!(child.stdin.take().unwrap(), "{line}");
    child.wait_with_output().unwrap()
}

fn good(output: Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn refused(output: Output) -> String {
    assert_eq!(output.status.code(), Some(2));
    String::from_utf8(output.stderr).unwrap()
}

/// A browser of few words.
struct Visitor {
    client: reqwest::Client,
    address: String,
    cookie: String,
}

impl Visitor {
    fn new(service: &Hatchwarden) -> Self {
        let client = reqwest::Client::builder()
            .no_proxy()
            .redirect(reqwest::redirect::Policy::none())
            .build()
            .unwrap();
        Self { client, address: service.api.address.clone(), cookie: String::new() }
    }

    async fn get(&self, path: &str) -> (u16, String) {
        let answer = self.client.get(format!("{}{path}", self.address)).header("cookie", &self.cookie);
        let answer = answer.send().await.unwrap();
        (answer.status().as_u16(), answer.text().await.unwrap())
    }

    async fn form(&self, path: &str, body: &str) -> reqwest::Response {
        let origin = self.address.trim_end_matches('/').to_owned();
        let request = self.client.post(format!("{}{path}", self.address)).header("cookie", &self.cookie);
        let request =
            request.header("origin", origin).header("content-type", "application/x-www-form-urlencoded");
        request.body(body.to_owned()).send().await.unwrap()
    }

    /// Signs in and keeps the cookie; the status.
    async fn sign_in(&mut self, password: &str) -> u16 {
        let answer = self.form("sign-in", &format!("name=ada&password={}", password.replace(' ', "+"))).await;
        let given = answer.headers().get_all("set-cookie").iter().map(|c| c.to_str().unwrap());
        let pair = given.filter_map(|c| c.split(';').next()).find(|c| c.starts_with("hatchwarden="));
        self.cookie = pair.unwrap_or_default().to_owned();
        answer.status().as_u16()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_keeper_is_made_beside_the_running_service_and_comes_back_after_a_kill() {
    let room = room();
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("nobody can sign in yet").await;
    let mut ada = Visitor::new(&service);
    let (status, said) = ada.get("").await;
    assert!(status == 503 && said.contains("add NAME --role keeper") && !said.contains("TU1"), "{said}");
    assert_eq!(ada.get("live").await, (200, "live".to_owned()));
    assert_eq!(ada.get("api/v1/room").await.0, 503);

    for (arguments, line, said) in [
        (&["add", "Ada", "--role", "helper"][..], FIRST, "make the first one a keeper"),
        (&["add", "Ada", "--role", "keeper"], "too short", "9 letters are too few"),
        (&["add", " ", "--role", "keeper"], FIRST, "1 to 60 letters"),
        (&["password", "Eve"], FIRST, "nobody here is called that"),
    ] {
        let answer = refused(people(&room, arguments, line));
        assert!(answer.contains(said), "{arguments:?}: {answer}");
    }
    assert!(good(people(&room, &["list"], "")).contains("Nobody yet"));
    assert_eq!(
        good(people(&room, &["add", "Ada", "--role", "keeper"], FIRST)),
        "Done: added Ada as keeper.\n"
    );
    let all: Value = serde_json::from_str(&good(people(&room, &["list", "--json"], ""))).unwrap();
    assert_eq!((all[0]["name"].as_str(), all[0]["role"].as_str()), (Some("Ada"), Some("keeper")));
    assert!(all[0]["password"].is_null(), "not even its hash is shown");
    assert!(refused(people(&room, &["remove", "Ada"], "")).contains("last keeper"));

    assert_eq!(ada.get("").await.0, 303, "the running service knows at once");
    assert_eq!(ada.sign_in(SECOND).await, 401);
    assert_eq!(ada.sign_in(FIRST).await, 303);
    assert!(ada.get("").await.1.contains("Signed in as <bdi>Ada</bdi>"));
    let clutch = "id=C12&fish=Tropheus&species=oreochromis-niloticus&vessel=V1&day0_earliest=2026-01-05T10%3A00&day0_grade=seen&by=Eve";
    assert_eq!(ada.form("clutches", clutch).await.headers()["location"], "/clutches/C12");

    let service = service.kill_and_run(&room).await;
    ada.address.clone_from(&service.api.address);
    let page = ada.get("clutches/C12").await;
    assert!(
        page.0 == 200 && page.1.contains("Ada") && !page.1.contains("Eve"),
        "session and clutch are kept"
    );

    good(people(&room, &["password", "ada"], SECOND));
    assert_eq!(ada.get("").await.0, 303, "signed out everywhere");
    assert_eq!(ada.sign_in(FIRST).await, 401);
    assert_eq!(ada.sign_in(SECOND).await, 303);
    let log: Value = serde_json::from_str(&ada.get("api/v1/audit").await.1).unwrap();
    let lines = log["lines"].as_array().unwrap().iter().rev();
    let said: Vec<_> =
        lines.map(|l| ["who", "how", "what", "address"].map(|f| l[f].as_str().unwrap())).collect();
    let (machine, home) = ("this machine", "127.0.0.1");
    assert_eq!(
        said,
        [
            ["the command line", "machine", "added Ada as keeper", machine],
            ["Ada", "nobody", "failed to sign in, 1 in a row from there", home],
            ["Ada", "session", "signed in", home],
            ["Ada", "session", "added a clutch", home],
            ["the command line", "machine", "set a new password for Ada", machine],
            ["Ada", "nobody", "failed to sign in, 1 in a row from there", home],
            ["Ada", "session", "signed in", home],
        ]
    );

    let cookie = ada.cookie.split_once('=').unwrap().1.to_owned();
    let (code, said) = service.child.stop().await;
    assert_eq!(code, Some(0), "{said}");
    let file = std::fs::read(room.store()).unwrap();
    for secret in [FIRST, SECOND, cookie.as_str()] {
        assert!(!file.windows(secret.len()).any(|w| w == secret.as_bytes()), "a secret lies on the disk");
        assert!(!said.contains(secret), "a secret stands in the log");
    }
    assert!(file.windows(9).any(|w| w == b"$argon2id"));
}

async fn write(driver: &WebDriver, css: &str, text: &str) {
    let field = driver
        .query(By::Css(css))
        .and_displayed()
        .wait(PATIENCE, Duration::from_millis(50))
        .first()
        .await
        .unwrap();
    field.send_keys(text).await.unwrap_or_else(|e| panic!("{css}: {e}"));
}

async fn appears(driver: &WebDriver, css: &str) {
    driver.query(By::Css(css)).wait(PATIENCE, Duration::from_millis(50)).first().await.unwrap();
}

/// In a real browser, which keeps cookies and says where a form comes from as browsers do.
#[tokio::test(flavor = "multi_thread")]
async fn people_sign_in_and_are_let_in_on_a_phone() {
    let room = room();
    good(people(&room, &["add", "Ada", "--role", "keeper"], FIRST));
    let service = Hatchwarden::run(&room).await;
    let browser = Browser::start().await;
    let (driver, home) = (&browser.driver, service.api.address.clone());
    browser.screen(Screen::PHONE_LIGHT).await;
    driver.goto(format!("{home}people")).await.unwrap();
    assert_eq!(browser.misfits().await, Vec::<String>::new());
    browser.picture("sign-in-phone-light").await;
    write(driver, "#sign-in-name", "Ada").await;
    write(driver, "#sign-in-password", "wrong horse battery\u{e007}").await;
    appears(driver, "#sign-in-fault").await;
    browser.picture("sign-in-wrong-phone-light").await;
    write(driver, "#sign-in-password", &format!("{FIRST}\u{e007}")).await;
    appears(driver, "#add").await;
    assert!(driver.current_url().await.unwrap().path().ends_with("/people"), "led back to where it began");

    write(driver, "#person-name", "\u{5d0}\u{5d3}\u{5d4} <script>alert(1)</script>").await;
    write(driver, "#person-password", &format!("{SECOND}\u{e007}")).await;
    appears(driver, "#person-2").await;
    driver.goto(format!("{home}people")).await.unwrap();
    driver
        .execute("for (const d of document.querySelectorAll('details')) d.open = true;", vec![])
        .await
        .unwrap();
    write(driver, "#token-token", "lamp in the hall\u{e007}").await;
    appears(driver, "#made").await;
    for (screen, name) in [(Screen::PHONE_DARK, "phone-dark"), (Screen::DESK_LIGHT, "desk-light")] {
        browser.screen(screen).await;
        assert_eq!(browser.misfits().await, Vec::<String>::new(), "a token, {name}");
        browser.picture(&format!("people-token-{name}")).await;
    }
    for path in ["people", "audit", "own", ""] {
        for (screen, name) in [(Screen::PHONE_LIGHT, "phone-light"), (Screen::DESK_LIGHT, "desk-light")] {
            browser.screen(screen).await;
            driver.goto(format!("{home}{path}")).await.unwrap();
            driver
                .execute("for (const d of document.querySelectorAll('details')) d.open = true;", vec![])
                .await
                .unwrap();
            assert_eq!(browser.misfits().await, Vec::<String>::new(), "{path}, {name}");
            browser.picture(&format!("access-{path}-{name}")).await;
        }
    }
    driver.goto(format!("{home}own")).await.unwrap();
    driver.find(By::Css("form[action='/sign-out'] button")).await.unwrap().click().await.unwrap();
    appears(driver, "#sign-in-name").await;
    driver.goto(&home).await.unwrap();
    appears(driver, "#sign-in-name").await;
    let (console, _) = browser.reports().await;
    // Chromium tells of the 401 that a wrong password is answered with, and of the cache that signing out clears.
    let told = ["401", "Cleared data types"];
    let console: Vec<_> =
        console.into_iter().filter(|line| !told.iter().any(|words| line.contains(words))).collect();
    assert!(console.is_empty(), "the console says: {console:?}");
    browser.close().await;
    let (code, said) = service.child.stop().await;
    assert_eq!(code, Some(0), "{said}");
}
