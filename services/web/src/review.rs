//! One night looked back on: what the page, the API, the command and the mail in the morning all show.
//!
//! Lengths serialise as milliseconds, temperatures as °C, as everywhere in the API.

mod document;
mod lines;
mod picture;
mod say;

pub use document::{Attached, Pictures, attached, document};
pub(crate) use document::{block, table};
pub use lines::{Line, lines};
pub(crate) use picture::inline;
pub use say::{headline, raised, room_refusals, span, text, title};

use chrono::{Datelike, NaiveDate};
use serde::Serialize;
use units::{Band, ClutchId, Span, Stage, Time, VesselId, VesselKind};
use utoipa::ToSchema;

/// The earliest year of which a night can be asked: readings before 2020 are refused anyway.
const FIRST_YEAR: i32 = 2020;
/// And the last.
const LAST_YEAR: i32 = 2199;

/// The date of a night, that of its evening, as it is written: `2026-11-25`.
///
/// ```
/// assert_eq!(web::review::date("2026-11-25").unwrap().to_string(), "2026-11-25");
/// assert!(web::review::date("25.11.2026").unwrap_err().contains("2026-11-25"));
/// ```
///
/// # Errors
/// What is wrong and the cure.
pub fn date(text: &str) -> Result<NaiveDate, String> {
    let cure = "write the date of its evening as 2026-11-25";
    let form = text.len() == 10 && text.is_ascii();
    let read = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok().filter(|_| form);
    let read = read.ok_or_else(|| format!("{text:?} is no date of a night; {cure}"))?;
    if (FIRST_YEAR..=LAST_YEAR).contains(&read.year()) {
        Ok(read)
    } else {
        Err(format!("no reading is of the year {}; {cure}, from {FIRST_YEAR} to {LAST_YEAR}", read.year()))
    }
}

/// What a night was, of a vessel or of the room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Everything was read and nothing was wrong.
    Good,
    /// Too little was read to say.
    NotKnown,
    /// Something was not right.
    NotRight,
}

impl Verdict {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Good => "good",
            Verdict::NotKnown => "not known",
            Verdict::NotRight => "not right",
        }
    }
}

/// One night of a room.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Review {
    /// Name of the room.
    pub room: String,
    /// IANA name of its time zone.
    pub zone: String,
    /// The date of the evening.
    #[schema(value_type = String, format = Date)]
    pub date: NaiveDate,
    /// 20:00 of that evening on the room's clock.
    pub dusk: Time,
    /// 07:00 of the next morning.
    pub dawn: Time,
    /// How long it was: an hour more or less when the clocks change.
    pub length: Span,
    /// The worst of its vessels, or not right where an alarm of the room itself was raised.
    pub verdict: Verdict,
    /// How many nights before it were looked at for what is usual.
    pub compared_with: usize,
    /// Vessels in the order of the configuration.
    pub vessels: Vec<VesselNight>,
    /// Alarms raised in the night, oldest first; drills are none.
    pub alarms: Vec<AlarmRaised>,
    /// What was refused and belongs to no vessel: topics that nobody has mapped.
    pub refusals: Vec<Refused>,
    /// More may have been refused: it was not counted by hours then.
    pub more_refusals: bool,
}

/// One vessel's night.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VesselNight {
    /// Its name.
    pub vessel: VesselId,
    /// Tank, tumbler or jar.
    pub kind: VesselKind,
    /// Whose thermometer tells its water.
    pub water_of: VesselId,
    /// The wanted band of that water.
    pub band: Option<Band>,
    /// What it was.
    pub verdict: Verdict,
    /// Why it is not good, one sentence each.
    pub remarks: Vec<String>,
    /// Its water.
    pub water: WaterNight,
    /// Its moving air; `None` of a tank.
    pub air: Option<AirNight>,
    /// Clutches that were in it.
    pub clutches: Vec<ClutchNight>,
    /// What was refused of its probes.
    pub refusals: Vec<Refused>,
    /// The night in slots of six minutes, for the picture.
    pub slots: Vec<Slot>,
}

/// What a figure was and what it usually is: the median of the same figure over those of the nights before that have enough
/// readings.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, ToSchema)]
#[schema(as = NightFigure)]
pub struct Figure {
    /// This night; `None` where nothing was read.
    pub value: Option<f64>,
    /// Usually; `None` where no night before has enough readings.
    pub usual: Option<f64>,
}

/// The water of a night, as far as it was read: straight lines between readings at most half an hour apart.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WaterNight {
    /// How much of the night was read.
    pub read: Span,
    /// Whether that is enough to say something of the night.
    pub enough: bool,
    /// Lowest, °C.
    pub min: Figure,
    /// Highest, °C.
    pub max: Figure,
    /// Mean over time, °C.
    pub mean: Figure,
    /// How long it was under its band, exact at the crossings; `None` without a band.
    pub below: Option<Span>,
    /// How long above it.
    pub above: Option<Span>,
    /// Hours outside the band.
    pub outside_hours: Figure,
    /// Stretches of more than half an hour without a reading.
    pub gaps: Vec<Stretch>,
    /// How many nights the usual is taken from.
    pub usual_nights: usize,
}

/// From when to when, cut at dusk and dawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct Stretch {
    /// Beginning.
    pub from: Time,
    /// End.
    pub to: Time,
}

impl Stretch {
    /// How long.
    pub fn length(&self) -> Span {
        self.to - self.from
    }
}

/// The moving air of a night, by everything that witnesses it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AirNight {
    /// Whether a clutch was in it: only then must its air move.
    pub needed: bool,
    /// Whether any probe of its air has spoken in the night.
    pub heard: bool,
    /// How much of the night it was heard.
    pub read: Span,
    /// Whether that is enough to say something of the night.
    pub enough: bool,
    /// When its air stood, while a clutch was in it.
    pub stops: Vec<Stop>,
    /// Minutes in all that it stood.
    pub still_minutes: Figure,
    /// Stretches in which it was not heard.
    pub gaps: Vec<Stretch>,
    /// How many nights the usual is taken from.
    pub usual_nights: usize,
}

/// An interruption of the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct Stop {
    /// From when, or dusk.
    pub from: Time,
    /// Until when, or dawn; or when it was last heard.
    pub to: Time,
    /// It stood already at the beginning of the night.
    pub before: bool,
    /// It still stood at its end.
    pub after: bool,
    /// Nothing was heard after it: nobody knows how long it stood.
    pub unheard_after: bool,
}

impl Stop {
    /// How long.
    pub fn length(&self) -> Span {
        self.to - self.from
    }
}

/// What a night did for a clutch.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ClutchNight {
    /// Which.
    pub clutch: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// From when it was in the vessel, or dusk.
    pub from: Time,
    /// Until when, or dawn.
    pub to: Time,
    /// Base temperature of its entry, °C; `None` where there is no entry any more.
    pub base: Option<f64>,
    /// °C·d gained in that time, gaps filled as its dates fill them. The usual is that of the same water for as long a time.
    pub gained: Figure,
    /// How many nights the usual is taken from.
    pub usual_nights: usize,
    /// Where the night moved its dates, from what was known at dusk to what was known at dawn.
    pub shifts: Vec<StageShift>,
    /// Why there are no shifts, where there are none.
    pub no_shift: Option<String>,
}

/// How far a night moved one stage.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StageShift {
    /// The stage.
    pub stage: Stage,
    /// Likeliest time as it was put at dusk.
    pub before: Time,
    /// As it was put at dawn.
    pub after: Time,
    /// How much later; negative: sooner.
    pub later: Span,
    /// What moved it most, in words; empty where nothing did.
    pub causes: Vec<String>,
}

/// An alarm of the night.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct AlarmRaised {
    /// Its name: `TU3.air-stopped`.
    pub id: String,
    /// When it was raised.
    pub at: Time,
    /// What it said.
    pub text: String,
}

/// Refusals of one place for one reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Refused {
    /// A probe or a topic.
    pub place: String,
    /// Why.
    pub reason: String,
    /// How many.
    pub count: u64,
}

/// Six minutes of a night.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Slot {
    /// Its beginning.
    pub from: Time,
    /// Lowest of the water in it, °C; `None` where nothing was read.
    pub low: Option<f64>,
    /// Highest.
    pub high: Option<f64>,
    /// Its air: `t` moving, `s` still at some time, `.` not heard.
    pub air: char,
}
