//! The loop over an outbox in memory and a way that does as it is told, in virtual time.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use notify::{Failure, Item, Outbox, Step, Troubles, Way, run};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::{Notify, mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::Instant;

#[derive(Debug, PartialEq)]
enum Fate {
    Delivered,
    Failed { error: String, tries: u32, next_in: Option<Duration> },
}

/// An outbox with one item at most.
struct One {
    item: Mutex<Option<Item>>,
    /// Whether it can write down what became of the item.
    keeps: bool,
    changed: Arc<Notify>,
    fates: mpsc::UnboundedSender<Fate>,
}

impl Outbox for One {
    fn due(&self, _limit: usize) -> Step<Vec<Item>> {
        let items = self.item.lock().unwrap().clone().into_iter().collect();
        Box::pin(async move { items })
    }
    fn delivered(&self, _id: String) -> Step<()> {
        if self.keeps {
            self.item.lock().unwrap().take();
        }
        let fates = self.fates.clone();
        Box::pin(async move { fates.send(Fate::Delivered).unwrap() })
    }
    fn failed(&self, _id: String, error: String, tries: u32, next_in: Option<Duration>) -> Step<()> {
        if self.keeps {
            self.item.lock().unwrap().take();
        }
        let fates = self.fates.clone();
        Box::pin(async move { fates.send(Fate::Failed { error, tries, next_in }).unwrap() })
    }
    fn changed(&self) -> Arc<Notify> {
        self.changed.clone()
    }
}

/// Answers with what it is given, then with success; tells when it was tried.
struct Scripted {
    answers: Mutex<VecDeque<Failure>>,
    tried: mpsc::UnboundedSender<Instant>,
}

impl Way for Scripted {
    fn name(&self) -> &str {
        "scripted"
    }
    fn deliver(&self, _item: &Item, _unix_seconds: i64) -> Step<Result<(), Failure>> {
        self.tried.send(Instant::now()).unwrap();
        let answer = self.answers.lock().unwrap().pop_front().map_or(Ok(()), Err);
        Box::pin(async move { answer })
    }
}

struct Running {
    outbox: Arc<One>,
    fates: mpsc::UnboundedReceiver<Fate>,
    tried: mpsc::UnboundedReceiver<Instant>,
    troubles: watch::Receiver<Troubles>,
    stop: watch::Sender<bool>,
    work: JoinHandle<()>,
}

fn item(tries: u32) -> Item {
    Item { id: "msg_undercroft-TU3".to_owned(), way: "scripted".to_owned(), body: "{}".to_owned(), tries }
}

fn start(item: Option<Item>, keeps: bool, answers: Vec<Failure>) -> Running {
    let (fates_in, fates) = mpsc::unbounded_channel();
    let (tried_in, tried) = mpsc::unbounded_channel();
    let outbox = Arc::new(One { item: Mutex::new(item), keeps, changed: Arc::default(), fates: fates_in });
    let way = Scripted { answers: Mutex::new(answers.into()), tried: tried_in };
    let (stop, stopped) = watch::channel(false);
    let (troubles, seen) = watch::channel(Troubles::new());
    let ways: Vec<Box<dyn Way>> = vec![Box::new(way)];
    let work = tokio::spawn(run(outbox.clone(), ways, Arc::new(|| 1_700_000_000), troubles, stopped));
    Running { outbox, fates, tried, troubles: seen, stop, work }
}

fn busy(after: Option<u64>) -> Failure {
    Failure::Later { reason: "busy".to_owned(), after: after.map(Duration::from_secs) }
}

#[tokio::test(start_paused = true)]
async fn a_delivery_that_could_not_be_written_down_is_not_repeated() {
    let mut running = start(Some(item(0)), false, Vec::new());
    let begin = Instant::now();
    for _ in 0..4 {
        assert_eq!(running.fates.recv().await.unwrap(), Fate::Delivered);
    }
    assert_eq!(running.tried.len(), 1);
    // Told after the try, at the look that follows it at once, and then once a second.
    assert_eq!(begin.elapsed(), Duration::from_secs(2));
}

#[tokio::test(start_paused = true)]
async fn a_failure_that_could_not_be_written_down_still_waits_its_time() {
    let mut running = start(Some(item(0)), false, vec![busy(None); 3]);
    let mut tries = Vec::new();
    for _ in 0..4 {
        tries.push(running.tried.recv().await.unwrap());
    }
    let waits: Vec<u64> = tries.windows(2).map(|w| (w[1] - w[0]).as_secs()).collect();
    assert_eq!(waits, [2, 5, 15]);
}

#[tokio::test(start_paused = true)]
async fn waits_grow_with_the_tries_and_keep_to_what_the_receiver_asks() {
    for (tries, after, wanted) in [
        (0, None, Some(2)),
        (3, None, Some(60)),
        (0, Some(120), Some(120)),
        (5, Some(120), Some(300)),
        (11, None, Some(43_200)),
        (12, None, None),
    ] {
        let mut running = start(Some(item(tries)), true, vec![busy(after)]);
        let next_in = wanted.map(Duration::from_secs);
        let fate = Fate::Failed { error: "busy".to_owned(), tries: tries + 1, next_in };
        assert_eq!(running.fates.recv().await.unwrap(), fate);
    }
}

#[tokio::test(start_paused = true)]
async fn what_never_will_arrive_is_given_up_at_once() {
    let mut running = start(Some(item(0)), true, vec![Failure::Never("gone".to_owned())]);
    let fate = Fate::Failed { error: "gone".to_owned(), tries: 1, next_in: None };
    assert_eq!(running.fates.recv().await.unwrap(), fate);
}

#[tokio::test(start_paused = true)]
async fn a_new_item_is_not_slept_through() {
    let mut running = start(None, true, Vec::new());
    tokio::time::sleep(Duration::from_millis(2_500)).await;
    let put = Instant::now();
    *running.outbox.item.lock().unwrap() = Some(item(0));
    running.outbox.changed.notify_one();
    assert_eq!(running.fates.recv().await.unwrap(), Fate::Delivered);
    assert_eq!(put.elapsed(), Duration::ZERO);
}

#[tokio::test(start_paused = true)]
async fn an_item_that_falls_due_unannounced_is_seen_within_a_second() {
    let mut running = start(None, true, Vec::new());
    tokio::time::sleep(Duration::from_millis(2_500)).await;
    let put = Instant::now();
    *running.outbox.item.lock().unwrap() = Some(item(0));
    assert_eq!(running.fates.recv().await.unwrap(), Fate::Delivered);
    assert_eq!(put.elapsed(), Duration::from_millis(500));
}

#[tokio::test(start_paused = true)]
async fn it_ends_when_told_and_when_nobody_can_tell_any_more() {
    let running = start(None, true, Vec::new());
    running.stop.send_replace(true);
    running.work.await.unwrap();
    let running = start(None, true, Vec::new());
    drop(running.stop);
    running.work.await.unwrap();
}

#[tokio::test(start_paused = true)]
async fn a_way_that_fails_twice_is_told_until_its_next_delivery() {
    let mut running = start(Some(item(0)), false, vec![busy(None); 3]);
    let mut told = Vec::new();
    for _ in 0..2 {
        running.troubles.changed().await.unwrap();
        told.push((running.tried.len(), running.troubles.borrow_and_update().clone()));
    }
    let (first, then) = (&told[0], &told[1]);
    assert_eq!((first.0, first.1["scripted"].reason.as_str()), (2, "busy"));
    assert_eq!(first.1["scripted"].since_unix_seconds, 1_700_000_000);
    assert_eq!((then.0, then.1.len()), (4, 0));
}
