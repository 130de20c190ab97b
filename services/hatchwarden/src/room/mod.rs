//! The room: readings, development, alarms and the account joined together.
//!
//! Pure like the crates it joins: time and messages are arguments, and everything that must be kept or announced
//! leaves in an [`Outcome`]. Whoever drives it commits the outcome's batch before acknowledging a message.

mod account;
mod air;
mod alarm;
mod calls;
mod claims;
mod clock;
mod command;
mod devices;
mod hearing;
mod learn;
mod monitors;
mod moved;
mod moving;
mod night;
mod nights;
mod offsets;
mod page;
mod past;
mod setup;
mod species;
mod tracked;
mod trend;
mod unmapped;
mod urgent;
mod view;
mod water;
mod whatif;
mod work;

pub use calls::LinkView;
pub(crate) use calls::{LINK_NOTE, NOTE as CALLS_NOTE};
pub(crate) use claims::NOTE as CLAIMS_NOTE;
pub(crate) use clock::NOTE as CLOCK_NOTE;
pub use command::Wish;
pub(crate) use devices::NOTE as DEVICES_NOTE;
pub(crate) use hearing::MISSED;
pub(crate) use learn::NOTE as LEARNT_NOTE;
pub(crate) use monitors::{LOOKS_BACK as MONITORS_LOOK_BACK, THINNED, follows};
pub use moved::{Known, moved};
pub(crate) use moving::is_witness;
pub(crate) use night::{EVENING, MORNING, Night, SLOT};
pub(crate) use nights::{Asked, AskedClutch, COMPARED, Stay};
pub(crate) use offsets::{Kept as KeptComparison, NOTE as COMPARISONS_NOTE};
pub use past::{LOOK_BACK, Past, RECENT, Wanted, held_note};
pub use setup::Setup;
pub(crate) use species::NOTE as SPECIES_NOTE;
pub(crate) use work::{ADDRESS_NOTE, NOTE as WORK_NOTE};

use air::AirLog;
use alarms::{AlarmKey, Panel, Place};
use development::SpeciesTable;
use ledger::Account;
use readings::{
    Decoded, Flags, Judge, MapError, Message, Offsets, Raw, Reading, Reason, Refusal, TopicMap, Verdict,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use store::{Batch, ReadingRow, RefusalRow};
use tracked::Tracked;
use units::{ClutchId, ProbeKey, Quantity, Span, Time, VesselId};
use water::RecentWater;
use web::view::{Progress, RefusalView};

/// What a step wants kept and announced.
#[derive(Debug, Default)]
pub struct Outcome {
    /// To be committed as one transaction before anything else.
    pub batch: Batch,
    /// To be announced after the commit; at once if the store is failing.
    pub announcements: Vec<Announcement>,
    /// Retained words for sirens and lamps; they leave with the announcements.
    pub words: Vec<Word>,
}

/// A word on a topic, retained.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// Where.
    pub topic: String,
    /// What.
    pub text: String,
}

/// News of one vessel's alarms, for MQTT and the log.
#[derive(Debug, Clone, PartialEq)]
pub struct Announcement {
    /// The vessel, or `room`.
    pub place: String,
    /// JSON while an alarm stands there, `None` when none does any more.
    pub payload: Option<String>,
    /// What changed, one sentence each.
    pub news: Vec<String>,
}

/// One room at work.
#[derive(Debug)]
pub struct Room {
    setup: Arc<Setup>,
    map: Arc<TopicMap>,
    claims: Vec<claims::Claim>,
    comparisons: Vec<offsets::Kept>,
    offsets: Arc<Offsets>,
    written: Vec<species::Written>,
    /// The entries at work.
    species: SpeciesTable,
    taught: learn::Taught,
    /// What was asked of the broker when the service started.
    subscribed: Vec<String>,
    hearing: BTreeMap<ProbeKey, hearing::Hearing>,
    devices: BTreeMap<String, devices::Device>,
    unmapped: unmapped::Unmapped,
    judge: Judge,
    panel: Panel,
    account: Account,
    tracked: BTreeMap<ClutchId, Tracked>,
    air: BTreeMap<VesselId, AirLog>,
    water: BTreeMap<VesselId, RecentWater>,
    trends: BTreeMap<VesselId, trend::Trend>,
    monitors: monitors::Monitors,
    /// The last moment that it was told of.
    moment: Time,
    last: BTreeMap<ProbeKey, ReadingRow>,
    /// When each probe was last heard with a fresh reading.
    newest_fresh: BTreeMap<ProbeKey, Time>,
    refusals: BTreeMap<(String, String), RefusalView>,
    news: BTreeMap<Place, Vec<String>>,
    /// What the watcher's own troubles are, in words.
    troubles: BTreeMap<AlarmKey, String>,
    calls: calls::Calls,
    /// What links in messages are made from.
    link_secret: Option<String>,
    /// The last jump of the machine's clock.
    jump: Option<clock::Jump>,
    /// One that was found at the start, and nobody was told of yet.
    untold_jump: Option<Span>,
    wanted: BTreeSet<ClutchId>,
    work: work::Work,
    next_entry: u64,
    progress: Option<Progress>,
    /// What a new configuration does not watch any more has been ended.
    begun: bool,
}

impl Room {
    /// An empty room; [`Room::restore`] fills it from a store.
    ///
    /// # Errors
    /// [`MapError`] when the topic map does not hold together.
    pub fn new(setup: Arc<Setup>) -> Result<Self, MapError> {
        let map = claims::configured(&setup.room, &setup.maps)?;
        Ok(Self {
            subscribed: map.filters(&setup.listen),
            map: Arc::new(map),
            claims: Vec::new(),
            comparisons: Vec::new(),
            offsets: Arc::default(),
            written: Vec::new(),
            species: setup.species.clone(),
            taught: learn::Taught::new(),
            hearing: BTreeMap::new(),
            devices: BTreeMap::new(),
            unmapped: unmapped::Unmapped::default(),
            setup,
            judge: Judge::new(),
            panel: Panel::new(),
            account: Account::new(),
            tracked: BTreeMap::new(),
            air: BTreeMap::new(),
            water: BTreeMap::new(),
            trends: BTreeMap::new(),
            monitors: monitors::Monitors::default(),
            moment: Time::from_millis(0),
            last: BTreeMap::new(),
            newest_fresh: BTreeMap::new(),
            refusals: BTreeMap::new(),
            news: BTreeMap::new(),
            troubles: BTreeMap::new(),
            jump: None,
            untold_jump: None,
            calls: calls::Calls::default(),
            link_secret: None,
            wanted: BTreeSet::new(),
            work: work::Work::default(),
            next_entry: 1,
            progress: None,
            begun: false,
        })
    }

    /// What the room is made of.
    pub fn setup(&self) -> &Arc<Setup> {
        &self.setup
    }

    /// Says how far a long piece of work has come; shown on the page.
    pub fn set_progress(&mut self, progress: Option<Progress>) {
        self.progress = progress;
    }

    /// One message that came in.
    pub fn message(&mut self, message: &Message<'_>, now: Time, out: &mut Outcome) {
        self.moment = now;
        if self.acknowledged_by_message(message, now, out) {
            return;
        }
        let map = self.map.clone();
        for decoded in map.decode(message) {
            match decoded {
                Decoded::Nothing => {}
                Decoded::Availability { device, online } => {
                    // A last will is the broker's word, not the device's.
                    self.device_alive(&device, message.retained || !online, now);
                    self.device_says(&device, online, now, out);
                }
                Decoded::Alive { device } => self.device_alive(&device, message.retained, now),
                Decoded::Refused(refusal) => self.refuse_message(refusal, message, out),
                Decoded::Value(raw) if self.setup.vessel(&raw.probe.vessel).is_none() => {
                    self.refuse_message(Refusal::unmapped(message, &raw.probe.vessel), message, out);
                }
                Decoded::Value(raw) => self.value(raw, message, now, out),
            }
        }
    }

    /// A message of which only the beginning came in, since it was too long.
    pub fn too_long(&mut self, message: &Message<'_>, out: &mut Outcome) {
        self.refuse_message(Refusal::too_long(message), message, out);
    }

    fn refuse_message(&mut self, refusal: Refusal, message: &Message<'_>, out: &mut Outcome) {
        if refusal.reason == Reason::UnmappedTopic {
            self.unmapped.note(message);
        } else if let Some(hearing) = refusal.place.parse().ok().and_then(|p| self.hearing.get_mut(&p)) {
            hearing.message = hearing.message.max(Some(message.received).filter(|_| !message.retained));
        }
        self.refuse(refusal, out);
    }

    fn value(&mut self, raw: Raw, message: &Message<'_>, now: Time, out: &mut Outcome) {
        let probe = raw.probe.clone();
        if let Some(hearing) = self.hearing(&probe) {
            hearing.heard(&raw, message.retained, message.received);
        }
        match self.judge.judge(raw, message.retained, message.received) {
            Verdict::Accept(readings) => {
                for r in readings {
                    self.accept(&r, now, out);
                }
            }
            Verdict::Refuse(refusal) => {
                self.note_refused(&refusal, now, out);
                self.refuse(refusal, out);
            }
            Verdict::Hold => {}
        }
        if let Some(refusal) = self.judge.take_dropped(&probe) {
            self.refuse(refusal, out);
        }
        self.keep_held(&probe, out);
    }

    /// `None` past the number of probes that one judge knows: a publisher that invents marks must not fill the memory.
    fn hearing(&mut self, probe: &ProbeKey) -> Option<&mut hearing::Hearing> {
        if !self.hearing.contains_key(probe) {
            if self.hearing.len() >= readings::MOST_PROBES {
                return None;
            }
            self.hearing.insert(probe.clone(), hearing::Hearing::default());
        }
        self.hearing.get_mut(probe)
    }

    /// Ends a batch of messages or wishes: projections are renewed, what follows from
    /// them is published, and everything that changed goes into `out`.
    pub fn close_batch(&mut self, now: Time, out: &mut Outcome) {
        if !std::mem::replace(&mut self.begun, true) {
            self.unwatch_empty(now, out);
        }
        self.learn(now, out);
        let renewed = self.to_renew();
        self.reproject(now, out);
        self.publish_work(renewed, now, out);
        self.collect_alarms(now, out);
        self.send_calls(now, out);
    }

    /// Lets time pass: delays run out, probes fall silent.
    pub fn tick(&mut self, now: Time, out: &mut Outcome) {
        self.watch_clock(now, out);
        self.moment = now;
        let moved = self.panel.tick(now);
        self.note_transitions(&moved, now, out);
        self.drill(now, out);
        self.escalate(now, out);
        self.send_calls(now, out);
    }

    /// When [`Room::tick`] must be called next at the latest.
    pub fn next_due(&self) -> Option<Time> {
        [self.panel.next_due(), self.calm_at(), self.next_call()].into_iter().flatten().min()
    }

    fn refuse(&mut self, r: Refusal, out: &mut Outcome) {
        let r = unmapped::bounded(r, &self.refusals);
        let reason = r.reason.word().to_owned();
        let entry = self.refusals.entry((r.place.clone(), reason.clone())).or_insert_with(|| RefusalView {
            place: r.place.clone(),
            reason: reason.clone(),
            count: 0,
            last: r.at,
            excerpt: String::new(),
        });
        entry.count += 1;
        entry.last = entry.last.max(r.at);
        entry.excerpt.clone_from(&r.excerpt);
        out.batch.refusals.push(RefusalRow { place: r.place, reason, at: r.at, excerpt: r.excerpt });
    }

    fn accept(&mut self, r: &Reading, now: Time, out: &mut Outcome) {
        let row = row_of(r);
        self.note_course(r);
        // A probe that was heard before is watched already, until its rhythm or the account change what is watched.
        let first = r.fresh && !self.newest_fresh.contains_key(&r.probe);
        self.note_live(&row);
        let renewed = r.fresh && self.hearing(&r.probe).is_some_and(|h| h.accepted(r.time));
        if r.fresh && r.probe.mark.is_none() {
            if first || renewed {
                self.watch(&r.probe, now);
            }
            let (t, value) = self.judged(&row);
            let moved = self.panel.reading(&r.probe.vessel, r.probe.quantity, t, value, now);
            self.note_transitions(&moved, now, out);
        }
        self.note_trend(&row, now, out);
        self.note_monitors(&row, now, out);
        out.batch.readings.push(row);
    }

    /// Feeds the temperature to every clutch that lay in that water at that time.
    fn note_course(&mut self, r: &Reading) {
        if r.probe.quantity != Quantity::Temperature || r.probe.mark.is_some() {
            return;
        }
        for (id, tracked) in &mut self.tracked {
            let clutch = self.account.clutch(id).filter(|c| c.ended().is_none_or(|end| r.time < end));
            let place = clutch.and_then(|c| c.place_at(r.time));
            if place.is_some_and(|p| *self.setup.water_of(p) == r.probe.vessel) {
                tracked.insert(r.time, self.offsets.corrected(&r.probe, r.time, r.value));
            }
        }
    }

    /// Keeps what the page shows of a probe just now.
    fn note_live(&mut self, row: &ReadingRow) {
        let probe = &row.probe;
        if probe.mark.is_none() {
            match probe.quantity {
                Quantity::Temperature => {
                    // As it was read: an offset is no drift.
                    self.water.entry(probe.vessel.clone()).or_default().note(row.time, row.value);
                }
                quantity if is_witness(quantity) => {
                    let vessel = self.setup.vessel(&probe.vessel);
                    let still = vessel.is_some_and(|v| v.lies_still(quantity, row.value));
                    self.air.entry(probe.vessel.clone()).or_default().note(row.time, still);
                }
                _ => {}
            }
        }
        if row.fresh {
            let newest = self.newest_fresh.entry(probe.clone()).or_insert(row.received);
            *newest = row.received.max(*newest);
        }
        match self.last.get_mut(probe) {
            Some(last) if last.time > row.time => {}
            Some(last) => *last = row.clone(),
            None => {
                self.last.insert(probe.clone(), row.clone());
            }
        }
    }

    /// A reading that waits for a second one must survive a crash, since its message is acknowledged.
    fn keep_held(&mut self, probe: &ProbeKey, out: &mut Outcome) {
        if let Some(change) = self.judge.take_held_change(probe) {
            let held = change.map(|r| serde_json::to_string(&r).unwrap_or_default()).unwrap_or_default();
            out.batch.notes.push((past::held_note(probe), held));
        }
    }
}

fn row_of(r: &Reading) -> ReadingRow {
    ReadingRow {
        probe: r.probe.clone(),
        time: r.time,
        value: r.value,
        received: r.received,
        sequence: r.sequence,
        fresh: r.fresh,
        flags: r.flags.to_bits(),
    }
}

/// The reading that a stored row was.
fn reading_of(row: &ReadingRow) -> Reading {
    let flags = Flags::from_bits(row.flags);
    Reading {
        probe: row.probe.clone(),
        time: row.time,
        value: row.value,
        received: row.received,
        sequence: row.sequence,
        fresh: row.fresh,
        time_source: flags.time_source(),
        flags,
    }
}
