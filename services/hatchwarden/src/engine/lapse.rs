//! Living through a stretch of time at once: what was sent in it, each message at its own moment, and all that fell due
//! between. The clock is wound on as it goes, so that everything is judged, called and kept as it would have been.

use super::Engine;
use readings::Message;
use tokio::sync::oneshot;
use units::{Span, Time};

/// Dates are worked out anew, and what has come up goes to the disk, at steps of this length: what is judged by the
/// minute does not wait for it.
const STEP: Span = Span::minutes(20);

/// A message of a stretch that is lived through at once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// When it came in.
    pub at: Time,
    /// Its topic.
    pub topic: String,
    /// What it says.
    pub payload: Vec<u8>,
    /// Whether it is an old one that a broker kept.
    pub retained: bool,
}

/// A stretch to be lived through.
pub(crate) struct Lapse {
    /// What comes in, in the order of time.
    pub(crate) heard: Vec<Heard>,
    /// Its end.
    pub(crate) until: Time,
    /// Told when everything is on disk.
    pub(crate) reply: oneshot::Sender<()>,
}

impl Engine {
    /// Lives through a stretch. The clock must be one that can be wound.
    pub(super) async fn live_through(&mut self, lapse: Lapse) {
        self.lapsing = true;
        let mut settled = self.now();
        for heard in &lapse.heard {
            self.pass(heard.at);
            self.hear(heard);
            if heard.at - settled >= STEP || self.parts.room.wants_courses() {
                self.settle_whole().await;
                settled = heard.at;
                self.picture.show(&mut self.parts.room, heard.at);
            }
        }
        self.pass(lapse.until);
        self.parts.clock.wind(lapse.until);
        self.settle_whole().await;
        self.lapsing = false;
        self.picture.stale();
        // Whoever asked may have gone; then nobody misses the answer.
        let _ = lapse.reply.send(());
    }

    /// Does what falls due before `to`, each at its own moment.
    fn pass(&mut self, to: Time) {
        while let Some(due) = self.parts.room.next_due().filter(|due| *due < to) {
            self.parts.clock.wind(due);
            let now = self.now();
            self.parts.room.tick(now, &mut self.out);
        }
    }

    fn hear(&mut self, heard: &Heard) {
        self.parts.clock.wind(heard.at);
        let now = self.now();
        let (topic, payload, retained) = (heard.topic.as_str(), heard.payload.as_slice(), heard.retained);
        self.parts.room.message(&Message { topic, payload, retained, received: now }, now, &mut self.out);
    }
}
