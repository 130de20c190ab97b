//! The query trait: what the page needs from the service behind it.

use crate::account::{MotherView, TanksPage, VesselPage};
use crate::calendar::CalendarView;
use crate::calls::CallsView;
use crate::links::LinkView;
use crate::once::Answers;
use crate::probes::ProbesView;
use crate::review::Review;
use crate::simulated::SimulatedRoom;
use crate::species::SpeciesView;
use crate::view::{AlarmChange, ClutchPage, EventView, PastReading, ReadingView, RoomView};
use crate::whatif::{Change, Foreseen, Moved};
use chrono::NaiveDate;
use ledger::Event;
use readings::MapEntry;
use readings::trial::Tried;
use serde::Deserialize;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use tokio::sync::watch;
use units::{ClutchId, Grade, MotherId, ProbeKey, Sign, Stage, Time, VesselId};
use utoipa::ToSchema;

/// A boxed answer, so that the trait can stand behind a pointer.
pub type Answer<T> = Pin<Box<dyn Future<Output = Result<T, Trouble>> + Send>>;

/// Why a wish could not be met.
#[derive(Debug, Clone, thiserror::Error)]
pub enum Trouble {
    /// Nothing of that name.
    #[error("{0}")]
    NotFound(String),
    /// The input will not do; names the field, the value and the cure.
    #[error("{field}: {reason}")]
    Refused {
        /// Which field.
        field: String,
        /// What is wrong with it and what to write instead.
        reason: String,
    },
    /// The service cannot just now, e.g. the store is failing.
    #[error("{0}")]
    Unable(String),
}

/// A clutch as the keeper enters it.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewClutch {
    /// Name; must be new.
    pub id: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Key of a species entry.
    pub species: String,
    /// Her code.
    pub mother: Option<MotherId>,
    /// Earliest spawning time.
    pub day0_earliest: Time,
    /// Latest spawning time; the same when the hour was seen.
    pub day0_latest: Option<Time>,
    /// How the keeper knows.
    pub day0_grade: Grade,
    /// Where the mother is.
    pub vessel: VesselId,
}

/// What a keeper can record about a clutch.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(tag = "what", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Record {
    /// Taken from the mother into a vessel and counted.
    Strip {
        /// When.
        at: Time,
        /// Into which vessel.
        vessel: VesselId,
        /// Alive.
        alive: u32,
        /// Dead.
        dead: u32,
    },
    /// Moved to another vessel.
    Move {
        /// When.
        at: Time,
        /// Into which vessel.
        vessel: VesselId,
    },
    /// A stage was seen: hatch (half out), free swimming; or half of the yolk gone.
    Seen {
        /// When it was there.
        at: Time,
        /// What.
        stage: Sign,
        /// The look before, when it was not there yet.
        #[serde(default)]
        not_before: Option<Time>,
        /// It was past already when first looked at.
        #[serde(default)]
        already: bool,
    },
    /// An entry that told of something seen was a mistake.
    Withdraw {
        /// Its number.
        entry: u64,
    },
    /// Day 0 is known better.
    Day0 {
        /// Earliest spawning time.
        earliest: Time,
        /// Latest spawning time; the same when the hour was seen.
        #[serde(default)]
        latest: Option<Time>,
        /// How the keeper knows.
        grade: Grade,
    },
    /// Some died or were picked out.
    Loss {
        /// When.
        at: Time,
        /// How many.
        count: u32,
        /// Why, in the keeper's words.
        reason: String,
    },
}

impl Record {
    /// A stage that was watched as it came.
    pub fn watched(stage: Stage, at: Time) -> Self {
        Self::Seen { at, stage: stage.into(), not_before: None, already: false }
    }
}

/// An entry of the topic map to be tried on a message.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Trial {
    /// The entry; nothing is saved.
    pub entry: MapEntry,
    /// The topic to try it on; the entry's own where that is no filter.
    #[serde(default)]
    pub topic: Option<String>,
    /// The payload; the last one heard on that topic if none is given.
    #[serde(default)]
    pub payload: Option<String>,
    /// Whether the broker had kept it.
    #[serde(default)]
    pub retained: bool,
}

/// A probe and a reference thermometer, read in the same water.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewComparison {
    /// The probe; it measures temperature.
    pub probe: ProbeKey,
    /// When; now if not said.
    #[serde(default)]
    pub at: Option<Time>,
    /// Since when the probe is taken to have been so; from `at` on if not said.
    #[serde(default)]
    pub since: Option<Time>,
    /// What the probe itself read, °C, without any offset; its newest reading if not said.
    #[serde(default)]
    pub read: Option<f64>,
    /// What the reference read, °C.
    pub reference: f64,
    /// Which reference, in the keeper's words.
    pub against: String,
    /// The reference's rated accuracy, ± K.
    #[serde(default)]
    pub accuracy: Option<f64>,
}

/// A species entry as a keeper writes it.
#[derive(Debug, Clone)]
pub enum NewSpecies {
    /// TOML as in config/species.toml, one entry.
    Text(String),
    /// Days at one temperature for each stage.
    Plain(PlainSpecies),
}

/// A species entry that rests on days at one temperature for each stage.
#[derive(Debug, Clone, PartialEq)]
pub struct PlainSpecies {
    /// Key: a-z, 0-9 and hyphens.
    pub key: String,
    /// Name for people.
    pub name: String,
    /// Whether it broods its young in the mouth.
    pub mouthbrooder: bool,
    /// What is known of its stages.
    pub stages: Vec<PlainStage>,
    /// How far four clutches of five lie from it, ± percent.
    pub spread_percent: Option<f64>,
    /// Base temperature at the least, °C.
    pub base_low: f64,
    /// Likely base temperature, °C.
    pub base_likely: f64,
    /// Base temperature at the most, °C.
    pub base_high: f64,
    /// Where it is from.
    pub source: String,
    /// How it was got.
    pub how: String,
}

/// When a stage comes at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlainStage {
    /// Which.
    pub stage: Stage,
    /// Days from fertilisation.
    pub days: f64,
    /// Temperature, °C.
    pub celsius: f64,
}

/// How long an alarm is to call nobody, and why.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Shelving {
    /// Minutes from now.
    pub minutes: u32,
    /// Why, in the keeper's words.
    pub why: String,
}

/// The service as the page sees it.
pub trait Keeper: Send + Sync + 'static {
    /// The room, replaced after each commit that changed something shown (at most a few times a second).
    fn room(&self) -> watch::Receiver<Arc<RoomView>>;
    /// Brings what [`Keeper::room`] and [`Keeper::readings`] show up to this moment: while nobody watches, it may be old.
    fn look(&self) -> Answer<()> {
        Box::pin(async { Ok(()) })
    }
    /// The service's clock.
    fn now(&self) -> Time;
    /// Newest reading of each probe.
    fn readings(&self) -> Vec<ReadingView>;
    /// Readings of one probe, oldest first, both ends included: the first so many.
    fn history(&self, probe: ProbeKey, from: Time, to: Time, most: usize) -> Answer<Vec<PastReading>>;
    /// Everything about one clutch.
    fn clutch(&self, id: ClutchId) -> Answer<ClutchPage>;
    /// Species entries: the room's own first, then mouthbrooders.
    fn species(&self) -> Answer<Vec<SpeciesView>>;
    /// An entry is put into the table, in the place of one with its key.
    fn enter_species(&self, new: NewSpecies, by: String) -> Answer<()>;
    /// An entry that was written on the page leaves the table. That it stood there is kept.
    fn withdraw_species(&self, key: String, by: String) -> Answer<()>;
    /// What would come of other water for a clutch. Nothing is changed.
    fn what_if(&self, id: ClutchId, change: Change) -> Answer<Foreseen>;
    /// What moved the dates of a clutch between what was known at `from` and at `to`.
    fn shift(&self, id: ClutchId, from: Time, to: Time) -> Answer<Moved>;
    /// The night that began on the evening of that date, or the last one that has ended.
    fn night(&self, date: Option<NaiveDate>) -> Answer<Review>;
    /// Vessels, for the form, in the order of the configuration.
    fn vessels(&self) -> Vec<VesselId>;
    /// The person takes an alarm on: announces stop until it is gone.
    fn acknowledge(&self, alarm: String, by: String) -> Answer<()>;
    /// Who is called and how, drills, and ways that were tried.
    fn calls(&self) -> Answer<CallsView>;
    /// Sends a message by one call now, to see whether it arrives.
    fn try_call(&self, name: String, by: String) -> Answer<()>;
    /// What a link in a message would do.
    fn link(&self, token: String) -> Answer<LinkView>;
    /// Takes the alarm of a link on, in the name of who was called.
    fn use_link(&self, token: String) -> Answer<()>;
    /// The alarm calls nobody for a while; its condition is judged as ever.
    fn shelve(&self, alarm: String, shelving: Shelving, by: String) -> Answer<()>;
    /// It calls again as ever: at once, if its condition stands.
    fn unshelve(&self, alarm: String, by: String) -> Answer<()>;
    /// A new clutch.
    fn open_clutch(&self, clutch: NewClutch, by: String) -> Answer<()>;
    /// Anything that can be written into the account.
    fn enter(&self, event: Box<Event>, by: String) -> Answer<()>;
    /// What was written into the account, the newest first: at most so many of those before a number.
    fn entries(&self, before: Option<u64>, most: usize) -> Answer<Vec<EventView>>;
    /// What alarms did, the last first: at most so many of those before a number.
    fn alarm_log(&self, before: Option<u64>, most: usize) -> Answer<Vec<AlarmChange>>;
    /// Everything about one vessel.
    fn vessel(&self, id: VesselId) -> Answer<VesselPage>;
    /// Tanks, what lives in them, and who needs one soon.
    fn tanks(&self) -> Answer<TanksPage>;
    /// Every mother.
    fn mothers(&self) -> Answer<Vec<MotherView>>;
    /// Something seen or done.
    fn record(&self, clutch: ClutchId, what: Record, by: String) -> Answer<()>;
    /// Probes, devices, the map, and what is not mapped.
    fn probes(&self) -> Answer<ProbesView>;
    /// What calendar programs are told, and where they ask.
    fn calendar(&self) -> Answer<CalendarView>;
    /// Calendars ask at a new address from now on, and are told nothing at the old one.
    fn new_address(&self, by: String) -> Answer<()>;
    /// What a message would become by an entry. Nothing is saved.
    fn try_entry(&self, trial: Trial) -> Answer<Vec<Tried>>;
    /// An entry is put into the map and kept; answers its number.
    fn claim(&self, entry: MapEntry, by: String) -> Answer<u64>;
    /// A claimed entry is taken out of the map. That it stood there is kept.
    fn release(&self, claim: u64, by: String) -> Answer<()>;
    /// A probe was compared with a reference thermometer: what it reads is corrected from then on.
    fn compare(&self, new: NewComparison, by: String) -> Answer<()>;
    /// A comparison was a mistake. That it stood there is kept.
    fn withdraw_comparison(&self, number: u64, by: String) -> Answer<()>;
    /// The room as something that people may break, where it is a simulated one.
    fn simulated(&self) -> Option<Arc<dyn SimulatedRoom>> {
        None
    }
    /// Where answers to changes are kept, so that a repeat gets the same one.
    fn answers(&self) -> Arc<dyn Answers>;
    /// `None` when ready, else why not (for `/ready`).
    fn not_ready(&self) -> Option<String>;
}
