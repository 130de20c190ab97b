//! The event stream: the pieces of the opening page that changed, as HTML by id.
//!
//! `room`: `{id: inner HTML}` of the fragments that differ from what this client was sent last; the first
//! carries all. `beat`: the room's clock, so that the page can tell a quiet room from a lost service.

use crate::access::who::{self, Asker};
use crate::page::fragments;
use crate::problem::Problem;
use crate::simulated::Simulated;
use crate::view::RoomView;
use crate::{Closing, Site};
use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures::stream;
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, watch};
use tokio::time::{Instant, sleep_until};

/// Least time between two `room` events of one client.
const PACE: Duration = Duration::from_millis(340);
/// Time between two `beat` events; the page calls the service lost after three.
const BEAT: Duration = Duration::from_secs(10);

/// What one client has been sent.
struct Client {
    site: Site,
    room: watch::Receiver<Arc<RoomView>>,
    simulated: Option<watch::Receiver<Arc<Simulated>>>,
    closing: watch::Receiver<bool>,
    sent: BTreeMap<&'static str, String>,
    not_before: Instant,
    beat_at: Instant,
    first: bool,
    beat_due: bool,
    /// Who opened it; its session may end meanwhile.
    asker: Option<Arc<Asker>>,
    _permit: OwnedSemaphorePermit,
}

impl Client {
    /// The fragments that differ from what was sent, remembered as sent.
    fn changed(&mut self) -> BTreeMap<&'static str, String> {
        let room = self.room.borrow_and_update().clone();
        let toy = self.simulated.as_mut().map(|s| s.borrow_and_update().clone());
        let clock = self.site.clock(&room);
        let all = who::with_now(self.asker.clone(), || fragments::all(&room, toy.as_deref(), &clock));
        let fresh = all.into_iter().map(|(id, m)| (id, m.into_string()));
        let news: BTreeMap<_, _> = fresh.filter(|(id, html)| self.sent.get(id) != Some(html)).collect();
        self.sent.extend(news.iter().map(|(id, html)| (*id, html.clone())));
        news
    }

    fn room_event(&mut self) -> Option<Event> {
        let news = self.changed();
        self.not_before = Instant::now() + PACE;
        if news.is_empty() {
            return None;
        }
        // Strings by static keys always serialise.
        let data = serde_json::to_string(&news).unwrap_or_default();
        Some(Event::default().event("room").data(data))
    }

    fn beat(&self) -> Event {
        let room = self.site.room();
        let clock = self.site.clock(&room);
        Event::default().event("beat").data(clock.local.hm(clock.now))
    }

    /// Whether whoever opened it is still signed in.
    async fn holds(&self) -> bool {
        let (access, now) = (&self.site.access, self.site.keeper.now());
        match &self.asker {
            Some(asker) => access.holds(asker, now).await,
            None => true,
        }
    }

    /// Waits for the next event; `None` ends the stream.
    async fn next(&mut self) -> Option<Event> {
        if std::mem::take(&mut self.first) {
            return self.room_event();
        }
        loop {
            if std::mem::take(&mut self.beat_due) {
                if !self.holds().await {
                    return None;
                }
                return Some(self.beat());
            }
            tokio::select! {
                biased;
                // The block drops the guard, which must not be held over an await.
                () = async { let _ = self.closing.wait_for(|closed| *closed).await; } => return None,
                () = sleep_until(self.beat_at) => {
                    // Words such as "22 min" age without a change of the room: look again, then beat.
                    self.beat_at = Instant::now() + BEAT;
                    self.beat_due = true;
                }
                changed = self.room.changed() => {
                    changed.ok()?;
                    sleep_until(self.not_before).await;
                }
                () = changed(&mut self.simulated) => sleep_until(self.not_before).await,
            }
            if let Some(event) = self.room_event() {
                return Some(event);
            }
        }
    }
}

/// Returns when the simulated room changes; never where there is none.
async fn changed(simulated: &mut Option<watch::Receiver<Arc<Simulated>>>) {
    let lost = match simulated {
        Some(shown) => shown.changed().await.is_err(),
        None => std::future::pending().await,
    };
    if lost {
        *simulated = None;
    }
}

/// `GET /api/v1/events`
pub(crate) async fn stream(State(site): State<Site>, closing: Option<Extension<Closing>>) -> Response {
    let Ok(permit) = site.streams.clone().try_acquire_owned() else {
        let said = "too many event streams are open; close other tabs of this page";
        return Problem::new(StatusCode::SERVICE_UNAVAILABLE, said).into_response();
    };
    let room = site.keeper.room();
    let simulated = site.keeper.simulated().map(|s| s.shown());
    let (idle, never) = watch::channel(false);
    let closing = closing.map_or(never, |Extension(Closing(c))| c);
    let now = Instant::now();
    let client = Client {
        site,
        room,
        simulated,
        closing,
        sent: BTreeMap::new(),
        not_before: now,
        beat_at: now + BEAT,
        first: true,
        beat_due: false,
        asker: who::current(),
        _permit: permit,
    };
    // `idle` rides along: without a service that closes, the channel must stay open and silent.
    let events = stream::unfold((client, idle), |(mut client, idle)| async move {
        let event = client.next().await?;
        Some((Ok::<_, Infallible>(event), (client, idle)))
    });
    let alive = KeepAlive::new().interval(Duration::from_secs(15)).text("still here");
    Sse::new(events).keep_alive(alive).into_response()
}
