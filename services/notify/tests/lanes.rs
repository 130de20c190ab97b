//! Several ways at once over an outbox in memory, in virtual time: a slow one holds up nobody else.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use notify::{Failure, Item, Outbox, Step, Troubles, Way, run};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::{Notify, mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::{Instant, sleep};

/// Items by the second at which they are due; delivered ones are gone.
struct Memory {
    items: Mutex<BTreeMap<(u64, usize), Item>>,
    changed: Arc<Notify>,
    begin: Instant,
}

impl Memory {
    fn new(begin: Instant) -> Arc<Self> {
        Arc::new(Self { items: Mutex::default(), changed: Arc::default(), begin })
    }

    fn now(&self) -> u64 {
        self.begin.elapsed().as_secs()
    }

    fn take(&self, id: &str) -> Item {
        let mut items = self.items.lock().unwrap();
        let key = *items.iter().find(|(_, i)| i.id == id).unwrap().0;
        items.remove(&key).unwrap()
    }

    fn put(&self, due: u64, item: Item) {
        let mut items = self.items.lock().unwrap();
        let place = items.len() + items.keys().map(|(_, place)| place + 1).max().unwrap_or(0);
        items.insert((due, place), item);
    }
}

impl Outbox for Memory {
    fn due(&self, limit: usize) -> Step<Vec<Item>> {
        let now = self.now();
        let items = self.items.lock().unwrap();
        let due = items.iter().filter(|((due, _), _)| *due <= now).map(|(_, i)| i.clone());
        let due: Vec<Item> = due.take(limit).collect();
        Box::pin(async move { due })
    }
    fn delivered(&self, id: String) -> Step<()> {
        self.take(&id);
        Box::pin(async {})
    }
    fn failed(&self, id: String, _: String, tries: u32, next_in: Option<Duration>) -> Step<()> {
        let item = self.take(&id);
        if let Some(wait) = next_in {
            self.put(self.now() + wait.as_secs(), Item { tries, ..item });
        }
        Box::pin(async {})
    }
    fn changed(&self) -> Arc<Notify> {
        self.changed.clone()
    }
}

/// Takes its time, then answers; tells the beginning and the end of each try with the second of it.
struct Paced {
    name: &'static str,
    takes: Duration,
    fails: Vec<&'static str>,
    begin: Instant,
    tell: mpsc::UnboundedSender<(&'static str, String, u64)>,
}

impl Way for Paced {
    fn name(&self) -> &str {
        self.name
    }
    fn deliver(&self, item: &Item, _: i64) -> Step<Result<(), Failure>> {
        let (takes, begin, tell) = (self.takes, self.begin, self.tell.clone());
        let (id, fails) = (item.id.clone(), self.fails.contains(&item.id.as_str()));
        tell.send(("begins", id.clone(), begin.elapsed().as_secs())).unwrap();
        Box::pin(async move {
            sleep(takes).await;
            tell.send(("ends", id, begin.elapsed().as_secs())).unwrap();
            if fails { Err(Failure::Later { reason: "busy".to_owned(), after: None }) } else { Ok(()) }
        })
    }
}

struct Running {
    memory: Arc<Memory>,
    tries: mpsc::UnboundedReceiver<(&'static str, String, u64)>,
    stop: watch::Sender<bool>,
    work: JoinHandle<()>,
}

/// A way "slow" of five seconds and a way "quick" of none, over these items of (way, id).
fn start(items: &[(&str, String)], fails: &[&'static str]) -> Running {
    let begin = Instant::now();
    let memory = Memory::new(begin);
    for (way, id) in items {
        let item = Item { id: id.clone(), way: (*way).to_owned(), body: "{}".to_owned(), tries: 0 };
        memory.put(0, item);
    }
    let (tell, tries) = mpsc::unbounded_channel();
    let way = |name, seconds, tell| {
        let way = Paced { name, takes: Duration::from_secs(seconds), fails: fails.to_vec(), begin, tell };
        Box::new(way) as Box<dyn Way>
    };
    let ways = vec![way("slow", 5, tell.clone()), way("quick", 0, tell)];
    let (stop, stopped) = watch::channel(false);
    let (troubles, _) = watch::channel(Troubles::new());
    let work = tokio::spawn(run(memory.clone(), ways, Arc::new(|| 0), troubles, stopped));
    Running { memory, tries, stop, work }
}

fn named(way: &'static str, count: usize) -> Vec<(&'static str, String)> {
    (0..count).map(|n| (way, format!("{way} {n}"))).collect()
}

impl Running {
    async fn next(&mut self, what: &str) -> (String, u64) {
        loop {
            let (kind, id, at) = self.tries.recv().await.unwrap();
            if kind == what {
                return (id, at);
            }
        }
    }
}

#[tokio::test(start_paused = true)]
async fn a_slow_way_holds_up_its_own_items_and_no_others() {
    let items = [named("slow", 3), named("quick", 3)].concat();
    let mut running = start(&items, &[]);
    let mut ends = Vec::new();
    for _ in 0..6 {
        ends.push(running.next("ends").await);
    }
    let wanted =
        [("quick 0", 0), ("quick 1", 0), ("quick 2", 0), ("slow 0", 5), ("slow 1", 10), ("slow 2", 15)];
    assert_eq!(ends, wanted.map(|(id, at)| (id.to_owned(), at)));
}

#[tokio::test(start_paused = true)]
async fn a_way_makes_one_try_at_a_time() {
    let mut running = start(&named("slow", 4), &[]);
    for n in 0..4 {
        for what in ["begins", "ends"] {
            let (kind, id, _) = running.tries.recv().await.unwrap();
            assert_eq!((kind, id), (what, format!("slow {n}")));
        }
    }
}

#[tokio::test(start_paused = true)]
async fn an_item_behind_a_great_many_of_a_slow_way_leaves_at_once() {
    let items = [named("slow", 1_000), named("quick", 1)].concat();
    let mut running = start(&items, &[]);
    assert_eq!(running.next("ends").await, ("quick 0".to_owned(), 0));
}

#[tokio::test(start_paused = true)]
async fn an_item_that_waits_for_its_next_try_does_not_hold_up_newer_ones() {
    let mut running = start(&named("quick", 2), &["quick 0"]);
    let mut begins = Vec::new();
    for _ in 0..4 {
        begins.push(running.next("begins").await);
    }
    // Waits of 2 and 5 s after the tries.
    let wanted = [("quick 0", 0), ("quick 1", 0), ("quick 0", 2), ("quick 0", 7)];
    assert_eq!(begins, wanted.map(|(id, at)| (id.to_owned(), at)));
}

#[tokio::test(start_paused = true)]
async fn an_item_for_a_free_way_leaves_while_another_way_is_busy() {
    let mut running = start(&named("slow", 1), &[]);
    assert_eq!(running.next("begins").await.1, 0);
    sleep(Duration::from_secs(2)).await;
    let item = Item { id: "quick".to_owned(), way: "quick".to_owned(), body: "{}".to_owned(), tries: 0 };
    running.memory.put(0, item);
    running.memory.changed.notify_one();
    assert_eq!(running.next("ends").await, ("quick".to_owned(), 2));
    assert_eq!(running.next("ends").await, ("slow 0".to_owned(), 5));
}

#[tokio::test(start_paused = true)]
async fn a_try_that_has_begun_is_finished_and_none_is_begun_after_the_stop() {
    let mut running = start(&named("slow", 2), &[]);
    assert_eq!(running.next("begins").await.1, 0);
    running.stop.send_replace(true);
    running.work.await.unwrap();
    assert_eq!(running.tries.recv().await.unwrap(), ("ends", "slow 0".to_owned(), 5));
    assert!(running.tries.recv().await.is_none());
    let left: Vec<String> = running.memory.items.lock().unwrap().values().map(|i| i.id.clone()).collect();
    assert_eq!(left, ["slow 1"]);
}

#[tokio::test(start_paused = true)]
async fn a_try_without_end_is_broken_off_at_the_stop_and_stays_in_the_outbox() {
    let begin = Instant::now();
    let memory = Memory::new(begin);
    let item = Item { id: "stuck".to_owned(), way: "stuck".to_owned(), body: "{}".to_owned(), tries: 0 };
    memory.put(0, item);
    let (tell, mut tries) = mpsc::unbounded_channel();
    let way = Paced { name: "stuck", takes: Duration::from_secs(86_400), fails: Vec::new(), begin, tell };
    let (stop, stopped) = watch::channel(false);
    let (troubles, _) = watch::channel(Troubles::new());
    let work = tokio::spawn(run(memory.clone(), vec![Box::new(way)], Arc::new(|| 0), troubles, stopped));
    assert_eq!(tries.recv().await.unwrap().0, "begins");
    stop.send_replace(true);
    work.await.unwrap();
    assert_eq!(begin.elapsed(), Duration::from_secs(8));
    assert_eq!(memory.items.lock().unwrap().len(), 1);
}
