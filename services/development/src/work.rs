//! What there is to do for a clutch, and when: tasks that follow from its windows.
//!
//! Leaving the young with their mother is a path of its own and not the lesser one: until she was emptied, the tasks of
//! both stand side by side, and none urges anybody to take them.

use crate::{Projection, StageWindow};
use serde::{Deserialize, Serialize};
use std::fmt;
use units::{Span, Stage, Time};

/// What a task is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TaskKind {
    /// From when to when the young can be taken, should the keeper not leave them with her.
    Strip,
    /// Hatch is expected.
    Hatch,
    /// The air is made gentler for wrigglers.
    ThinAir,
    /// The nursery tank is to be ready.
    ReadyNursery,
    /// Brine shrimp are set to hatch.
    SetBrineShrimp,
    /// Free swimming: the fry move out.
    MoveOut,
    /// The first food is given.
    FirstFeeding,
    /// She lets the young out in her own time.
    Release,
    /// The mother rests.
    MotherRest,
}

impl TaskKind {
    /// The word in files and addresses.
    pub fn word(self) -> &'static str {
        match self {
            TaskKind::Strip => "strip",
            TaskKind::Hatch => "hatch",
            TaskKind::ThinAir => "thin-air",
            TaskKind::ReadyNursery => "ready-nursery",
            TaskKind::SetBrineShrimp => "set-brine-shrimp",
            TaskKind::MoveOut => "move-out",
            TaskKind::FirstFeeding => "first-feeding",
            TaskKind::Release => "release",
            TaskKind::MotherRest => "mother-rest",
        }
    }

    /// What is to be done, as a short phrase.
    pub fn title(self) -> &'static str {
        match self {
            TaskKind::Strip => "can be taken, or left with mother",
            TaskKind::Hatch => "hatch expected",
            TaskKind::ThinAir => "thin the air for wrigglers",
            TaskKind::ReadyNursery => "have the nursery tank ready",
            TaskKind::SetBrineShrimp => "set brine shrimp to hatch",
            TaskKind::MoveOut => "free swimming: move out",
            TaskKind::FirstFeeding => "first feeding",
            TaskKind::Release => "release by the mother",
            TaskKind::MotherRest => "mother rests",
        }
    }

    /// Why then, with the source of the figure in it.
    pub fn reason(self) -> &'static str {
        match self {
            TaskKind::Strip => {
                "From eyed eggs (half of the way to hatch where no figure for them is known) to release. Both ends are planning values. Handling is hard on a fasting mother; leaving the young with her is an equal way."
            }
            TaskKind::Hatch => {
                "From the degree-days that the eggs had. Look for shells that clog the screen."
            }
            TaskKind::ThinAir => {
                "Wrigglers need gentler air than eggs (common practice); be there from the earliest hatch on."
            }
            TaskKind::ReadyNursery => {
                "A planning value of three days before the earliest free swimming, so that filter and temperature can be tried."
            }
            TaskKind::SetBrineShrimp => {
                "30 h before the likeliest first feeding: brine shrimp take 24 to 36 h at about 27 \u{b0}C (hobby page, read)."
            }
            TaskKind::MoveOut => {
                "Once they keep themselves up and the yolk is used up. Moved some days early, they lie on the bottom (keepers' accounts)."
            }
            TaskKind::FirstFeeding => {
                "At first feeding, or at free swimming where no figure for it is known (common practice)."
            }
            TaskKind::Release => "She lets them out in her own time.",
            TaskKind::MotherRest => "Two to three weeks after she was emptied (hobby guide, read).",
        }
    }
}

impl fmt::Display for TaskKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// How long before or after a stage a task lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeadTimes {
    /// Share of the way from day 0 to hatch at which eggs are taken to be eyed where the entry has no figure; 0 to 1.
    /// Default 0.5: planning value, no source.
    pub eyed_share: f64,
    /// Nursery tank before the earliest free swimming. Default 3 d: planning value, no source.
    pub nursery: Span,
    /// Brine shrimp before the likeliest first feeding. Default 30 h, the middle of 24 to 36 h at about 27 °C: hobby
    /// page, read.
    pub brine_shrimp: Span,
    /// Shortest rest of a mother. Default 14 d: hobby guide, read.
    pub rest_least: Span,
    /// Longest rest of a mother. Default 21 d: hobby guide, read.
    pub rest_most: Span,
}

impl Default for LeadTimes {
    fn default() -> Self {
        Self {
            eyed_share: 0.5,
            nursery: Span::days(3),
            brine_shrimp: Span::hours(30),
            rest_least: Span::days(14),
            rest_most: Span::days(21),
        }
    }
}

/// One thing to do, with its window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Task {
    /// What.
    pub kind: TaskKind,
    /// Earliest time.
    pub earliest: Time,
    /// Likeliest time: when to plan it.
    pub likeliest: Time,
    /// Latest time.
    pub latest: Time,
}

impl Task {
    fn of(kind: TaskKind, w: &StageWindow) -> Self {
        Self { kind, earliest: w.earliest, likeliest: w.likeliest, latest: w.latest }
    }

    fn sooner(self, by: Span) -> Self {
        Self {
            earliest: self.earliest - by,
            likeliest: self.likeliest - by,
            latest: self.latest - by,
            ..self
        }
    }

    fn at(kind: TaskKind, t: Time) -> Self {
        Self { kind, earliest: t, likeliest: t, latest: t }
    }
}

/// The tasks of a clutch in order of their likeliest time. A task falls away once its stage, or a later one, was seen, or
/// when it has been done: what only concerns young in the mouth, once she was emptied at `taken`.
///
/// ```
/// # use development::{LeadTimes, Projection, TaskKind, tasks};
/// # fn f(projection: &Projection) {
/// let work = tasks(projection, None, &LeadTimes::default());
/// assert!(work.iter().all(|t| t.kind != TaskKind::ThinAir), "nobody thins the air of a mouth");
/// # }
/// ```
pub fn tasks(projection: &Projection, taken: Option<Time>, lead: &LeadTimes) -> Vec<Task> {
    let mut all = if taken.is_some() { in_vessel(projection) } else { in_mouth(projection, lead) };
    all.extend(for_fry(projection, lead));
    all.extend(emptied(projection, taken).map(|at| Task {
        kind: TaskKind::MotherRest,
        earliest: at + lead.rest_least,
        likeliest: at + middle(lead.rest_least, lead.rest_most),
        latest: at + lead.rest_most,
    }));
    all.sort_by_key(|t| (t.likeliest, t.kind));
    all
}

/// Whether a task that is no longer in [`tasks`] was done, or its stage was seen, rather than having lost its point: what
/// waits for young in the mouth has lost it when they were taken.
pub fn done(kind: TaskKind, projection: &Projection, taken: Option<Time>) -> bool {
    match kind {
        TaskKind::Strip => taken.is_some(),
        TaskKind::Hatch | TaskKind::ThinAir => over(projection, Stage::Hatch),
        TaskKind::Release => taken.is_none() && over(projection, Stage::FreeSwimming),
        TaskKind::MotherRest => false,
        _ => over(projection, Stage::FreeSwimming),
    }
}

fn middle(a: Span, b: Span) -> Span {
    Span::from_millis((a.millis() + b.millis()) / 2)
}

/// Whether a stage or a later one was seen.
fn over(projection: &Projection, stage: Stage) -> bool {
    projection.stages.iter().any(|w| w.stage >= stage && w.seen.is_some())
}

/// The window of a stage that neither it nor a later one has closed.
fn ahead(projection: &Projection, stage: Stage) -> Option<&StageWindow> {
    projection.stage(stage).filter(|_| !over(projection, stage))
}

/// When she had an empty mouth: taken, or released and seen.
fn emptied(projection: &Projection, taken: Option<Time>) -> Option<Time> {
    taken.or_else(|| projection.stage(Stage::Release)?.seen)
}

fn in_vessel(projection: &Projection) -> Vec<Task> {
    let Some(hatch) = ahead(projection, Stage::Hatch) else { return Vec::new() };
    // Whoever waits for the likeliest hatch comes too late for the first wrigglers.
    vec![Task::at(TaskKind::ThinAir, hatch.earliest), Task::of(TaskKind::Hatch, hatch)]
}

fn in_mouth(projection: &Projection, lead: &LeadTimes) -> Vec<Task> {
    let hatch = ahead(projection, Stage::Hatch).map(|w| Task::of(TaskKind::Hatch, w));
    // Without a figure of its own, release is free swimming: from then on there is nothing left to carry.
    let release = ahead(projection, Stage::Release)
        .or_else(|| ahead(projection, Stage::FreeSwimming))
        .map(|w| Task::of(TaskKind::Release, w));
    let strip = release.zip(strip_from(projection, lead)).map(|(release, from)| Task {
        kind: TaskKind::Strip,
        earliest: from,
        likeliest: from,
        latest: release.earliest.max(from),
    });
    hatch.into_iter().chain(release).chain(strip).collect()
}

/// From when eggs can be taken.
fn strip_from(projection: &Projection, lead: &LeadTimes) -> Option<Time> {
    if let Some(eyed) = projection.stage(Stage::Eyed) {
        return Some(eyed.likeliest);
    }
    let day0 = projection.day0.middle();
    let way = projection.stage(Stage::Hatch)?.likeliest - day0;
    Some(day0 + Span::from_days(way.as_days() * lead.eyed_share))
}

fn for_fry(projection: &Projection, lead: &LeadTimes) -> Vec<Task> {
    let swim = ahead(projection, Stage::FreeSwimming);
    let feed = projection.stage(Stage::FirstFeeding).map_or(swim, |_| ahead(projection, Stage::FirstFeeding));
    let feed = feed.map(|w| Task::of(TaskKind::FirstFeeding, w));
    let shrimp = feed.map(|f| Task { kind: TaskKind::SetBrineShrimp, ..f }.sooner(lead.brine_shrimp));
    let nursery = swim.map(|w| Task::at(TaskKind::ReadyNursery, w.earliest - lead.nursery));
    let out = swim.map(|w| Task::of(TaskKind::MoveOut, w));
    [nursery, shrimp, out, feed].into_iter().flatten().collect()
}
