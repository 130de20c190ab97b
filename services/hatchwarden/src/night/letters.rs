//! The mail in the morning: the review of the night that has ended, once to everybody who wants it.

use crate::clock::Clock;
use crate::config::NightMail;
use crate::engine::Desk;
use crate::room::{Night, Setup};
use serde_json::json;
use std::sync::Arc;
use store::{Batch, OutboxRow, ReadError, Store};
use tokio::sync::{Notify, watch};
use units::{Span, Time};
use web::keeper::Keeper;
use web::review::{Pictures, Review, attached, document, headline, text, title};

/// After a failure it is tried again so much later. A planning value.
const RETRY: Span = Span::minutes(1);

/// Writes the letters.
pub(crate) struct Letters {
    pub(crate) mail: NightMail,
    pub(crate) setup: Arc<Setup>,
    pub(crate) desk: Desk,
    pub(crate) store: Store,
    pub(crate) clock: Clock,
    /// Told when a letter lies in the outbox.
    pub(crate) outbox: Arc<Notify>,
}

impl Letters {
    /// Writes each morning's letter until `stop`.
    pub(crate) async fn run(self, mut stop: watch::Receiver<bool>) {
        while !*stop.borrow() {
            let next = self.look().await;
            tokio::select! {
                ended = stop.changed() => if ended.is_err() { break },
                () = self.clock.reach(next) => {}
            }
        }
    }

    /// Writes what is due, and says when to look again.
    async fn look(&self) -> Time {
        let (now, zone) = (self.clock.now(), self.setup.zone);
        let night = Night::last_ended(now, zone);
        let due = night.morning(self.mail.at, zone);
        if now < due {
            return due;
        }
        // When the next night has begun it is too late for the one before.
        let late = now >= Night::on(night.date + chrono::Days::new(1), zone).dusk;
        if !late && let Err(reason) = self.write(&night).await {
            tracing::warn!(night = %night.date, reason, "the letter of the night could not be written; it is tried again");
            return now + RETRY;
        }
        Night::on(night.date + chrono::Days::new(1), zone).morning(self.mail.at, zone)
    }

    /// Puts the letter into the outbox for everybody who has none of that night yet, whatever the service has gone through since.
    async fn write(&self, night: &Night) -> Result<(), String> {
        let missing = self.missing(night).await?;
        if missing.is_empty() {
            return Ok(());
        }
        let review = self.desk.night(Some(night.date)).await.map_err(|e| e.to_string())?;
        let (now, body) = (self.clock.now(), body(&review, self.clock.now()));
        let row = |(id, way)| OutboxRow { id, way, created: now, next_try: now, body: body.clone() };
        let batch = Batch { outbox: missing.into_iter().map(row).collect(), ..Batch::default() };
        self.store.commit(batch).await.map_err(|failed| failed.error.to_string())?;
        tracing::info!(night = %night.date, "the letter of the night is on its way");
        self.outbox.notify_one();
        Ok(())
    }

    /// Id and way of each letter that was never put into the outbox.
    async fn missing(&self, night: &Night) -> Result<Vec<(String, String)>, String> {
        let room = self.setup.room.to_string();
        let all: Vec<(String, String)> = self.mail.ways().map(|way| (id(&room, night, &way), way)).collect();
        let store = self.store.clone();
        let look = move || -> Result<Vec<(String, String)>, ReadError> {
            let reader = store.reader()?;
            let mut missing = Vec::new();
            for (id, way) in all {
                if reader.outbox_fate(&id)?.is_none() {
                    missing.push((id, way));
                }
            }
            Ok(missing)
        };
        match tokio::task::spawn_blocking(look).await {
            Ok(found) => found.map_err(|e| e.to_string()),
            Err(e) => Err(format!("reading the outbox was broken off: {e}")),
        }
    }
}

/// The same for a night and a way for ever.
fn id(room: &str, night: &Night, way: &str) -> String {
    let text = format!("msg_{room}-night-{}-{way}", night.date);
    text.chars().map(|c| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_') { c } else { '-' }).collect()
}

fn body(r: &Review, now: Time) -> String {
    let pictures: Vec<_> =
        attached(r).into_iter().map(|p| json!({ "id": p.id, "name": p.name, "svg": p.svg })).collect();
    let data = json!({
        "room": r.room,
        "headline": format!("{}, {}: {}", title(r), r.room, headline(r)),
        "message": text(r),
        "html": document(r, Pictures::Attached),
        "pictures": pictures,
    });
    json!({ "type": "night.reviewed", "timestamp": now, "data": data }).to_string()
}
