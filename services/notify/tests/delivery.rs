//! Delivery through a real socket, and signatures against the vectors of `standards.json` (sources there).
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use base64::Engine;
use common::{header, receiver};
use notify::{Item, Outbox, Step, Troubles, Way, WebhookSettings, run, sign, webhook};
use serde_json::Value;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::{Notify, mpsc, watch};

const SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";

fn cases() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("standards.json")).unwrap();
    all["cases"].as_array().unwrap().clone()
}

fn key(secret: &str) -> Vec<u8> {
    base64::engine::general_purpose::STANDARD.decode(secret.trim_start_matches("whsec_")).unwrap()
}

/// How a receiver checks: the time within five minutes, one of the `v1` signatures right.
fn verify(secret: &str, id: &str, stamp: i64, header: &str, body: &str, now: i64) -> bool {
    let right = sign(&key(secret), id, stamp, body);
    (now - stamp).abs() <= 300 && header.split(' ').any(|s| s == right)
}

#[test]
fn signatures_agree_with_the_published_vectors() {
    let mut tried = 0;
    for case in cases().iter().filter(|c| c["input"]["secret"].is_string()) {
        let input = &case["input"];
        let text = |name: &str| input[name].as_str().unwrap();
        let made = sign(&key(text("secret")), text("id"), input["timestamp"].as_i64().unwrap(), text("body"));
        assert_eq!(made, case["expected"].as_str().unwrap(), "{}", case["name"]);
        tried += 1;
    }
    assert!(tried >= 2, "{tried}");
}

#[test]
fn what_a_receiver_must_refuse_is_refused() {
    let (id, body, stamp) = ("msg_a1", "{\"a\":1}", 1_700_000_000);
    let good = sign(&key(SECRET), id, stamp, body);
    assert!(verify(SECRET, id, stamp, &good, body, stamp + 300));
    assert!(!verify(SECRET, id, stamp, &good, body, stamp + 301), "too old");
    assert!(!verify(SECRET, id, stamp + 301, &good, body, stamp), "from the future");
    assert!(!verify(SECRET, id, stamp, &good, "{\"a\": 1}", stamp), "re-serialised with a space");
    assert!(!verify(SECRET, id, stamp, &good.replace("v1", "v9"), body, stamp), "unknown version");
}

#[derive(Debug, PartialEq)]
enum Fate {
    Delivered(String),
    Failed { id: String, error: String, tries: u32, next_in: Option<Duration> },
}

/// An outbox in memory that gives a failed item again at once.
struct Memory {
    items: Mutex<VecDeque<Item>>,
    current: Mutex<Option<Item>>,
    fates: mpsc::UnboundedSender<Fate>,
    changed: Arc<Notify>,
}

impl Outbox for Memory {
    fn due(&self, _limit: usize) -> Step<Vec<Item>> {
        let next = self.items.lock().unwrap().pop_front();
        self.current.lock().unwrap().clone_from(&next);
        Box::pin(async move { next.into_iter().collect() })
    }
    fn delivered(&self, id: String) -> Step<()> {
        self.fates.send(Fate::Delivered(id)).unwrap();
        Box::pin(async {})
    }
    fn failed(&self, id: String, error: String, tries: u32, next_in: Option<Duration>) -> Step<()> {
        if let (Some(item), Some(_)) = (self.current.lock().unwrap().take(), next_in) {
            self.items.lock().unwrap().push_back(Item { tries, ..item });
        }
        self.fates.send(Fate::Failed { id, error, tries, next_in }).unwrap();
        Box::pin(async {})
    }
    fn changed(&self) -> Arc<Notify> {
        self.changed.clone()
    }
}

fn item(way: &str) -> Item {
    Item {
        id: "msg_undercroft-TU3".to_owned(),
        way: way.to_owned(),
        body: r#"{"type":"alarm.raised"}"#.to_owned(),
        tries: 0,
    }
}

/// Starts the loop over one item; gives its fates.
fn start(url: &str, way: &str) -> (mpsc::UnboundedReceiver<Fate>, watch::Sender<bool>) {
    let mut settings =
        WebhookSettings::new("webhook".to_owned(), url.to_owned(), Some(SECRET.to_owned().into()));
    settings.timeout = Duration::from_millis(300);
    let hook = webhook(settings).unwrap();
    let (fates, told) = mpsc::unbounded_channel();
    let memory = Arc::new(Memory {
        items: Mutex::new([item(way)].into()),
        current: Mutex::default(),
        fates,
        changed: Arc::default(),
    });
    let (stop, stopped) = watch::channel(false);
    let ways: Vec<Box<dyn Way>> = vec![Box::new(hook)];
    let (troubles, _) = watch::channel(Troubles::new());
    tokio::spawn(run(memory, ways, Arc::new(|| 1_700_000_000), troubles, stopped));
    (told, stop)
}

#[tokio::test]
async fn a_delivery_is_signed_and_a_repeat_has_the_same_id() {
    let (url, mut requests) =
        receiver(vec![Some("503 Busy\r\nretry-after: 120"), Some("204 No Content")]).await;
    let (mut fates, _stop) = start(&url, "webhook");
    let Fate::Failed { tries: 1, next_in, .. } = fates.recv().await.unwrap() else { panic!() };
    assert_eq!(next_in, Some(Duration::from_secs(120)), "Retry-After is kept");
    assert_eq!(fates.recv().await.unwrap(), Fate::Delivered(item("webhook").id));
    for _ in 0..2 {
        let request = requests.recv().await.unwrap();
        let (id, stamp) =
            (header(&request, "webhook-id"), header(&request, "webhook-timestamp").parse().unwrap());
        assert_eq!(id, item("webhook").id);
        assert!(verify(
            SECRET,
            id,
            stamp,
            header(&request, "webhook-signature"),
            &item("").body,
            1_700_000_000
        ));
        assert_eq!(header(&request, "content-type"), "application/json");
        assert!(header(&request, "user-agent").starts_with("hatchwarden/"));
        assert!(request.starts_with("POST /alarms?key=private HTTP/1.1\r\n"), "{request}");
        assert!(request.ends_with(&item("").body), "the bytes sent are the bytes signed");
    }
}

async fn first_failure(answer: Option<&'static str>) -> (String, Option<Duration>) {
    let (url, _requests) = receiver(vec![answer]).await;
    let (mut fates, _stop) = start(&url, "webhook");
    match fates.recv().await.unwrap() {
        Fate::Failed { error, next_in, .. } => (error, next_in),
        delivered => panic!("{delivered:?}"),
    }
}

#[tokio::test]
async fn a_redirect_is_not_followed_and_says_what_to_do() {
    let (said, again) = first_failure(Some("301 Moved\r\nlocation: http://127.0.0.1:1/")).await;
    assert!(said.contains("301") && said.contains("[[webhook]] webhook url") && again.is_some(), "{said}");
}

#[tokio::test]
async fn gone_is_given_up() {
    let (said, again) = first_failure(Some("410 Gone")).await;
    assert!(said.contains("410") && again.is_none(), "{said}");
}

#[tokio::test]
async fn a_receiver_that_hangs_costs_its_timeout_and_no_more() {
    let (said, again) = first_failure(None).await;
    assert!(said.contains("did not answer within 0.3 s") && again.is_some(), "{said}");
}

#[tokio::test]
async fn a_refused_connection_is_said_without_the_addresss_query() {
    let port = TcpListener::bind("127.0.0.1:0").await.unwrap().local_addr().unwrap().port();
    let (mut fates, _stop) = start(&format!("http://127.0.0.1:{port}/alarms?key=private"), "webhook");
    let Fate::Failed { error, .. } = fates.recv().await.unwrap() else { panic!() };
    assert!(
        error.contains("127.0.0.1") && error.contains("refused") && !error.contains("private"),
        "{error}"
    );
}

#[tokio::test]
async fn an_item_without_a_way_is_given_up_with_words() {
    let (mut fates, _stop) = start("http://127.0.0.1:1/", "pigeon");
    let Fate::Failed { error, next_in: None, .. } = fates.recv().await.unwrap() else { panic!() };
    assert!(error.contains("pigeon"), "{error}");
}
