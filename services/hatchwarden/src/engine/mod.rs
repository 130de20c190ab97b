//! The pump around the room: takes messages and wishes, commits what follows from them, and only then acknowledges
//! and announces.

mod desk;
mod flight;
mod lapse;
mod picture;
mod restore;
mod token;

pub use desk::Desk;
pub(crate) use desk::{Ask, read_from};
pub use lapse::Heard;
pub(crate) use restore::past;
pub use restore::{RestoreError, restore};

use crate::answers;
use crate::clock::{Clock, Drift};
use crate::room::{Announcement, Outcome, Room, Wish, Word};
use bytes::Bytes;
use flight::{Flight, Waiting};
use intake::{Ack, Incoming, Outlet};
use lapse::Lapse;
use notify::Troubles;
use picture::Picture;
use readings::Message;
use std::sync::Arc;
use store::{CommitFailed, Committed, Store};
use tokio::sync::{Notify, mpsc, oneshot, watch};
use tokio::time::{Duration, Instant, sleep};
use units::Time;
use web::keeper::Trouble;
use web::once::Once;

/// Most messages taken into one transaction.
const BATCH: usize = 5_000;
/// Most readings held in memory while the store is failing; past that, messages wait where they are.
const HELD: usize = 50_000;
/// Waits between tries while the store is failing.
const STORE_RETRY: Duration = Duration::from_secs(2);

/// What the engine needs from outside.
pub struct Parts {
    /// The room, restored.
    pub room: Room,
    /// Where everything is kept.
    pub store: Store,
    /// The clock.
    pub clock: Clock,
    /// Messages with their acknowledgements.
    pub incoming: mpsc::Receiver<Incoming>,
    /// Where alarms are published.
    pub outlet: Arc<dyn Outlet>,
    /// Why messages cannot come in, while they cannot.
    pub trouble: watch::Receiver<Option<String>>,
    /// Told when something was put into the outbox.
    pub outbox: Arc<Notify>,
    /// Ways out by which nothing arrives, and why.
    pub undelivered: watch::Receiver<Troubles>,
    /// Why the other Hatchwarden is taken to be dead, while it is.
    pub other: watch::Receiver<Option<String>>,
}

/// The pump.
pub struct Engine {
    parts: Parts,
    /// Every look at the clock goes by it: see [`Engine::now`].
    drift: Drift,
    asks: mpsc::Receiver<Ask>,
    inbox: Vec<Incoming>,
    out: Outcome,
    /// Who waits for what is in `out`.
    waiting: Waiting,
    /// Who wants to know when everything that was due has been done.
    quiet: Vec<oneshot::Sender<Option<Time>>>,
    /// The batch before, on its way to the disk.
    flight: Option<Flight>,
    /// Weeks that are to be lived through at once.
    lapse: Option<Lapse>,
    /// They are being lived through: what is announced is no news to whoever reads the service's own log.
    lapsing: bool,
    failing: Option<Failing>,
    picture: Picture,
    health: watch::Sender<Option<String>>,
    ended: bool,
    /// Messages waited when it was last looked.
    queued: bool,
}

struct Failing {
    error: String,
    retry: Instant,
}

impl Engine {
    /// An engine and the desk at which the page asks it.
    pub fn new(mut parts: Parts) -> (Self, Desk) {
        let now = parts.clock.now();
        // A restored room has its courses but no dates yet; what follows from them is committed first of all.
        let mut out = Outcome::default();
        parts.room.close_batch(now, &mut out);
        if parts.room.wants_address() {
            parts.room.set_address(token::draw(), None, now, &mut out);
        }
        if parts.room.wants_link_secret() {
            parts.room.set_link_secret(token::draw(), &mut out);
        }
        parts.room.begin_drills(now);
        let (ask, asks) = mpsc::channel(256);
        let picture = Picture::new(&mut parts.room, now);
        let (health, _) = watch::channel(None);
        let desk = Desk::new(&parts, ask, picture.seen(), health.subscribe());
        let engine = Self {
            drift: Drift::new(parts.clock.clone()),
            parts,
            asks,
            inbox: Vec::with_capacity(BATCH),
            out,
            waiting: Waiting::default(),
            quiet: Vec::new(),
            flight: None,
            lapse: None,
            lapsing: false,
            failing: None,
            picture,
            health,
            ended: false,
            queued: false,
        };
        (engine, desk)
    }

    /// Runs until `stop` is set or every way in is gone; then commits what it still holds.
    pub async fn run(mut self, mut stop: watch::Receiver<bool>) {
        self.announce_all();
        self.note_trouble();
        self.settle().await;
        let clock = self.parts.clock.clone();
        while !*stop.borrow() && !self.ended {
            let (room_left, due, wait) = (self.room_left(), self.parts.room.next_due(), self.wait());
            tokio::select! {
                biased;
                _ = stop.changed() => {}
                Some(ask) = self.asks.recv() => self.answer(ask),
                (done, waiting) = Flight::landed(&mut self.flight) => self.land(done, waiting),
                n = self.parts.incoming.recv_many(&mut self.inbox, room_left), if room_left > 0 => {
                    if n == 0 {
                        break;
                    }
                    self.take_messages();
                }
                Ok(()) = self.parts.trouble.changed() => self.note_trouble(),
                Ok(()) = self.parts.undelivered.changed() => self.note_undelivered(),
                Ok(()) = self.parts.other.changed() => self.note_other(),
                () = reach(&clock, due) => {}
                () = sleep(wait) => {}
            }
            self.settle().await;
        }
        self.settle_whole().await;
        tracing::info!(unstored = self.out.batch.readings.len(), "engine stopped");
    }

    /// Now. When the clock has jumped the room is told first, so that nothing is judged by the new time before.
    fn now(&mut self) -> Time {
        let (now, jump) = self.drift.look();
        if let Some(by) = jump {
            tracing::warn!(seconds = by.as_seconds(), "the clock of this machine has jumped");
            self.parts.room.clock_moved(by, now, &mut self.out);
            self.picture.stale();
        }
        now
    }

    fn room_left(&self) -> usize {
        let most = if self.failing.is_some() { HELD } else { BATCH };
        most.saturating_sub(self.waiting.acks.len()).min(BATCH)
    }

    fn take_messages(&mut self) {
        let now = self.now();
        for incoming in self.inbox.drain(..) {
            let message = Message {
                topic: &incoming.topic,
                payload: &incoming.payload,
                retained: incoming.retained,
                received: now,
            };
            match incoming.oversize {
                None => self.parts.room.message(&message, now, &mut self.out),
                Some(_) => self.parts.room.too_long(&message, &mut self.out),
            }
            self.waiting.acks.push(incoming.ack);
        }
        self.picture.stale();
    }

    fn answer(&mut self, ask: Ask) {
        let now = self.now();
        match ask {
            Ask::Clutch(id, reply) => {
                // Whoever asked may have gone; then nobody misses the answer.
                let _ = reply.send(self.parts.room.clutch_page(&id, now));
            }
            Ask::WhatIf(id, change, reply) => {
                let _ = reply.send(self.parts.room.what_if(&id, change, now));
            }
            Ask::Known(id, (from, to), reply) => {
                let _ = reply.send(self.parts.room.known(&id, from, to).map(Box::new));
            }
            Ask::Night(date, reply) => {
                let _ = reply.send(self.parts.room.night_asked(date, now).map(Box::new));
            }
            Ask::Probes(reply) => {
                let _ = reply.send(self.parts.room.probes_view());
            }
            Ask::Entries(before, most, reply) => {
                let _ = reply.send(self.parts.room.entries(before, most));
            }
            Ask::Vessel(id, reply) => {
                let now = self.parts.clock.now();
                let _ = reply.send(self.parts.room.vessel_page(&id, now));
            }
            Ask::Tanks(reply) => {
                let now = self.parts.clock.now();
                let _ = reply.send(self.parts.room.tanks_page(now));
            }
            Ask::Mothers(reply) => {
                let now = self.parts.clock.now();
                let _ = reply.send(self.parts.room.mother_views(now));
            }
            Ask::Calendar(reply) => {
                let _ = reply.send(self.parts.room.calendar_view());
            }
            Ask::Try(trial, reply) => {
                let _ = reply.send(self.parts.room.try_entry(&trial, now));
            }
            Ask::Offsets(reply) => {
                let _ = reply.send(self.parts.room.offsets().clone());
            }
            Ask::Species(reply) => {
                let _ = reply.send(self.parts.room.species_views());
            }
            Ask::Calls(reply) => {
                let _ = reply.send(self.parts.room.calls_view());
            }
            Ask::Link(token, reply) => {
                let _ = reply.send(self.parts.room.link_view(&token, now));
            }
            Ask::Beat(reply) => {
                let _ = reply.send(());
            }
            Ask::Look(reply) => {
                self.picture.look(&mut self.parts.room, now);
                let _ = reply.send(());
            }
            Ask::Quiet(reply) => {
                self.quiet.push(reply);
                self.picture.stale(); // whoever moves the clock wants to see what it says now
            }
            Ask::Lapse(lapse) => self.lapse = Some(lapse),
            Ask::Progress(progress) => {
                self.parts.room.set_progress(progress);
                self.picture.stale();
            }
            Ask::Wish { wish, by, once, reply } => self.wish(wish, &by, once.as_deref(), reply),
        }
    }

    fn wish(
        &mut self,
        wish: Wish,
        by: &str,
        once: Option<&Once>,
        reply: oneshot::Sender<Result<(), Trouble>>,
    ) {
        let now = self.now();
        match self.parts.room.wish(wish, by, now, &mut self.out) {
            Ok(()) => {
                // In the batch of what it answers: both are on disk, or neither is.
                self.out.batch.answers.extend(once.map(|once| answers::row(once.take(now))));
                self.waiting.replies.push(reply);
            }
            Err(trouble) => {
                let _ = reply.send(Err(trouble));
            }
        }
        self.picture.stale();
    }

    fn note_trouble(&mut self) {
        let trouble = self.parts.trouble.borrow_and_update().clone();
        let now = self.now();
        self.parts.room.broker_lost(trouble.as_deref(), now, &mut self.out);
        self.picture.stale();
    }

    /// Tells the room how many messages wait. That none does, as mostly, is news only after some did.
    fn note_queue(&mut self) {
        let of = self.parts.incoming.max_capacity();
        // While the store is failing that is the cause, and what waits is told with it.
        let waiting = if self.failing.is_some() { 0 } else { self.parts.incoming.len() };
        if waiting > 0 || self.queued || self.parts.room.falls_behind() {
            let now = self.now();
            self.parts.room.waiting(waiting, of, now, &mut self.out);
        }
        self.queued = waiting > 0;
    }

    fn note_undelivered(&mut self) {
        let troubles = self.parts.undelivered.borrow_and_update().clone();
        let failing = troubles.into_iter().map(|(way, trouble)| (way, trouble.reason)).collect();
        let now = self.now();
        self.parts.room.cannot_deliver(failing, now, &mut self.out);
        self.picture.stale();
    }

    fn note_other(&mut self) {
        let silent = self.parts.other.borrow_and_update().clone();
        let now = self.now();
        self.parts.room.other_silent(silent.as_deref(), now, &mut self.out);
        self.picture.stale();
    }

    /// Lets time pass and sends what has come up to the disk, unless the batch before is still on its way: then it goes
    /// on being collected.
    async fn settle(&mut self) {
        self.note_queue();
        if let Some(lapse) = self.lapse.take() {
            self.live_through(lapse).await;
        }
        if self.parts.room.wants_courses() || !self.quiet.is_empty() {
            self.settle_whole().await;
            self.tell_quiet();
        } else if self.flight.is_none() {
            self.close_batch();
            self.launch();
        } else {
            let now = self.now();
            self.parts.room.tick(now, &mut self.out);
        }
        let now = self.now();
        self.picture.show(&mut self.parts.room, now);
    }

    /// Answers who waits for that with the moment at which something is due next.
    fn tell_quiet(&mut self) {
        let due = self.parts.room.next_due();
        for reply in self.quiet.drain(..) {
            // Whoever asked may have gone; then nobody misses the answer.
            let _ = reply.send(due);
        }
    }

    /// Waits until everything is on disk and the courses that clutches want have been read from there.
    async fn settle_whole(&mut self) {
        self.arrive().await;
        loop {
            self.close_batch();
            self.launch();
            if !self.arrive().await || !self.fill_courses().await {
                break;
            }
            // A course was read again: its projection is to be kept too.
        }
    }

    fn close_batch(&mut self) {
        let now = self.now();
        self.parts.room.tick(now, &mut self.out);
        self.parts.room.close_batch(now, &mut self.out);
        if self.failing.is_some() {
            self.announce_now(); // people first: the alarm leaves although it cannot be kept
        }
    }

    /// Begins the next commit, if there is something to wait for.
    fn launch(&mut self) {
        let nothing =
            self.out.batch.is_empty() && self.waiting.is_empty() && self.out.announcements.is_empty();
        let may = self.failing.as_ref().is_none_or(|f| Instant::now() >= f.retry);
        if may && (!nothing || self.failing.is_some()) {
            let waiting = std::mem::take(&mut self.waiting);
            self.flight = Some(Flight::start(&self.parts.store, &mut self.out, waiting));
        }
    }

    /// Waits for the commit that is under way. True when everything up to it is on disk.
    async fn arrive(&mut self) -> bool {
        if self.flight.is_some() {
            let (done, waiting) = Flight::landed(&mut self.flight).await;
            self.land(done, waiting);
        }
        self.failing.is_none()
    }

    fn land(&mut self, done: Result<Committed, Box<CommitFailed>>, mut waiting: Waiting) {
        match done {
            Ok(_) => {
                self.recovered();
                waiting.acks.into_iter().for_each(Ack::done);
                for reply in waiting.replies {
                    let _ = reply.send(Ok(()));
                }
                self.announce(waiting.announcements, waiting.words);
                if waiting.outbox {
                    self.parts.outbox.notify_one();
                }
            }
            Err(failed) => {
                let (error, lasting) = (failed.error.to_string(), failed.error.is_lasting());
                flight::put_back(failed, &mut waiting, &mut self.out, &mut self.waiting);
                self.fail(error, lasting, waiting.replies);
            }
        }
    }

    fn fail(&mut self, error: String, lasting: bool, replies: Vec<oneshot::Sender<Result<(), Trouble>>>) {
        if lasting {
            tracing::error!(%error, "the store will never take this; the service ends so that it starts afresh");
            self.ended = true;
        }
        if self.failing.is_none() {
            tracing::error!(%error, "the store is failing; messages wait unacknowledged");
            let now = self.now();
            self.parts.room.store_failing(Some(&error), now, &mut self.out);
            self.health.send_replace(Some(error.clone()));
            self.picture.stale();
        }
        for reply in replies {
            let words = format!(
                "{error}. What you entered is held in memory and written as soon as the store works again"
            );
            let _ = reply.send(Err(Trouble::Unable(words)));
        }
        self.failing = Some(Failing { error, retry: Instant::now() + STORE_RETRY });
    }

    fn recovered(&mut self) {
        if let Some(f) = self.failing.take() {
            tracing::info!(after = %f.error, "the store works again");
            let now = self.now();
            self.parts.room.store_failing(None, now, &mut self.out);
            self.health.send_replace(None);
            self.picture.stale();
        }
    }

    /// Reads again the courses of clutches whose past has changed. True when there were any.
    async fn fill_courses(&mut self) -> bool {
        let wanted = self.parts.room.take_wanted();
        if wanted.is_empty() {
            return !self.out.batch.is_empty();
        }
        match restore::courses(self.parts.store.clone(), wanted).await {
            Ok(courses) => {
                for (clutch, points) in courses {
                    self.parts.room.fill_course(&clutch, points);
                }
            }
            Err(error) => tracing::error!(%error, "a clutch's temperatures could not be read"),
        }
        true
    }

    fn announce_all(&mut self) {
        let now = self.now();
        for a in self.parts.room.standing_announcements(now) {
            self.publish(&a);
        }
        for word in self.parts.room.siren_words() {
            self.say(word);
        }
    }

    fn announce_now(&mut self) {
        let (announcements, words) =
            (std::mem::take(&mut self.out.announcements), std::mem::take(&mut self.out.words));
        self.announce(announcements, words);
    }

    fn say(&self, word: Word) {
        self.parts.outlet.publish(&word.topic, Bytes::from(word.text), true);
    }

    fn announce(&mut self, announcements: Vec<Announcement>, words: Vec<Word>) {
        words.into_iter().for_each(|word| self.say(word));
        for a in announcements {
            for sentence in &a.news {
                if self.lapsing {
                    tracing::debug!(place = %a.place, "{sentence}");
                } else {
                    tracing::warn!(place = %a.place, "{sentence}");
                }
            }
            self.publish(&a);
            self.picture.urgent();
        }
    }

    fn publish(&self, a: &Announcement) {
        let topic = format!("hatchwarden/{}/alarm/{}", self.parts.room.setup().room, a.place);
        let payload = a.payload.clone().map_or_else(Bytes::new, Bytes::from);
        self.parts.outlet.publish(&topic, payload, true);
    }

    /// How long the machine may rest; what is due in the room is another matter and goes by the room's clock.
    fn wait(&self) -> Duration {
        let retry = self.failing.as_ref().map(|f| f.retry.saturating_duration_since(Instant::now()));
        self.picture.wait().min(retry.unwrap_or(Duration::MAX)).max(Duration::from_millis(1))
    }
}

/// Returns when something is due in the room; never if nothing is.
async fn reach(clock: &Clock, due: Option<Time>) {
    match due {
        Some(due) => clock.reach(due).await,
        None => std::future::pending().await,
    }
}
