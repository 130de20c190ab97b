//! Answers in memory, and the log of alarms, as tests have them.

use super::*;
use std::collections::HashMap;
use web::access::Hash;
use web::once::{Answers, Kept};

/// Keeps answers; `full` says that so many are there already.
#[derive(Default)]
pub struct FakeAnswers {
    pub kept: Mutex<HashMap<Hash, Kept>>,
    pub full: Mutex<Option<usize>>,
    kept_now: tokio::sync::Notify,
}

impl FakeAnswers {
    /// Waits until one is kept.
    pub async fn kept_one(&self) {
        self.kept_now.notified().await;
    }
}

impl Answers for FakeAnswers {
    fn find(&self, key: Hash) -> Answer<Option<Kept>> {
        let found = self.kept.lock().unwrap().get(&key).cloned();
        Box::pin(async move { Ok(found) })
    }
    fn keep(&self, kept: Kept) -> Answer<()> {
        self.kept.lock().unwrap().insert(kept.key, kept);
        self.kept_now.notify_one();
        Box::pin(async { Ok(()) })
    }
    fn since(&self, _: Time) -> Answer<usize> {
        let n = self.full.lock().unwrap().unwrap_or_else(|| self.kept.lock().unwrap().len());
        Box::pin(async move { Ok(n) })
    }
}

/// Five changes of one alarm, numbers 1 to 5.
pub fn alarm_log(before: Option<u64>, most: usize) -> Vec<AlarmChange> {
    let change = |number| AlarmChange {
        number,
        alarm: "TU4.air-stopped".into(),
        at: now() - Span::minutes(60 - i64::try_from(number).unwrap()),
        from: "normal".into(),
        to: "unacknowledged".into(),
        text: format!("change {number}"),
    };
    (1..=5).rev().filter(|n| before.is_none_or(|b| *n < b)).take(most).map(change).collect()
}
