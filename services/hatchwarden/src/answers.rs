//! Answers to changes as the store keeps them, for the page.

use crate::engine::read_from;
use store::{AnswerRow, Batch, ReadError, Reader, Store};
use units::Time;
use web::access::Hash;
use web::keeper::{Answer, Trouble};
use web::once::{Answers, Kept, Said};

/// The store as a keeper of answers.
pub(crate) struct KeptAnswers(Store);

impl KeptAnswers {
    /// Answers of this store.
    pub(crate) fn of(store: Store) -> Self {
        Self(store)
    }

    /// Reads where nobody else waits for it.
    fn read<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Reader) -> Result<T, ReadError> + Send + 'static,
    ) -> Answer<T> {
        read_from(&self.0, "answers", work)
    }
}

impl Answers for KeptAnswers {
    fn find(&self, key: Hash) -> Answer<Option<Kept>> {
        self.read(move |r| Ok(r.answer(&key)?.map(kept)))
    }

    fn keep(&self, kept: Kept) -> Answer<()> {
        let store = self.0.clone();
        Box::pin(async move {
            let batch = Batch { answers: vec![row(kept)], ..Batch::default() };
            let done = store.commit(batch).await;
            done.map(|_| ()).map_err(|failed| Trouble::Unable(failed.error.to_string()))
        })
    }

    fn since(&self, from: Time) -> Answer<usize> {
        self.read(move |r| Ok(usize::try_from(r.answers_since(from)?).unwrap_or(usize::MAX)))
    }
}

pub(crate) fn row(kept: Kept) -> AnswerRow {
    let Kept { key, fingerprint, at, said: Said { status, kind, location, body } } = kept;
    AnswerRow { key, fingerprint, at, status, kind, location, body }
}

fn kept(row: AnswerRow) -> Kept {
    let AnswerRow { key, fingerprint, at, status, kind, location, body } = row;
    Kept { key, fingerprint, at, said: Said { status, kind, location, body } }
}

/// The store keeps them for as long as the API promises.
const _: () = assert!(store::ANSWERS_KEPT.millis() >= web::once::KEPT.millis());
