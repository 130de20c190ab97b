//! The account as the page and the API show it: what lives where, from whom, and what became of it.

use crate::view::{EventView, Water};
use ledger::{Line, Member, Passage, SortedOut, Statement};
use serde::Serialize;
use units::{ClutchId, MotherId, ProbeKey, Time, VesselId, VesselKind};
use utoipa::ToSchema;

/// What became of every fish of a clutch or a group.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AccountView {
    /// False until they were counted for the first time.
    pub counted: bool,
    /// What the lines come to.
    pub statement: Statement,
    /// Every line, in the order in which it happened.
    pub lines: Vec<Line>,
    /// Where they live.
    pub living: Vec<PlaceView>,
    /// What it was put together from, for a group.
    pub members: Vec<Member>,
    /// What was chosen for it.
    pub path: Option<String>,
    /// When it ended: closed, or none left of it.
    pub ended: Option<Time>,
    /// How the keeper's earlier clutches of the same species entry did, where there are any.
    pub usual: Option<UsualView>,
}

/// How a keeper's other clutches of one species entry did.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct UsualView {
    /// How many clutches it is judged by.
    pub clutches: usize,
    /// Of a hundred that came, how many were not lost: neither dead, nor escaped, nor unexplained. Median.
    pub kept_percent: f64,
}

/// A vessel in which some of a clutch live.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct PlaceView {
    /// Which vessel.
    pub vessel: VesselId,
    /// How many; `None` where they were never counted.
    pub count: Option<u32>,
    /// Since when.
    pub since: Option<Time>,
}

/// A clutch or a group of which some live in a vessel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct LivingView {
    /// Which.
    pub clutch: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Her code, for a clutch.
    pub mother: Option<MotherId>,
    /// Whether she carries them still.
    pub held: bool,
    /// What it was put together from, for a group.
    pub members: Vec<Member>,
    /// How many; `None` where they were never counted.
    pub count: Option<u32>,
    /// Since when.
    pub since: Option<Time>,
}

/// One vessel in the list of all.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VesselRow {
    /// Its name.
    pub vessel: VesselId,
    /// Tank, tumbler or jar.
    pub kind: VesselKind,
    /// The tank it hangs in.
    pub host: Option<VesselId>,
    /// How much water it holds, L.
    pub litres: Option<f64>,
    /// What lives in it.
    pub living: Vec<LivingView>,
    /// Counted young in a litre, where the litres are known.
    pub per_litre: Option<f64>,
    /// Young in a litre above which it counts as crowded: a planning value of the configuration.
    pub crowded_above: f64,
    /// Until when it is in quarantine.
    pub quarantine: Option<Time>,
}

impl VesselRow {
    /// Whether more live in it than planned.
    pub fn crowded(&self) -> bool {
        self.per_litre.is_some_and(|n| n > self.crowded_above)
    }
}

/// A clutch that will need a grow-out tank.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NeedView {
    /// Which.
    pub clutch: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Where it is.
    pub vessel: Option<VesselId>,
    /// How many; `None` where they were never counted.
    pub count: Option<u32>,
    /// From when: they may swim free from then on.
    pub earliest: Time,
    /// Likeliest.
    pub likeliest: Time,
}

/// All vessels, and who needs one soon.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TanksPage {
    /// In the order of the configuration.
    pub vessels: Vec<VesselRow>,
    /// Clutches that will swim free within two weeks and are not in a tank of their own yet, the first in front.
    pub needs: Vec<NeedView>,
    /// Things that wear, the one due first in front.
    pub equipment: Vec<EquipmentView>,
    /// The newest of what was written down about the room as a whole, drills among it.
    pub of_room: Vec<EventView>,
}

impl TanksPage {
    /// Tanks that a clutch could be put into: nothing lives in them, nothing hangs in them, and they are not in quarantine.
    pub fn free(&self) -> Vec<&VesselRow> {
        let hosts = |v: &VesselRow| self.vessels.iter().any(|o| o.host.as_ref() == Some(&v.vessel));
        let free =
            |v: &&VesselRow| v.kind == VesselKind::Tank && v.living.is_empty() && v.quarantine.is_none();
        self.vessels.iter().filter(|v| free(v) && !hosts(v)).collect()
    }
}

/// Something that wears.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct EquipmentView {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: String,
    /// Where.
    pub vessel: Option<VesselId>,
    /// Since when it is in use.
    pub since: Time,
    /// When it is to be looked at or replaced.
    pub due: Option<Time>,
}

/// Everything about one vessel.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct VesselPage {
    /// As the list shows it.
    pub row: VesselRow,
    /// Its water now.
    pub water: Water,
    /// Probes that were heard of it, and of its host's water.
    pub probes: Vec<ProbeKey>,
    /// What hangs in it.
    pub hanging: Vec<VesselId>,
    /// What touched other vessels since its quarantine began, as sentences.
    pub contacts: Vec<ContactView>,
    /// Feeds by two people within two hours of each other in the last two days: first and second.
    pub fed_twice: Vec<(EventView, EventView)>,
    /// How clutches fared in it, the latest first; nothing for a tank.
    pub passages: Vec<PassageView>,
    /// What was written down about the vessel itself, the newest first.
    pub care: Vec<EventView>,
}

/// Of a hundred that came into a tumbler or a jar, fewer kept than this is a poor clutch. A planning value.
pub(crate) const POOR_PERCENT: f64 = 70.0;
/// So many poor ones running, and it is the vessel that is to be looked at. A planning value.
const RUNNING: usize = 3;

impl VesselPage {
    /// Whether the last clutches that went through it all did poorly.
    pub fn is_poor(&self) -> bool {
        let mut ended = self.passages.iter().filter(|p| p.stay.until.is_some()).take(RUNNING);
        self.passages.iter().filter(|p| p.stay.until.is_some()).count() >= RUNNING
            && ended.all(|p| p.stay.kept_percent() < POOR_PERCENT)
    }
}

/// A vessel that was touched by what was in one under quarantine.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ContactView {
    /// Which vessel.
    pub vessel: VesselId,
    /// When first.
    pub at: Time,
    /// From which vessel.
    pub from: VesselId,
    /// By which tool or by fish of which clutch.
    pub by: String,
}

/// One time that a mother held.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct HoldView {
    /// The clutch.
    pub clutch: ClutchId,
    /// Middle of day 0.
    pub spawned: Time,
    /// What was chosen for it.
    pub path: Option<String>,
    /// When it left her; `None` while she holds.
    pub left: Option<Time>,
    /// How it left her, in words.
    pub how: Option<&'static str>,
    /// Days from the middle of day 0.
    pub days: f64,
    /// How many she gave, dead ones too; `None` where they were never counted.
    pub count: Option<i64>,
    /// What gradings found of them, and of groups that they are in.
    pub sorted_out: Vec<SortedOut>,
}

/// How a clutch fared in a vessel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct PassageView {
    /// Which.
    pub clutch: ClutchId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Its stay.
    #[serde(flatten)]
    pub stay: Passage,
}

/// A mother and what she did.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MotherView {
    /// Her code.
    pub mother: MotherId,
    /// The fish in the keeper's words.
    pub fish: String,
    /// Every time that she held, the latest first.
    pub holds: Vec<HoldView>,
    /// Since when her mouth is empty; `None` while she holds.
    pub empty_since: Option<Time>,
    /// How often she spawned in the last year.
    pub holds_in_a_year: usize,
    /// Days from the end of one hold to the next spawning, the latest first.
    pub rests: Vec<f64>,
    /// What was noted about her, the newest first.
    pub notes: Vec<EventView>,
}
