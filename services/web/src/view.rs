//! What the page and the API show: plain values, made by the service after each commit.
//!
//! Every struct serialises to the JSON of the API under the same names. Times are RFC 3339 in UTC, spans are
//! milliseconds, temperatures °C, flows L/min.

use crate::account::AccountView;
use serde::{Deserialize, Serialize};
use units::{Band, ClutchId, Day0, MotherId, ProbeKey, Quantity, Span, Stage, Time, Unit, VesselId};
use utoipa::ToSchema;

/// The whole room at one moment.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RoomView {
    /// Name of the room.
    pub room: String,
    /// IANA name of the room's time zone.
    pub zone: String,
    /// The service's clock when this was made.
    pub now: Time,
    /// Dusk and dawn of the night that is running, or of the last one by day.
    pub night: NightSpan,
    /// Who has been heard.
    pub heard: Heard,
    /// Long work that is under way, e.g. history being loaded.
    pub progress: Option<Progress>,
    /// Standing alarms and those gone but unseen, the most urgent first.
    pub alarms: Vec<AlarmView>,
    /// Alarms that call nobody for a while.
    pub shelved: Vec<ShelvedView>,
    /// Tumblers and jars in the order of the configuration.
    pub tumblers: Vec<TumblerView>,
    /// Tanks in the order of the configuration.
    pub tanks: Vec<TankView>,
    /// Clutches in hand, the next to hatch or swim first.
    pub clutches: Vec<ClutchView>,
    /// What there is to do for them, by its likeliest time.
    pub work: Vec<TaskView>,
    /// Refusals by reason and probe or topic, newest first.
    pub refusals: Vec<RefusalView>,
}

/// One thing to do for a clutch, with its window; both ends are the same where it is a moment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct TaskView {
    /// For which clutch.
    pub clutch: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Where the clutch is now; `None` when the task is about its mother.
    pub vessel: Option<VesselId>,
    /// Code of the mother, when the task is about her and she has one.
    pub mother: Option<MotherId>,
    /// Word of the task: `hatch`, `thin-air`.
    pub task: &'static str,
    /// What is to be done, as a short phrase: "hatch expected".
    pub title: &'static str,
    /// Earliest.
    pub earliest: Time,
    /// Likeliest.
    pub likeliest: Time,
    /// Latest.
    pub latest: Time,
    /// Why then, with the source of the figure in it.
    pub reason: &'static str,
}

/// From dusk to dawn of the room's own clock.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct NightSpan {
    /// 20:00 of the evening.
    pub dusk: Time,
    /// 07:00 of the morning.
    pub dawn: Time,
}

/// Which probes talk.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Heard {
    /// Probes that have ever sent an accepted reading.
    pub probes: usize,
    /// Those silent for longer than they may be.
    pub silent: Vec<ProbeKey>,
    /// Time of the newest fresh reading of any probe.
    pub newest: Option<Time>,
}

/// Long work under way.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Progress {
    /// What is being done, as a short phrase: "loading three weeks of history".
    pub what: String,
    /// Parts done.
    pub done: u64,
    /// Parts in all; at least 1.
    pub total: u64,
}

/// One alarm that stands, or that has gone without being seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AlarmView {
    /// Identifies the alarm in addresses: `TU3.air-stopped`.
    pub id: String,
    /// Where: a vessel, `room`, `line:P1` for an air line, `device:b1` for a device.
    pub place: String,
    /// The vessel; `None` where it is about something else.
    pub vessel: Option<VesselId>,
    /// The condition in words: "air stopped", "too cold".
    pub condition: String,
    /// State of ISA-18.2: "unacknowledged", "acknowledged", "returned unacknowledged".
    pub state: String,
    /// True while the condition holds.
    pub standing: bool,
    /// When the condition began.
    pub since: Time,
    /// When it ended, for one that has gone unseen.
    pub ended: Option<Time>,
    /// 1 is the most urgent.
    pub priority: u8,
    /// Short headline for the top of the page, without a full stop: "TU3 lies still since 01:52" is made of
    /// `subject` "TU3 lies still" and the time.
    pub subject: String,
    /// The whole message in plain words, as it is also sent out.
    pub text: String,
    /// What to do first.
    pub first_step: String,
    /// The clutch that hangs on it.
    pub clutch: Option<AlarmClutch>,
    /// Planning time for the stage: act within this long after `since`.
    pub act_within: Option<Span>,
    /// Who acknowledged, and when.
    pub acknowledged: Option<(String, Time)>,
}

/// One change of an alarm, as the log keeps it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct AlarmChange {
    /// Grows with every line of the log.
    pub number: u64,
    /// Identifies the alarm in addresses.
    pub alarm: String,
    /// When it changed.
    pub at: Time,
    /// The state of ISA-18.2 that it left.
    pub from: String,
    /// The state that it entered.
    pub to: String,
    /// What it said.
    pub text: String,
}

/// An alarm that calls nobody just now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ShelvedView {
    /// Identifies the alarm in addresses.
    pub id: String,
    /// State of ISA-18.2: "shelved", "suppressed", "out of service".
    pub flag: String,
    /// True while its condition holds all the same.
    pub standing: bool,
    /// When that ends by itself.
    pub until: Option<Time>,
    /// Who did that, until when and why, as a sentence.
    pub text: String,
}

/// The clutch named in an alarm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct AlarmClutch {
    /// Which.
    pub id: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// How far it has come.
    pub stage: Stage,
    /// How many are alive by the account.
    pub count: u32,
}

/// Whether eggs turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Turning {
    /// Air flows.
    Turning,
    /// Air flow is under the stop limit.
    Still,
    /// No fresh air-flow reading: not known.
    Unheard,
    /// The vessel has no probe of moving air or water: never known.
    NoProbe,
}

/// One tumbler or jar.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct TumblerView {
    /// Its name.
    pub vessel: VesselId,
    /// The tank it hangs in.
    pub host: Option<VesselId>,
    /// The clutch in it.
    pub clutch: Option<ClutchId>,
    /// How many are in it by the account.
    pub count: u32,
    /// Stage of the clutch in it.
    pub stage: Option<Stage>,
    /// Whether it turns.
    pub turning: Turning,
    /// Since when it has been still, if it is.
    pub still_since: Option<Time>,
    /// Air flow now, L/min.
    pub air_flow: Option<f64>,
    /// Its water now, from its own probe or its host tank.
    pub water: Water,
    /// The night in slots of six minutes from dusk: one letter a slot, `t` turning, `s` still, `.` not heard.
    /// Ends with the slot that is running.
    pub strokes: String,
}

/// Temperature of a vessel now.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct Water {
    /// °C, `None` when not heard within its time.
    pub celsius: Option<f64>,
    /// When that was measured.
    pub at: Option<Time>,
    /// °C per hour over the last two hours, which is longer than a heater's cycle.
    pub per_hour: Option<f64>,
    /// The wanted band.
    pub band: Option<Band>,
}

/// One tank.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct TankView {
    /// Its name.
    pub vessel: VesselId,
    /// Its water.
    pub water: Water,
    /// Clutches that live in it or hang in it.
    pub clutches: Vec<ClutchId>,
}

/// Earliest, likeliest and latest time of a stage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Window {
    /// Earliest.
    pub earliest: Time,
    /// Likeliest.
    pub likeliest: Time,
    /// Latest.
    pub latest: Time,
    /// Degree-days the stage needs from fertilisation, °C·d.
    pub required: f64,
    /// Degree-days gathered so far, °C·d.
    pub so_far: f64,
    /// When the keeper saw it.
    pub seen: Option<Time>,
    /// When the first of the clutch are likeliest, and the last; of hatch alone, while nobody has seen it.
    pub first: Option<Time>,
    /// The last of the clutch.
    pub last: Option<Time>,
}

/// One clutch as the lists show it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ClutchView {
    /// Its name.
    pub id: ClutchId,
    /// The fish in the keeper's words, e.g. a species name.
    pub fish: String,
    /// Key of the species entry used for projecting.
    pub species: String,
    /// Her code.
    pub mother: Option<MotherId>,
    /// Spawning.
    pub day0: Day0,
    /// Days since the middle of day 0.
    pub age_days: f64,
    /// How far it has come, seen or by the likeliest projection.
    pub stage: Stage,
    /// How many are alive by the account.
    pub count: u32,
    /// Where it is now.
    pub vessel: Option<VesselId>,
    /// Hatch.
    pub hatch: Option<Window>,
    /// Free swimming.
    pub free_swimming: Option<Window>,
    /// Six-hour pieces of the past from day 0, oldest first.
    pub course: Vec<Piece>,
    /// Where each earlier night had put the next stage (hatch, or free swimming once hatched): dawn of that
    /// night and the likeliest time then, oldest first.
    pub footprints: Vec<(Time, Time)>,
    /// The newest shift in words, e.g. "6 h sooner than the first night said".
    pub shift: Option<String>,
    /// Plain warnings, e.g. that the water has been outside the calibrated range.
    pub warnings: Vec<String>,
}

/// A piece of the past of a clutch.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct Piece {
    /// Begin.
    pub from: Time,
    /// End.
    pub to: Time,
    /// Mean temperature, °C; `None` where nothing was read.
    pub celsius: Option<f64>,
    /// Speed of development: degree-days above the base per day, °C·d/d, 0 where not read.
    pub speed: f64,
}

/// Everything about one clutch, for its own page.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ClutchPage {
    /// As the lists show it.
    pub clutch: ClutchView,
    /// Words of the species entry: base temperature, requirement, range, with source and how it was got.
    pub figures: Vec<Figure>,
    /// When it was spawned, as far as what was seen of it since tells; `None` if that was seen, or nothing was since.
    pub spawned: Option<SpawnedView>,
    /// What the other clutches of this room have taught of its entry.
    pub learnt: Vec<LearntView>,
    /// Every kept change of a projected date, newest first.
    pub shifts: Vec<ShiftView>,
    /// What was recorded, oldest first.
    pub events: Vec<EventView>,
    /// What became of every fish.
    pub account: AccountView,
}

/// When a clutch of unknown age was spawned, dated by the stages it was seen in and the water it had.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct SpawnedView {
    /// Earliest.
    pub earliest: Time,
    /// Likeliest.
    pub likeliest: Time,
    /// Latest: four times of five it was between both.
    pub latest: Time,
}

/// What clutches of this room have taught of one stage.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LearntView {
    /// Which stage.
    pub stage: Stage,
    /// How many clutches were seen to reach it.
    pub clutches: usize,
    /// Degree-days from fertilisation over the base temperature, °C·d: the mean of the room.
    pub required: f64,
    /// How well that is known, °C·d: one standard deviation.
    pub plus_minus: f64,
    /// The same as a sentence without a capital and a full stop.
    pub words: String,
}

/// One figure of a species entry with its source.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Figure {
    /// What it is, e.g. "base temperature".
    pub name: String,
    /// The value with its unit.
    pub value: String,
    /// Where it comes from.
    pub source: String,
    /// How it was got: read, abstract, memory, computed, common practice.
    pub how: String,
}

/// One kept change of a projected date.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ShiftView {
    /// When it was noticed.
    pub at: Time,
    /// Which stage moved.
    pub stage: Stage,
    /// Likeliest time before; `None` for the first projection.
    pub before: Option<Time>,
    /// Likeliest time after.
    pub after: Time,
    /// Why, in words.
    pub cause: String,
}

/// One recorded event in words.
#[derive(Debug, Clone, Serialize, ToSchema, PartialEq)]
pub struct EventView {
    /// Number of the entry.
    pub entry: u64,
    /// Whether it can be withdrawn.
    pub withdrawable: bool,
    /// False once it was withdrawn.
    pub stands: bool,
    /// When it happened.
    pub at: Time,
    /// When it was written down.
    pub recorded: Time,
    /// By whom.
    pub by: String,
    /// What, in words.
    pub text: String,
}

/// Refused messages of one reason at one place.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RefusalView {
    /// Probe or topic.
    pub place: String,
    /// The reason's word.
    pub reason: String,
    /// How many.
    pub count: u64,
    /// When last.
    pub last: Time,
    /// Beginning of the last payload, cleaned of control characters.
    pub excerpt: String,
}

/// The newest accepted reading of one probe.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ReadingView {
    /// Which probe.
    pub probe: ProbeKey,
    /// What it measures.
    pub quantity: Quantity,
    /// When it was measured.
    pub time: Time,
    /// The value, with the probe's offset.
    pub value: f64,
    /// As the probe read it.
    pub raw: f64,
    /// Its unit.
    pub unit: Unit,
    /// False when it was stored late or came as a retained message.
    pub fresh: bool,
}

/// One kept reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PastReading {
    /// When it was measured.
    pub time: Time,
    /// The value, with the offset that the probe had then.
    pub value: f64,
    /// As the probe read it.
    pub raw: f64,
}
