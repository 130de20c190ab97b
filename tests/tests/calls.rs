//! Calls through the whole service, against real receivers: what a kill does to them, mail and siren and link, and one service
//! that watches another.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

#[path = "../../services/notify/tests/postbox/mod.rs"]
#[expect(dead_code, reason = "certificates are for the tests of mail itself")]
mod postbox;

use postbox::{Postbox, Taken};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::time::Duration;
use testkit::{Delivery, Hatchwarden, Held, PATIENCE, RoomFile, Rows, hold, mosquitto_pub, mosquitto_sub};
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::time::timeout;

/// V3 is too cold under 26 °C, at once.
const TANK: &str = "[[vessel]]\nid = \"V3\"\nkind = \"tank\"\nband = [26.0, 28.0]\n\
                    band_on_delay_s = 0\nband_off_delay_s = 0\n";
/// Base64 of 32 bytes, invented for this test.
const SECRET: &str = "whsec_MDEyMzQ1Njc4OWFiY2RlZjAxMjM0NTY3ODlhYmNkZWY=\n";
/// How often the service is killed.
const KILLS: usize = 24;

/// Returns when the reading is acknowledged: then it is on the disk, and so is what follows from it.
async fn water(door: u16, celsius: f64) {
    let payload = celsius.to_string();
    let arguments = ["-q", "1", "-t", "hatchwarden/undercroft/V3/temperature", "-m", &payload];
    mosquitto_pub(door, &arguments).await;
}

async fn next(arriving: &mut UnboundedReceiver<Held>) -> Held {
    timeout(PATIENCE, arriving.recv()).await.unwrap().unwrap()
}

/// Whatever comes in, told apart by its id; the same id must always say the same.
#[derive(Default)]
struct Heard(BTreeMap<String, String>);

impl Heard {
    fn note(&mut self, delivery: &Delivery) {
        let id = delivery.header("webhook-id").to_owned();
        let before = self.0.entry(id.clone()).or_insert_with(|| delivery.body.clone());
        assert_eq!(*before, delivery.body, "{id} says two things");
    }
}

/// In turn right after the commit, before a receiver has answered, and right after it has.
#[tokio::test(flavor = "multi_thread")]
async fn kills_between_commit_and_delivery_lose_no_call() {
    let (port, mut arriving) = hold(0).await;
    let hook = format!("{TANK}[webhook]\nurl = \"http://127.0.0.1:{port}/\"\nsecret_file = \"secret.txt\"\n");
    let (room, door) = RoomFile::with_front_door(&hook);
    std::fs::write(room.folder.path().join("secret.txt"), SECRET).unwrap();
    let mut service = Hatchwarden::run(&room).await;
    let (mut heard, mut repeats) = (Heard::default(), 0);
    for kill in 0..KILLS {
        water(door, if kill % 2 == 0 { 25.7 } else { 26.5 }).await;
        if kill % 3 > 0 {
            let held = next(&mut arriving).await;
            repeats += usize::from(heard.0.contains_key(held.delivery.header("webhook-id")));
            heard.note(&held.delivery);
            if kill % 3 == 2 {
                held.answer("200 OK").await;
            }
        }
        service = service.kill_and_run(&room).await;
    }
    let rows = Rows::open(&room.store());
    timeout(PATIENCE, arrive(&rows, &mut arriving, &mut heard)).await.unwrap();
    drop(service);
    let wanted: Vec<String> = rows.messages().into_iter().map(|(id, _)| id).collect();
    let alarms = wanted.iter().filter(|id| id.contains("V3-too-cold-")).count();
    assert_eq!(alarms, KILLS, "each reading raised or ended the alarm: {wanted:?}");
    let unheard: Vec<&String> = wanted.iter().filter(|id| !heard.0.contains_key(*id)).collect();
    assert!(unheard.is_empty(), "never delivered: {unheard:?}");
    assert!(repeats > 0, "no kill has hit a delivery");
}

/// Answers until everything has arrived. Nobody outside is told that a fate has been written, so the file is asked.
async fn arrive(rows: &Rows, arriving: &mut UnboundedReceiver<Held>, heard: &mut Heard) {
    while rows.messages().iter().any(|(_, arrived)| !arrived) {
        // What a kill has cut off may wait among them: nobody is there to hear that answer.
        if let Ok(Some(held)) = timeout(Duration::from_millis(50), arriving.recv()).await {
            heard.note(&held.answer("200 OK").await);
        }
    }
}

async fn letter(postbox: &mut Postbox) -> Taken {
    timeout(PATIENCE, postbox.letter()).await.unwrap()
}

fn mail(postbox: &Postbox) -> String {
    format!(
        "[mail]\nhost = \"127.0.0.1\"\nport = {}\ntls = \"none\"\nfrom = \"Undercroft <room@example.org>\"\n\
         [[call]]\nperson = \"Ada\"\nmail = \"ada@example.org\"\n",
        postbox.port
    )
}

/// What stands in a body that may be broken over lines by the way.
fn text(letter: &Taken) -> &str {
    letter.json["text"].as_str().unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_letter_wakes_its_link_answers_and_the_siren_falls_silent() {
    let mut postbox = Postbox::start(&json!({})).await;
    let (port, mut program) = hold(0).await;
    let more = format!(
        "{TANK}{}[[webhook]]\nname = \"program\"\nurl = \"http://127.0.0.1:{port}/\"\nsecret_file = \"secret.txt\"\n\
         [[siren]]\ntopic = \"cellar/siren\"\non = \"SOUND\"\noff = \"HUSH\"\n[drill]\nevery_days = 0\n",
        mail(&postbox)
    );
    let (room, door) = RoomFile::with_front_door(&more);
    // Where people reach it: links in messages begin with that.
    let file = std::fs::read_to_string(&room.path).unwrap();
    let page = "listen = \"127.0.0.1:0\"\n";
    let told = file.replace(page, &format!("{page}address = \"https://undercroft.example.org\"\n"));
    std::fs::write(&room.path, told).unwrap();
    std::fs::write(room.folder.path().join("secret.txt"), SECRET).unwrap();
    let service = Hatchwarden::run(&room).await;
    let mut siren = mosquitto_sub(door, &["-v", "-t", "cellar/siren"]).await;

    water(door, 25.7).await;
    siren.line_with("cellar/siren SOUND").await;
    let call = letter(&mut postbox).await;
    assert_eq!(call.header("Subject"), "V3 is too cold");
    assert_eq!(call.header("To"), "ada@example.org");
    assert!(
        text(&call).contains("V3 is too cold since ") && text(&call).contains("First: Read another"),
        "{}",
        text(&call)
    );
    let link = text(&call)
        .split_whitespace()
        .find(|w| w.starts_with("https://undercroft.example.org/on-it/"))
        .unwrap();
    let path = link.trim_start_matches("https://undercroft.example.org/");
    // Mail programs look at links by themselves: that takes nothing on.
    assert!(service.api.page(path).await.contains("V3 is too cold"));
    assert_eq!(state(&service).await, "unacknowledged");
    let (status, said) = service.api.post(path, &Value::Null).await;
    assert!((200..400).contains(&status), "{status}: {said}");
    siren.line_with("cellar/siren HUSH").await;
    assert_eq!(state(&service).await, "acknowledged");
    water(door, 26.5).await;
    // People get no second letter within a minute; a program gets each change at once.
    for kind in ["alarm.raised", "alarm.acknowledged", "alarm.cleared"] {
        let told: Value =
            serde_json::from_str(&next(&mut program).await.answer("200 OK").await.body).unwrap();
        assert_eq!(told["type"], kind, "{told}");
    }
}

async fn state(service: &Hatchwarden) -> String {
    let alarms = service.api.get("api/v1/alarms").await;
    let alarm = alarms.as_array().unwrap().iter().find(|a| a["id"] == "V3.too-cold").unwrap();
    alarm["state"].as_str().unwrap().to_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn one_service_calls_when_the_other_dies() {
    let (first_room, _) = RoomFile::with_front_door("");
    let first = Hatchwarden::run(&first_room).await;
    let mut postbox = Postbox::start(&json!({})).await;
    let watch = format!("{}[watch]\nurl = \"{}live\"\nevery_s = 5\n", mail(&postbox), first.api.address);
    let (room, _) = RoomFile::with_front_door(&watch);
    let service = Hatchwarden::run(&room).await;
    first.child.kill().await;
    let call = letter(&mut postbox).await;
    assert_eq!(call.header("Subject"), "The other Hatchwarden is silent");
    assert!(text(&call).contains("look at it yourself"), "{}", text(&call));
    let listen =
        format!("listen = \"{}\"", first.api.address.trim_start_matches("http://").trim_end_matches('/'));
    let file = std::fs::read_to_string(&first_room.path).unwrap();
    std::fs::write(&first_room.path, file.replace("listen = \"127.0.0.1:0\"", &listen)).unwrap();
    let _first = Hatchwarden::run(&first_room).await;
    let over = |alarms: &Value| alarms.as_array()?.iter().all(|a| a["standing"] != true).then_some(());
    service.api.until("the other one back", "api/v1/alarms", over).await;
}

/// A zone in which it is between noon and one o'clock now, so that last night's letter is due at once.
async fn noon() -> String {
    let out = tokio::process::Command::new("date").args(["-u", "+%H"]).output().await.unwrap();
    let ahead = 12 - String::from_utf8(out.stdout).unwrap().trim().parse::<i32>().unwrap();
    // POSIX counts westwards: Etc/GMT-5 is five hours ahead.
    if ahead > 0 { format!("Etc/GMT-{ahead}") } else { format!("Etc/GMT+{}", -ahead) }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_letter_of_the_night_goes_once_over_a_kill_and_says_what_the_page_says() {
    let mut postbox = Postbox::start(&json!({})).await;
    let more =
        format!("{TANK}{}[drill]\nevery_days = 0\n[night]\nmail = [\"eve@example.org\"]\n", mail(&postbox));
    let (room, door) = RoomFile::with_front_door(&more);
    let file = std::fs::read_to_string(&room.path).unwrap();
    std::fs::write(&room.path, file.replace("Europe/Lisbon", &noon().await)).unwrap();
    let service = Hatchwarden::run(&room).await;
    let night = letter(&mut postbox).await;
    assert_eq!(night.header("To"), "eve@example.org");
    let review = service.api.get("api/v1/nights/last").await;
    let date = review["date"].as_str().unwrap();
    assert!(night.header("Message-ID").contains(date) && review["verdict"] == "not-known", "{review}");
    // Nothing was read: the letter says so and has its pictures all the same.
    assert!(text(&night).contains("Its water was not read at all."), "{}", text(&night));
    assert_eq!(
        night.json["parts"].as_array().unwrap().len(),
        2 + review["vessels"].as_array().unwrap().len()
    );
    let rows = Rows::open(&room.store());
    let arrived = async {
        while !rows.messages().iter().all(|(_, arrived)| *arrived) {
            tokio::time::sleep(Duration::from_millis(20)).await; // nobody outside is told
        }
    };
    timeout(PATIENCE, arrived).await.unwrap();
    let service = service.kill_and_run(&room).await;
    water(door, 25.7).await;
    let call = letter(&mut postbox).await;
    assert_eq!(call.header("Subject"), "V3 is too cold", "the night is not told twice");
    assert_eq!(rows.messages().iter().filter(|(id, _)| id.contains("-night-")).count(), 1);
    drop(service);
}
