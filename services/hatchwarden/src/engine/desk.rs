//! The desk: where the page asks the engine and reads the store.

use super::Parts;
use super::lapse::{Heard, Lapse};
use super::picture::Seen;
use super::token;
use crate::answers::KeptAnswers;
use crate::clock::Clock;
use crate::night;
use crate::room::{Asked, Known, LinkView, Setup, Wish, moved};
use chrono::NaiveDate;
use readings::trial::Tried;
use readings::{MapEntry, Offsets};
use std::sync::Arc;
use std::time::Duration;
use store::{AlarmLogItem, AlarmRow, OutboxFate, ReadError, Reader, Store};
use tokio::sync::{mpsc, oneshot, watch};
use units::{ClutchId, ProbeKey, Time, VesselId};
use web::account::{MotherView, TanksPage, VesselPage};
use web::calendar::CalendarView;
use web::calls::CallsView;
use web::keeper::{Answer, Keeper, NewClutch, NewComparison, NewSpecies, Record, Shelving, Trial, Trouble};
use web::once::{Answers, Once};
use web::probes::ProbesView;
use web::review::Review;
use web::simulated::SimulatedRoom;
use web::species::SpeciesView;
use web::view::{AlarmChange, ClutchPage, EventView, PastReading, Progress, ReadingView, RoomView};
use web::whatif::{Change, Foreseen, Moved};

/// A question or wish for the engine.
pub(crate) enum Ask {
    /// Everything about a clutch.
    Clutch(ClutchId, oneshot::Sender<Option<ClutchPage>>),
    /// What would come of other water for a clutch.
    WhatIf(ClutchId, Change, oneshot::Sender<Result<Foreseen, Trouble>>),
    /// What was known of a clutch at two times.
    Known(ClutchId, (Time, Time), oneshot::Sender<Result<Box<(Known, Known)>, Trouble>>),
    /// What is known of a night, without its readings.
    Night(Option<NaiveDate>, oneshot::Sender<Result<Box<Asked>, Trouble>>),
    /// Everything about probes, devices and the map.
    Probes(oneshot::Sender<ProbesView>),
    /// What calendars are told.
    Calendar(oneshot::Sender<CalendarView>),
    /// What a message would become by an entry.
    Try(Box<Trial>, oneshot::Sender<Result<Vec<Tried>, Trouble>>),
    /// What was written into the account: before which number, how many.
    Entries(Option<u64>, usize, oneshot::Sender<Vec<EventView>>),
    /// Everything about a vessel.
    Vessel(VesselId, oneshot::Sender<Option<VesselPage>>),
    /// All vessels, and who needs one soon.
    Tanks(oneshot::Sender<TanksPage>),
    /// Every mother.
    Mothers(oneshot::Sender<Vec<MotherView>>),
    /// Species entries.
    Species(oneshot::Sender<Vec<SpeciesView>>),
    /// Offsets of probes.
    Offsets(oneshot::Sender<Arc<Offsets>>),
    /// Who is called.
    Calls(oneshot::Sender<CallsView>),
    /// What a link in a message would do.
    Link(String, oneshot::Sender<Result<LinkView, Trouble>>),
    /// Whether the engine does its work.
    Beat(oneshot::Sender<()>),
    /// The room is to be shown as it is now.
    Look(oneshot::Sender<()>),
    /// Everything that has come in and was due is to be done; answered when it is on disk, with what is due next.
    Quiet(oneshot::Sender<Option<Time>>),
    /// A stretch of time is to be lived through at once.
    Lapse(Lapse),
    /// How far a long piece of work has come.
    Progress(Option<Progress>),
    /// Something to be done; answered when it is on disk.
    Wish {
        /// What.
        wish: Wish,
        /// By whom.
        by: String,
        /// The key under which it is to be done once.
        once: Option<Arc<Once>>,
        /// Where the answer goes.
        reply: oneshot::Sender<Result<(), Trouble>>,
    },
}

/// An engine that works answers in milliseconds, and in a second or two while a long commit is under way.
const PATIENCE: Duration = Duration::from_secs(10);

/// What the page sees of the service.
#[derive(Clone)]
pub struct Desk {
    setup: Arc<Setup>,
    clock: Clock,
    store: Store,
    asks: mpsc::Sender<Ask>,
    /// One for all desks: any other receiver is somebody who watches.
    shown: Arc<watch::Receiver<Arc<RoomView>>>,
    readings: watch::Receiver<Arc<Vec<ReadingView>>>,
    health: watch::Receiver<Option<String>>,
    trouble: watch::Receiver<Option<String>>,
    simulated: Option<Arc<dyn SimulatedRoom>>,
}

impl Desk {
    pub(super) fn new(
        parts: &Parts,
        asks: mpsc::Sender<Ask>,
        (shown, readings): Seen,
        health: watch::Receiver<Option<String>>,
    ) -> Self {
        Self {
            setup: parts.room.setup().clone(),
            clock: parts.clock.clone(),
            store: parts.store.clone(),
            asks,
            shown: Arc::new(shown),
            readings,
            health,
            trouble: parts.trouble.clone(),
            simulated: None,
        }
    }

    /// The same desk of a room that people may break.
    #[must_use]
    pub(crate) fn simulating(self, room: Option<Arc<dyn SimulatedRoom>>) -> Self {
        Self { simulated: room, ..self }
    }

    /// Has something done; answered when it is on disk.
    ///
    /// # Errors
    /// What the room says against it, or that the store is failing.
    pub async fn wish(&self, wish: Wish, by: &str) -> Result<(), Trouble> {
        let (reply, answer) = oneshot::channel();
        let ask = Ask::Wish { wish, by: by.to_owned(), once: web::once::current(), reply };
        self.asks.send(ask).await.map_err(|_| stopping())?;
        answer.await.map_err(|_| stopping())?
    }

    /// Shows how far a long piece of work has come.
    pub async fn progress(&self, progress: Option<Progress>) {
        // A service that is stopping shows nothing any more.
        let _ = self.asks.send(Ask::Progress(progress)).await;
    }

    /// Lives through the time up to `until` at once, with what comes in meanwhile, in the order of time; the service's clock
    /// is wound on. Returns when everything is on disk.
    ///
    /// # Errors
    /// The service is stopping.
    pub async fn lapse(&self, heard: Vec<Heard>, until: Time) -> Result<(), Trouble> {
        let (reply, answer) = oneshot::channel();
        let lapse = Lapse { heard, until, reply };
        self.asks.send(Ask::Lapse(lapse)).await.map_err(|_| stopping())?;
        answer.await.map_err(|_| stopping())
    }

    /// Waits until everything that was due up to now has been done and is on disk, or cannot be written because the store
    /// is failing; answers when something is due next. `None` when nothing is.
    ///
    /// # Errors
    /// The service is stopping.
    pub async fn quiet(&self) -> Result<Option<Time>, Trouble> {
        let (reply, answer) = oneshot::channel();
        self.asks.send(Ask::Quiet(reply)).await.map_err(|_| stopping())?;
        answer.await.map_err(|_| stopping())
    }

    /// Whether the engine answers within some seconds.
    pub async fn answers(&self) -> bool {
        matches!(tokio::time::timeout(PATIENCE, self.asking(Ask::Beat)).await, Ok(Ok(())))
    }

    /// Whether it does, and the store takes what it is given.
    pub async fn alive(&self) -> bool {
        self.answers().await && self.health.borrow().is_none()
    }

    /// Puts a question to the engine that it answers at once.
    fn asking<T: Send + 'static>(&self, question: impl FnOnce(oneshot::Sender<T>) -> Ask) -> Answer<T> {
        let (asks, (reply, answer)) = (self.asks.clone(), oneshot::channel());
        let ask = question(reply);
        Box::pin(async move {
            asks.send(ask).await.map_err(|_| stopping())?;
            answer.await.map_err(|_| stopping())
        })
    }

    fn wishing(&self, wish: Wish, by: String) -> Answer<()> {
        let desk = self.clone();
        Box::pin(async move { desk.wish(wish, &by).await })
    }
}

/// Reads the store, and whatever takes time besides, where nobody else waits for it.
async fn reading<T: Send + 'static>(
    what: &str,
    work: impl FnOnce() -> Result<T, ReadError> + Send + 'static,
) -> Result<T, Trouble> {
    match tokio::task::spawn_blocking(work).await {
        Ok(read) => read.map_err(|e| Trouble::Unable(e.to_string())),
        Err(e) => Err(Trouble::Unable(format!("reading {what} was broken off: {e}"))),
    }
}

/// The same, of a store, for whoever answers the page from it.
pub(crate) fn read_from<T: Send + 'static>(
    store: &Store,
    what: &'static str,
    work: impl FnOnce(&Reader) -> Result<T, ReadError> + Send + 'static,
) -> Answer<T> {
    let store = store.clone();
    Box::pin(reading(what, move || store.reader().and_then(|reader| work(&reader))))
}

fn fate_words(fate: &OutboxFate, setup: &Setup) -> String {
    let at = |t: Time| setup.clock_text(t);
    match (fate.ended, fate.arrived, &fate.error) {
        (Some(t), true, _) => format!("arrived at {}", at(t)),
        (Some(t), false, Some(error)) => format!("given up at {}: {error}", at(t)),
        (None, _, Some(error)) => format!("not arrived yet, after {} tries: {error}", fate.tries),
        _ => "on its way".to_owned(),
    }
}

fn stopping() -> Trouble {
    Trouble::Unable("the service is stopping; try again when it is back".to_owned())
}

impl Keeper for Desk {
    fn room(&self) -> watch::Receiver<Arc<RoomView>> {
        self.shown.as_ref().clone()
    }

    fn look(&self) -> Answer<()> {
        self.asking(Ask::Look)
    }

    fn now(&self) -> Time {
        self.clock.now()
    }

    fn readings(&self) -> Vec<ReadingView> {
        self.readings.borrow().as_ref().clone()
    }

    fn history(&self, probe: ProbeKey, from: Time, to: Time, most: usize) -> Answer<Vec<PastReading>> {
        let (offsets, store) = (self.asking(Ask::Offsets), self.store.clone());
        Box::pin(async move {
            let offsets = offsets.await?;
            let taken = probe.clone();
            let points = reading("the history", move || {
                let rows = store.reader()?.first_rows(&probe, from, to, most)?;
                Ok(rows.into_iter().map(|r| (r.time, r.value)).collect::<Vec<_>>())
            })
            .await?;
            let past = |(time, raw)| PastReading { time, value: offsets.corrected(&taken, time, raw), raw };
            Ok(points.into_iter().map(past).collect())
        })
    }

    fn clutch(&self, id: ClutchId) -> Answer<ClutchPage> {
        let page = self.asking(|reply| Ask::Clutch(id.clone(), reply));
        Box::pin(async move {
            page.await?.ok_or_else(|| Trouble::NotFound(format!("there is no clutch {id} in this room")))
        })
    }

    fn species(&self) -> Answer<Vec<SpeciesView>> {
        self.asking(Ask::Species)
    }

    fn enter_species(&self, new: NewSpecies, by: String) -> Answer<()> {
        self.wishing(Wish::EnterSpecies(Box::new(new)), by)
    }

    fn withdraw_species(&self, key: String, by: String) -> Answer<()> {
        self.wishing(Wish::WithdrawSpecies(key), by)
    }

    fn what_if(&self, id: ClutchId, change: Change) -> Answer<Foreseen> {
        let foreseen = self.asking(|reply| Ask::WhatIf(id, change, reply));
        Box::pin(async move { foreseen.await? })
    }

    fn shift(&self, id: ClutchId, from: Time, to: Time) -> Answer<Moved> {
        let known = self.asking(|reply| Ask::Known(id, (from, to), reply));
        let (setup, store) = (self.setup.clone(), self.store.clone());
        Box::pin(async move {
            let known = *known.await??;
            reading("what moved the dates", move || {
                let reader = store.reader()?;
                Ok(moved(&setup, known, &|probe, from, to| reader.range_rows(probe, from, to)))
            })
            .await?
        })
    }

    fn night(&self, date: Option<NaiveDate>) -> Answer<Review> {
        let asked = self.asking(|reply| Ask::Night(date, reply));
        let store = self.store.clone();
        Box::pin(async move {
            let mut asked = *asked.await??;
            reading("the night", move || {
                let readings = night::read(&store.reader()?, &mut asked)?;
                Ok(night::review(&asked, &readings))
            })
            .await
        })
    }

    fn vessels(&self) -> Vec<VesselId> {
        self.setup.vessels.iter().map(|v| v.id.clone()).collect()
    }

    fn acknowledge(&self, alarm: String, by: String) -> Answer<()> {
        self.wishing(Wish::Acknowledge(alarm), by)
    }

    fn calls(&self) -> Answer<CallsView> {
        let (calls, store) = (self.asking(Ask::Calls), self.store.clone());
        let clock = self.setup.clone();
        Box::pin(async move {
            let mut view = calls.await?;
            reading("what became of the tries", move || {
                let reader = store.reader()?;
                for t in &mut view.tries {
                    t.fate = reader.outbox_fate(&t.id)?.map(|fate| fate_words(&fate, &clock));
                }
                Ok(view)
            })
            .await
        })
    }

    fn try_call(&self, name: String, by: String) -> Answer<()> {
        self.wishing(Wish::TryCall(name), by)
    }

    fn link(&self, token: String) -> Answer<LinkView> {
        let link = self.asking(|reply| Ask::Link(token, reply));
        Box::pin(async move { link.await? })
    }

    fn use_link(&self, token: String) -> Answer<()> {
        self.wishing(Wish::UseLink(token), String::new())
    }

    fn shelve(&self, alarm: String, shelving: Shelving, by: String) -> Answer<()> {
        self.wishing(Wish::Shelve(alarm, shelving), by)
    }

    fn unshelve(&self, alarm: String, by: String) -> Answer<()> {
        self.wishing(Wish::Unshelve(alarm), by)
    }

    fn open_clutch(&self, clutch: NewClutch, by: String) -> Answer<()> {
        self.wishing(Wish::OpenClutch(clutch), by)
    }

    fn enter(&self, event: Box<ledger::Event>, by: String) -> Answer<()> {
        self.wishing(Wish::Enter(event), by)
    }

    fn entries(&self, before: Option<u64>, most: usize) -> Answer<Vec<EventView>> {
        self.asking(|reply| Ask::Entries(before, most, reply))
    }

    fn alarm_log(&self, before: Option<u64>, most: usize) -> Answer<Vec<AlarmChange>> {
        let store = self.store.clone();
        Box::pin(async move {
            let lines = reading("the log of alarms", move || store.reader()?.alarm_log(most, before)).await?;
            let change = |AlarmLogItem { id: number, row }: AlarmLogItem| {
                let AlarmRow { key: alarm, at, from, to, text } = row;
                AlarmChange { number, alarm, at, from, to, text }
            };
            Ok(lines.into_iter().map(change).collect())
        })
    }

    fn vessel(&self, id: VesselId) -> Answer<VesselPage> {
        let page = self.asking(|reply| Ask::Vessel(id.clone(), reply));
        Box::pin(async move {
            page.await?.ok_or_else(|| Trouble::NotFound(format!("there is no vessel {id} in this room")))
        })
    }

    fn tanks(&self) -> Answer<TanksPage> {
        self.asking(Ask::Tanks)
    }

    fn mothers(&self) -> Answer<Vec<MotherView>> {
        self.asking(Ask::Mothers)
    }

    fn record(&self, clutch: ClutchId, what: Record, by: String) -> Answer<()> {
        self.wishing(Wish::Record(clutch, what), by)
    }

    fn probes(&self) -> Answer<ProbesView> {
        self.asking(Ask::Probes)
    }

    fn calendar(&self) -> Answer<CalendarView> {
        self.asking(Ask::Calendar)
    }

    fn new_address(&self, by: String) -> Answer<()> {
        self.wishing(Wish::NewAddress(token::draw()), by)
    }

    fn try_entry(&self, trial: Trial) -> Answer<Vec<Tried>> {
        let tried = self.asking(|reply| Ask::Try(Box::new(trial), reply));
        Box::pin(async move { tried.await? })
    }

    fn claim(&self, entry: MapEntry, by: String) -> Answer<u64> {
        let desk = self.clone();
        Box::pin(async move {
            desk.wish(Wish::Claim(Box::new(entry.clone())), &by).await?;
            let map = desk.probes().await?.map;
            // The one claimed last, should two say the same.
            let claim = map.iter().rfind(|e| e.entry == entry).and_then(|e| e.claim);
            claim.ok_or_else(|| Trouble::NotFound("it was claimed, and has been released since".to_owned()))
        })
    }

    fn release(&self, claim: u64, by: String) -> Answer<()> {
        self.wishing(Wish::Release(claim), by)
    }

    fn compare(&self, new: NewComparison, by: String) -> Answer<()> {
        self.wishing(Wish::Compare(new), by)
    }

    fn withdraw_comparison(&self, number: u64, by: String) -> Answer<()> {
        self.wishing(Wish::WithdrawComparison(number), by)
    }

    fn simulated(&self) -> Option<Arc<dyn SimulatedRoom>> {
        self.simulated.clone()
    }

    fn answers(&self) -> Arc<dyn Answers> {
        Arc::new(KeptAnswers::of(self.store.clone()))
    }

    fn not_ready(&self) -> Option<String> {
        self.health.borrow().clone().or_else(|| self.trouble.borrow().clone())
    }
}
