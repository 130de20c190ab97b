//! The watcher at a real socket.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::receiver;
use notify::Watcher;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;

type Told = mpsc::UnboundedReceiver<Option<String>>;

fn start(url: &str) -> (Told, watch::Sender<bool>, JoinHandle<()>) {
    let (tell, told) = mpsc::unbounded_channel();
    let (stop, stopped) = watch::channel(false);
    let watcher = Watcher::new(url, Duration::from_millis(5)).unwrap();
    let work = tokio::spawn(watcher.run(move |news| tell.send(news).unwrap(), stopped));
    (told, stop, work)
}

#[tokio::test]
async fn three_failures_are_silence_and_one_answer_is_life() {
    let busy = Some("503 Busy");
    let alive = Some("204 No Content");
    let (url, mut requests) = receiver(vec![alive, busy, busy, alive, busy, busy, busy, busy, alive]).await;
    let (mut told, stop, work) = start(&url);
    assert_eq!(told.recv().await.unwrap(), None, "life at the start");
    let reason = told.recv().await.unwrap().unwrap();
    assert!(reason.contains("503"), "{reason}");
    assert_eq!(told.recv().await.unwrap(), None);
    stop.send_replace(true);
    work.await.unwrap();
    let mut asked = 0;
    while let Ok(request) = requests.try_recv() {
        assert!(request.starts_with("GET /alarms?key=private HTTP/1.1\r\n"), "{request}");
        asked += 1;
    }
    assert_eq!(asked, 9);
}

#[tokio::test]
async fn nobody_at_the_address_is_silence_too_and_its_query_stays_hidden() {
    let port = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap().local_addr().unwrap().port();
    let (mut told, _stop, _work) = start(&format!("http://127.0.0.1:{port}/life?key=private"));
    let reason = told.recv().await.unwrap().unwrap();
    assert!(reason.contains("refused") && !reason.contains("private"), "{reason}");
}

#[tokio::test]
async fn a_redirect_is_no_life() {
    let moved = Some("302 Found\r\nlocation: http://127.0.0.1:1/");
    let (url, _requests) = receiver(vec![moved; 3]).await;
    let (mut told, _stop, _work) = start(&url);
    let reason = told.recv().await.unwrap().unwrap();
    assert!(reason.contains("302") && reason.contains("redirects are not followed"), "{reason}");
}

#[tokio::test]
async fn it_ends_when_nobody_can_tell_it_to_and_while_it_waits_for_an_answer() {
    let (url, mut requests) = receiver(vec![None]).await;
    let (_told, stop, work) = start(&url);
    requests.recv().await.unwrap();
    drop(stop);
    work.await.unwrap();
}

#[test]
fn an_address_that_will_not_do_is_refused() {
    let said = Watcher::new("tank-room:8080", Duration::from_secs(60)).unwrap_err().to_string();
    assert!(said.contains("tank-room:8080") && said.contains("https://"), "{said}");
}
