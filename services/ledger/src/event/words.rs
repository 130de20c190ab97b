//! Events in plain words.

use super::{Event, Grading, HandOver, Look, Merge, Roll, Share};
use units::Time;

/// Times written by the room's clock.
type Clock<'a> = &'a dyn Fn(Time) -> String;

impl Event {
    /// What happened in plain words, its times written by `clock`.
    ///
    /// ```
    /// use ledger::{Event, Way};
    /// use units::Time;
    /// let taken = Event::Taken {
    ///     clutch: "C06".parse().unwrap(), at: Time::from_millis(0), vessel: "TU1".parse().unwrap(), alive: 33, dead: 2,
    ///     how: Way::Stripped, stages: Vec::new(), about: None,
    /// };
    /// assert_eq!(taken.words(&|t| t.to_string()), "taken from the mother into TU1: 33 alive, 2 dead");
    /// ```
    pub fn words(&self, clock: Clock<'_>) -> String {
        match self {
            Event::ClutchOpened { fish, mother, day0, vessel, .. } => {
                let mother = mother.as_ref().map_or_else(String::new, |m| format!(" by {m}"));
                format!("{fish} spawned{mother} in {vessel} (day 0 {})", day0.grade)
            }
            Event::Taken { .. } => self.taken_words(),
            Event::Moved { vessel, from, counted, .. } => {
                let from = from.as_ref().map(|v| format!(" from {v}")).unwrap_or_default();
                format!(
                    "moved{from} to {vessel}{}",
                    counted.map(|n| format!(", {n} counted")).unwrap_or_default()
                )
            }
            Event::StageSeen { .. } => self.seen_words(clock),
            Event::Withdrawn { entry, .. } => format!("entry {entry} was a mistake"),
            Event::Day0Corrected { day0, .. } if day0.earliest == day0.latest => {
                format!("day 0 corrected to {} ({})", clock(day0.earliest), day0.grade)
            }
            Event::Day0Corrected { day0, .. } => {
                let (a, b) = (clock(day0.earliest), clock(day0.latest));
                format!("day 0 corrected to between {a} and {b} ({})", day0.grade)
            }
            Event::Lost { count, reason, .. } => because(format!("{count} lost"), reason),
            Event::Closed { .. } => "closed".to_owned(),
            fish => fish.fish_words().unwrap_or_else(|| fish.care_words(clock)),
        }
    }

    fn taken_words(&self) -> String {
        let Event::Taken { vessel, alive, dead, how, stages, about, .. } = self else { return String::new() };
        let about = about.map(|p| format!(" (judged, {p} % either way)")).unwrap_or_default();
        let dead = if *dead > 0 { format!(", {dead} dead") } else { String::new() };
        let of: Vec<String> =
            stages.iter().map(|s| format!("{} {}", s.count, s.stage.word().replace('-', " "))).collect();
        let of = if of.is_empty() { String::new() } else { format!(" ({})", of.join(", ")) };
        format!("{} into {vessel}: {alive} alive{about}{of}{dead}", how.words())
    }

    fn seen_words(&self, clock: Clock<'_>) -> String {
        let Event::StageSeen { stage, share, not_before, already, .. } = self else { return String::new() };
        let known = match not_before {
            _ if *already => ", past already".to_owned(),
            Some(before) => format!(", not yet at {}", clock(*before)),
            None => String::new(),
        };
        let share = match share {
            Share::Half => String::new(),
            share => format!(" of the {}", share.word()),
        };
        format!("seen: {}{share}{known}", stage.word().replace('-', " "))
    }

    fn fish_words(&self) -> Option<String> {
        Some(match self {
            Event::LookedAt(e) => look(e),
            Event::PathChosen(e) => format!("path chosen: {}", e.path),
            Event::HoldEnded(e) => format!("she holds no more: {}", e.how.words()),
            Event::Split(e) => because(format!("{} moved to {}", e.count, e.vessel), &e.reason),
            Event::Merged(e) => merged(e),
            Event::Separated(e) => format!("{} known as {} and put into {}", e.count, e.member, e.vessel),
            Event::Escaped(e) => {
                let caught = if e.caught > 0 { format!(", {} caught", e.caught) } else { String::new() };
                because(format!("{} escaped{caught}", e.count), &e.reason)
            }
            Event::Found(e) => because(format!("{} found in {}", e.count, e.vessel), &e.reason),
            Event::Culled(e) => because(format!("{} culled", e.count), &e.reason),
            Event::HandedOn(e) => handed(e),
            Event::HeldBack(e) => {
                let into = e.vessel.as_ref().map(|v| format!(" in {v}")).unwrap_or_default();
                format!("{} held back{into}", e.count)
            }
            Event::Recounted(e) => format!("counted again in {}: {}", e.vessel, e.count),
            Event::Graded(e) => graded(e),
            Event::Measured(e) => format!("{:.1} mm long on the mean of {}", e.millimetres, e.count),
            _ => return None,
        })
    }

    fn care_words(&self, clock: Clock<'_>) -> String {
        match self {
            Event::Fed(e) => format!("{} fed: {}", e.vessel, e.food),
            Event::WaterTested(e) => {
                let unit = e.tested.unit();
                format!(
                    "{} tested: {} {}{}{unit}",
                    e.vessel,
                    e.tested,
                    e.value,
                    if unit.is_empty() { "" } else { " " }
                )
            }
            Event::WaterChanged(e) => format!("{} % of {} changed", e.percent, e.vessel),
            Event::Treated(e) => {
                let long = e.minutes.map_or_else(|| "left in".to_owned(), |m| format!("for {m} min"));
                format!("{} treated: {} {} {} {long}", e.vessel, e.what, e.strength, e.unit)
            }
            Event::Quarantined(e) => {
                because(format!("{} in quarantine until {}", e.vessel, clock(e.until)), &e.reason)
            }
            Event::QuarantineEnded(e) => format!("quarantine of {} ended", e.vessel),
            Event::ToolUsed(e) => format!("{} used in {}", e.tool, e.vessel),
            Event::ToolCleaned(e) => format!("{} disinfected", e.tool),
            Event::Installed(e) => {
                let at = e.vessel.as_ref().map(|v| format!(" at {v}")).unwrap_or_default();
                let days = e.days.map(|d| format!(", due in {d} days")).unwrap_or_default();
                format!("{} ({}) put into use{at}{days}", e.name, e.kind)
            }
            Event::Retired(e) => format!("{} taken out of use", e.name),
            Event::Drilled(e) => format!("drill: {}", e.text),
            Event::Noted(e) => e.text.clone(),
            _ => String::new(),
        }
    }
}

fn because(what: String, reason: &str) -> String {
    if reason.is_empty() { what } else { format!("{what}: {reason}") }
}

fn look(e: &Look) -> String {
    let roll = match e.roll {
        Some(Roll::Even) => ", the roll even",
        Some(Roll::Uneven) => ", the roll uneven",
        Some(Roll::Still) => ", they lie still",
        None => "",
    };
    let dead = if e.dead == 0 { "none dead".to_owned() } else { format!("{} dead picked out", e.dead) };
    because(format!("looked at: {dead}{roll}"), &e.note)
}

fn merged(e: &Merge) -> String {
    let names: Vec<&str> = e.members.iter().map(units::ClutchId::as_str).collect();
    format!("{} put together as {} in {}", names.join(" and "), e.clutch, e.vessel)
}

fn handed(e: &HandOver) -> String {
    because(format!("{} handed on to {}", e.count, e.to), &e.told)
}

fn graded(e: &Grading) -> String {
    let faulty = if e.faulty > 0 { format!(", {} with a fault", e.faulty) } else { String::new() };
    let into = e.vessel.as_ref().map(|v| format!(" moved to {v}")).unwrap_or_default();
    let runts = if e.runts == 1 { "runt" } else { "runts" };
    because(format!("graded: {} {runts}{faulty}{into}", e.runts), &e.note)
}
