//! Judging, waiting and the bounds of waiting; time is paused.

use super::*;
use tokio::task::JoinSet;

fn device(name: &str) -> Device {
    Device { name: name.to_owned(), secret: Secret::new("right"), publish: vec![], subscribe: vec![] }
}

fn gate(connections: usize) -> Arc<Gate> {
    Arc::new(Gate::new(Access::Devices(vec![device("TU1"), device("TU2")]), connections).unwrap())
}

type Answer = Result<Arc<Rights>, Option<Fault>>;

async fn try_in(gate: &Gate, host: u8, user: &str, password: &str) -> Answer {
    let peer = Some([10, 0, 0, host].into());
    let secret = Secret::new(password);
    gate.sign_in(Badge { peer, user: Some(user), password: Some(&secret) }, &Counters::default()).await
}

fn code_of(answer: Answer) -> Option<u8> {
    answer.unwrap_err().map(|fault| fault.code)
}

#[tokio::test(start_paused = true)]
async fn the_right_password_comes_in_at_once() {
    let (gate, begun) = (gate(100), Instant::now());
    assert_eq!(try_in(&gate, 1, "TU1", "right").await.unwrap().name(), "TU1");
    assert_eq!(begun.elapsed(), Duration::ZERO);
}

#[tokio::test(start_paused = true)]
async fn wrong_ones_wait_longer_each_time_and_hold_nobody_else_up() {
    let (gate, begun) = (gate(100), Instant::now());
    assert_eq!(code_of(try_in(&gate, 1, "TU1", "wrong").await), Some(0x86));
    assert_eq!(begun.elapsed().as_millis(), 250);
    assert_eq!(
        code_of(try_in(&gate, 1, "nobody", "right").await),
        Some(0x86),
        "an unknown user is told the same"
    );
    assert_eq!(begun.elapsed().as_millis(), 750);
    let guess = tokio::spawn({
        let gate = Arc::clone(&gate);
        async move { try_in(&gate, 1, "TU1", "wrong").await }
    });
    tokio::task::yield_now().await;
    assert!(try_in(&gate, 1, "TU2", "right").await.is_ok(), "another device behind the same address");
    assert!(try_in(&gate, 2, "TU1", "right").await.is_ok(), "the same device from another address");
    assert_eq!(begun.elapsed().as_millis(), 750);
    guess.await.unwrap().unwrap_err();
}

#[tokio::test(start_paused = true)]
async fn without_name_or_password_nobody_comes_in() {
    let gate = gate(100);
    let counters = Counters::default();
    let nobody = Badge { peer: None, user: None, password: None };
    assert_eq!(code_of(gate.sign_in(nobody, &counters).await), Some(code::NOT_AUTHORIZED));
    let mute = Badge { user: Some("TU1"), ..nobody };
    assert_eq!(code_of(gate.sign_in(mute, &counters).await), Some(code::BAD_USER));
    let unknown = Badge { user: Some("nobody"), ..nobody };
    assert_eq!(code_of(gate.sign_in(unknown, &counters).await), Some(code::BAD_USER));
    assert_eq!(counters.read(0, 0).refused_sign_ins, 3);
}

#[tokio::test(start_paused = true)]
async fn guesses_side_by_side_are_judged_one_after_the_other() {
    // 20 guesses on 20 connections, the last of them right: while the first is not answered, none is judged.
    let (gate, begun) = (gate(1_000), Instant::now());
    let mut guesses = JoinSet::new();
    for n in 0..20 {
        let gate = Arc::clone(&gate);
        guesses.spawn(async move {
            try_in(&gate, 1, "TU1", if n == 19 { "right" } else { "wrong" }).await.is_ok()
        });
    }
    let answers = guesses.join_all().await;
    // 0.25 + 0.5 + 1 + 2 + 4 = 7.75 s for five guesses; the sixth ends after 8 s more, the rest is given up unjudged after 10 s.
    assert_eq!(begun.elapsed().as_millis(), 15_750);
    assert_eq!(
        lock(&gate.peers).held([10, 0, 0, 1].into(), gate.hasher.hash_one("TU1"), Instant::now()),
        None
    );
    assert!(answers.iter().filter(|right| **right).count() <= 1);
}

#[tokio::test(start_paused = true)]
async fn those_who_wait_are_bounded_and_the_rest_gets_no_answer() {
    let (gate, begun) = (gate(8), Instant::now());
    let mut guesses = JoinSet::new();
    for host in 0..5 {
        let gate = Arc::clone(&gate);
        guesses.spawn(async move { code_of(try_in(&gate, host, "TU1", "wrong").await) });
    }
    let answers = guesses.join_all().await;
    assert_eq!(
        answers.iter().filter(|answer| answer.is_none()).count(),
        3,
        "a quarter of 8 places: {answers:?}"
    );
    assert_eq!(begun.elapsed().as_millis(), 250);
    assert_eq!(gate.waiting.load(Relaxed), 0, "places are given back");
    assert_eq!(code_of(try_in(&gate, 9, "TU1", "wrong").await), Some(0x86));
}

#[test]
fn a_refused_topic_is_new_once_and_memory_is_bounded() {
    let gate = Gate::anonymous();
    assert!(
        gate.first_refusal("TU1", "a") && gate.first_refusal("TU2", "a") && !gate.first_refusal("TU1", "a")
    );
    let news = (0..2 * NOTED).filter(|n| gate.first_refusal("TU1", &n.to_string())).count();
    assert_eq!((news, lock(&gate.noted).len()), (NOTED - 2, NOTED));
}

#[test]
fn two_devices_of_one_name_are_refused() {
    let refused = Gate::new(Access::Devices(vec![device("TU1"), device("TU1")]), 1).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "device \"TU1\": another device has the same name; each device needs its own, so that one can be locked out alone"
    );
}
