//! What waits for the writer, in the order in which it goes.

use super::{Ask, Job};
use crate::CommitError;
use std::collections::VecDeque;
use std::sync::mpsc::Receiver;
use tokio::sync::oneshot;

/// Rows after which no further batch joins a transaction, so that it stays short: whatever comes next waits for it.
const GROUP_ROWS: usize = 10_000;

/// What the writer does next.
pub(super) enum Next {
    /// These, as one transaction.
    Commit(Vec<Job>),
    /// As [`Ask::Limit`].
    Limit(u32, oneshot::Sender<Result<(), CommitError>>),
}

/// Two queues behind one door.
pub(super) struct Waiting {
    asks: Receiver<Ask>,
    first: VecDeque<Ask>,
    aside: VecDeque<Job>,
}

impl Waiting {
    pub(super) fn new(asks: Receiver<Ask>) -> Self {
        Self { asks, first: VecDeque::new(), aside: VecDeque::new() }
    }

    /// Waits for something to do; `None` when nothing is left and nobody can ask any more.
    pub(super) fn next(&mut self) -> Option<Next> {
        if self.first.is_empty() && self.aside.is_empty() {
            let ask = self.asks.recv().ok()?;
            self.put(ask);
        }
        while let Ok(ask) = self.asks.try_recv() {
            self.put(ask);
        }
        match self.first.pop_front() {
            Some(Ask::Limit(pages, reply)) => Some(Next::Limit(pages, reply)),
            Some(Ask::Commit(job) | Ask::CommitAside(job)) => Some(Next::Commit(self.joined(job))),
            // One at a time: what comes meanwhile does not wait for two.
            None => self.aside.pop_front().map(|job| Next::Commit(vec![job])),
        }
    }

    fn put(&mut self, ask: Ask) {
        match ask {
            Ask::CommitAside(job) => self.aside.push_back(job),
            other => self.first.push_back(other),
        }
    }

    /// A batch and those that wait behind it, up to what is no batch.
    fn joined(&mut self, job: Job) -> Vec<Job> {
        let mut rows = job.batch.rows();
        let mut jobs = vec![job];
        while rows < GROUP_ROWS {
            match self.first.pop_front() {
                Some(Ask::Commit(job) | Ask::CommitAside(job)) => {
                    rows += job.batch.rows();
                    jobs.push(job);
                }
                Some(other) => {
                    self.first.push_front(other);
                    break;
                }
                None => break,
            }
        }
        jobs
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Batch, EntryRow};
    use std::sync::Arc;
    use std::sync::mpsc::channel;
    use units::Time;

    fn job(id: u64) -> Job {
        let entry = EntryRow { id, recorded: Time::from_millis(0), by: "ana".into(), json: String::new() };
        let batch = Batch { entries: vec![entry], ..Batch::default() };
        Job { batch: Arc::new(batch), reply: oneshot::channel().0 }
    }

    fn large() -> Job {
        let notes = vec![(String::new(), String::new()); GROUP_ROWS];
        Job { batch: Arc::new(Batch { notes, ..Batch::default() }), reply: oneshot::channel().0 }
    }

    /// The entries of what comes next; `None` for what is no batch.
    fn ids(next: Next) -> Option<Vec<u64>> {
        match next {
            Next::Commit(jobs) => Some(jobs.iter().flat_map(|j| &j.batch.entries).map(|e| e.id).collect()),
            Next::Limit(..) => None,
        }
    }

    fn waiting(asks: Vec<Ask>) -> Waiting {
        let (sender, receiver) = channel();
        asks.into_iter().for_each(|ask| sender.send(ask).unwrap());
        Waiting::new(receiver)
    }

    fn order(mut waiting: Waiting) -> Vec<Option<Vec<u64>>> {
        std::iter::from_fn(|| waiting.next()).map(ids).collect()
    }

    #[test]
    fn what_waits_is_taken_together_up_to_the_next_that_is_no_batch() {
        let mut asks: Vec<Ask> = (1..5).map(|id| Ask::Commit(job(id))).collect();
        asks.push(Ask::Limit(9, oneshot::channel().0));
        asks.push(Ask::Commit(job(5)));
        assert_eq!(order(waiting(asks)), [Some(vec![1, 2, 3, 4]), None, Some(vec![5])]);
    }

    #[test]
    fn a_large_batch_is_joined_by_no_other() {
        let asks = vec![Ask::Commit(large()), Ask::Commit(job(2))];
        assert_eq!(order(waiting(asks)), [Some(vec![]), Some(vec![2])]);
    }

    #[test]
    fn what_may_wait_goes_alone_when_nothing_else_does() {
        let mut asks: Vec<Ask> = (1..4).map(|id| Ask::CommitAside(job(id))).collect();
        asks.push(Ask::Commit(job(4)));
        let (sender, receiver) = channel();
        asks.into_iter().for_each(|ask| sender.send(ask).unwrap());
        let mut waiting = Waiting::new(receiver);
        assert_eq!(ids(waiting.next().unwrap()), Some(vec![4]));
        assert_eq!(ids(waiting.next().unwrap()), Some(vec![1]));
        // It has come while the first of them was written.
        sender.send(Ask::Commit(job(5))).unwrap();
        drop(sender);
        assert_eq!(order(waiting), [Some(vec![5]), Some(vec![2]), Some(vec![3])]);
    }
}
