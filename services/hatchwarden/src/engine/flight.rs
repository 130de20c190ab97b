//! A commit that is under way, and what waits for it. Meanwhile the next batch is collected: the disk and the room
//! work at the same time, and everything is still acknowledged in order and only after its own commit.

use crate::room::{Announcement, Outcome, Word};
use intake::Ack;
use std::pin::Pin;
use store::{CommitFailed, Committed, Store};
use tokio::sync::oneshot;
use web::keeper::Trouble;

type Done = Result<Committed, Box<CommitFailed>>;

/// Who waits for a batch to be on disk.
#[derive(Default)]
pub(super) struct Waiting {
    pub(super) acks: Vec<Ack>,
    pub(super) replies: Vec<oneshot::Sender<Result<(), Trouble>>>,
    pub(super) announcements: Vec<Announcement>,
    /// Words for sirens and lamps.
    pub(super) words: Vec<Word>,
    /// Something was put into the outbox.
    pub(super) outbox: bool,
}

impl Waiting {
    pub(super) fn is_empty(&self) -> bool {
        self.acks.is_empty() && self.replies.is_empty()
    }
}

/// A commit that is under way.
pub(super) struct Flight {
    done: Pin<Box<dyn Future<Output = Done> + Send>>,
    /// Who waits for it.
    pub(super) waiting: Waiting,
}

impl Flight {
    /// Hands the batch to the store.
    pub(super) fn start(store: &Store, out: &mut Outcome, mut waiting: Waiting) -> Self {
        let batch = std::mem::take(&mut out.batch);
        waiting.announcements = std::mem::take(&mut out.announcements);
        waiting.words = std::mem::take(&mut out.words);
        waiting.outbox = !batch.outbox.is_empty();
        let store = store.clone();
        Self { done: Box::pin(async move { store.commit(batch).await }), waiting }
    }

    /// Waits for its end. Never returns while there is none; may be dropped and called again.
    pub(super) async fn landed(flight: &mut Option<Self>) -> (Done, Waiting) {
        let Some(under_way) = flight else { return std::future::pending().await };
        let done = under_way.done.as_mut().await;
        let waiting = flight.take().map(|f| f.waiting).unwrap_or_default();
        (done, waiting)
    }
}

/// Puts a batch that failed back in front of what has come since.
pub(super) fn put_back(
    failed: Box<CommitFailed>,
    waiting: &mut Waiting,
    out: &mut Outcome,
    next: &mut Waiting,
) {
    let mut batch = failed.batch;
    batch.append(std::mem::take(&mut out.batch));
    out.batch = batch;
    front(&mut out.announcements, &mut waiting.announcements);
    front(&mut out.words, &mut waiting.words);
    front(&mut next.acks, &mut waiting.acks);
}

fn front<T>(all: &mut Vec<T>, first: &mut Vec<T>) {
    first.append(all);
    std::mem::swap(all, first);
}

#[cfg(test)]
mod tests {
    use super::*;
    use store::{Batch, CommitError};

    fn note(name: &str) -> Batch {
        Batch { notes: vec![(name.to_owned(), String::new())], ..Batch::default() }
    }

    fn announcement(place: &str) -> Announcement {
        Announcement { place: place.to_owned(), payload: None, news: Vec::new() }
    }

    /// Acknowledgements are told apart by what they send.
    fn ack(number: u8, told: &std::sync::mpsc::Sender<u8>) -> Ack {
        let told = told.clone();
        Ack::new(move || told.send(number).unwrap())
    }

    #[test]
    fn what_failed_stands_before_what_has_come_since() {
        let (tell, told) = std::sync::mpsc::channel();
        let mut out = Outcome {
            batch: note("later"),
            announcements: vec![announcement("later")],
            ..Outcome::default()
        };
        let mut next = Waiting { acks: vec![ack(2, &tell)], ..Waiting::default() };
        let mut waiting = Waiting {
            acks: vec![ack(0, &tell), ack(1, &tell)],
            announcements: vec![announcement("failed")],
            ..Waiting::default()
        };
        let error = CommitError::Closed { path: "room.db".into() };
        let failed = Box::new(CommitFailed { error, batch: note("failed") });
        put_back(failed, &mut waiting, &mut out, &mut next);
        let names: Vec<&str> = out.batch.notes.iter().map(|n| n.0.as_str()).collect();
        assert_eq!(names, ["failed", "later"]);
        assert_eq!(out.announcements[0].place, "failed");
        next.acks.into_iter().for_each(Ack::done);
        assert_eq!(told.try_iter().collect::<Vec<_>>(), [0, 1, 2]);
    }
}
