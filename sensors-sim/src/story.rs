//! A scenario told in words: what stands in the room, and what will happen when.

use crate::output::Happening;
use crate::truth::{Known, Truth};
use crate::{Act, Moment, OutletKind, Room, Scenario};
use std::fmt::Write;
use units::{Span, Time};

/// What stands in the room, a line for each kind of thing.
///
/// ```
/// use sensors_sim::{Scenario, story};
/// let said = story::inventory(&Scenario::undercroft_cut());
/// assert!(said.contains("2 tanks: V1 90 L at 27 °C, V2 120 L at 28.5 °C"), "{said}");
/// ```
pub fn inventory(scenario: &Scenario) -> String {
    let tanks = scenario.tanks.iter().map(|t| match t.set_point {
        Some(c) => format!("{} {} L at {c} °C", t.vessel, t.litres),
        None => format!("{} {} L without a heater", t.vessel, t.litres),
    });
    let of = |kind| scenario.outlets.iter().filter(move |o| o.kind == kind);
    let tumblers = of(OutletKind::Tumbler).map(|o| o.vessel.clone());
    let filters = of(OutletKind::Filter).map(|o| o.vessel.clone());
    let pumps = scenario.pumps.iter().map(|p| format!("{} ({})", p.name, p.role));
    let jars = scenario.jars.iter().map(|j| j.vessel.clone());
    let devices =
        scenario.devices.iter().map(|d| format!("{} ({} probes, every {})", d.name, d.probes.len(), d.every));
    let clutches = scenario.clutches.iter().map(|c| format!("{} ({} eggs in {})", c.name, c.eggs, c.place));
    let mut out = String::new();
    line(&mut out, "tank", &tanks.collect::<Vec<_>>());
    line(&mut out, "air pump", &pumps.collect::<Vec<_>>());
    line(&mut out, "tumbler", &tumblers.collect::<Vec<_>>());
    line(&mut out, "filter", &filters.collect::<Vec<_>>());
    line(&mut out, "jar", &jars.collect::<Vec<_>>());
    line(&mut out, "clutch", &clutches.collect::<Vec<_>>());
    line(&mut out, "device", &devices.collect::<Vec<_>>());
    out
}

/// Things named in a line at most.
const NAMED: usize = 10;

fn line(out: &mut String, what: &str, all: &[String]) {
    if all.is_empty() {
        return;
    }
    let many = match (all.len(), what.strip_suffix("ch")) {
        (1, _) => what.to_owned(),
        (_, Some(stem)) => format!("{stem}ches"),
        _ => format!("{what}s"),
    };
    let more = if all.len() > NAMED { ", …" } else { "" };
    // A string takes everything.
    let _ = writeln!(out, "{} {many}: {}{more}", all.len(), all[..all.len().min(NAMED)].join(", "));
}

/// Plays a scenario without sending anything and hands over what really happens: faults, acts, stages, losses, devices
/// that come and go. Left out is what is done day by day as it should be, and the hourly state of the water; losses of a
/// clutch to one cause are added up by the hour.
pub fn tell(scenario: &Scenario, seed: u64, start: Time, mut each: impl FnMut(Moment, &Truth)) {
    let end = start + scenario.length.span();
    let mut room = Room::new(scenario.clone(), seed, start);
    let mut happened = Vec::new();
    while room.now() < end {
        let step = (room.now() + Span::hours(1)).min(end);
        room.play(step, &mut happened);
        let mut news: Vec<Truth> = Vec::new();
        for h in happened.drain(..) {
            if let Happening::Truth(truth) = h
                && is_news(scenario, &truth.what)
                && !last_loss(&mut news, &truth).is_some_and(|earlier| takes_in(earlier, &truth))
            {
                news.push(truth);
            }
        }
        for truth in news {
            each(Moment::of(truth.at, start), &truth);
        }
    }
}

/// The last loss of the clutch that this is a loss of.
fn last_loss<'a>(news: &'a mut [Truth], later: &Truth) -> Option<&'a mut Truth> {
    let of = |t: &Truth| match &t.what {
        Known::Fewer { clutch, .. } => Some(clutch.clone()),
        _ => None,
    };
    let clutch = of(later)?;
    news.iter_mut().rev().find(|t| of(t).as_ref() == Some(&clutch))
}

/// Adds a loss to an earlier one of the same clutch and cause. False where that is not what they are.
fn takes_in(earlier: &mut Truth, later: &Truth) -> bool {
    let (
        Known::Fewer { clutch, count, alive, why },
        Known::Fewer { clutch: same, count: more, alive: left, why: cause },
    ) = (&mut earlier.what, &later.what)
    else {
        return false;
    };
    if clutch != same || why != cause {
        return false;
    }
    *count += more;
    *alive = *left;
    true
}

fn is_news(scenario: &Scenario, what: &Known) -> bool {
    match what {
        Known::Act { act, says } => {
            // How many are left is told besides.
            let counted = matches!(act, Act::Dies { .. } | Act::Leaves { .. });
            let usual = counted || scenario.routines.iter().any(|r| r.act == *act);
            *says != act.to_string() || !usual
        }
        other => !other.is_state(),
    }
}
