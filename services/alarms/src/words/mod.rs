//! The words of an alarm: what, where, since when, who hangs on it, how long they have, what to do first.

mod first;
mod subject;

pub use first::first_step;
pub use subject::subject;

use crate::{Alarm, Condition, Flag, Flagging, Place, State};
use subject::{ended, listed};
use units::{ClutchId, Quantity, Span, Stage, Time, VesselId};

/// What surrounds an alarm.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Context {
    /// The clutch that has the least time.
    pub clutch: Option<ClutchId>,
    /// Where it lies.
    pub at: Option<VesselId>,
    /// The fish in the keeper's words.
    pub fish: String,
    /// How far it has come.
    pub stage: Option<Stage>,
    /// How many are alive; 0 when not counted.
    pub count: u32,
    /// Temperature of its water now, °C.
    pub celsius: Option<f64>,
    /// How long it has from the beginning of the alarm; only moving air has such a time.
    pub within: Option<Span>,
    /// For water that leaves its band: when, past which end of it (°C), and how fast (K an hour) it goes there.
    pub leaving: Option<(Time, f64, f64)>,
    /// What was measured, as a sentence, where the alarm's value is not an air flow.
    pub measured: Option<String>,
    /// What was found, in one sentence, where the value alone does not say it; for a trouble of the service itself: what it is,
    /// with the cure; for a clock, by how much it jumped.
    pub trouble: String,
    /// What it stands for: the tumblers of a line, the probes of a device.
    pub parts: Vec<String>,
    /// What else hangs on it, the most urgent first: "TU4: C06, 30 eggs of Tropheus duboisi".
    pub others: Vec<String>,
    /// For a silent probe: its device, if that has said that it is gone.
    pub gone: Option<String>,
}

fn place(alarm: &Alarm) -> String {
    match &alarm.key.place {
        Place::Room => "the room".to_owned(),
        Place::Vessel(vessel) => vessel.to_string(),
        Place::Line(name) => format!("air line {name}"),
        Place::Device(name) => format!("device {name}"),
    }
}

fn probe(alarm: &Alarm) -> String {
    let what = match alarm.key.quantity {
        None => "probe",
        Some(Quantity::Temperature) => "thermometer",
        Some(Quantity::AirFlow) => "air-flow probe",
        Some(Quantity::WaterFlow) => "water-flow probe",
        Some(other) => return format!("The {} probe of {}", other.word().replace('-', " "), place(alarm)),
    };
    format!("The {what} of {}", place(alarm))
}

/// The whole message in plain words; `clock` writes a time as the room's clocks show it.
pub fn sentence(alarm: &Alarm, context: &Context, now: Time, clock: &dyn Fn(Time) -> String) -> String {
    let since = alarm.since.unwrap_or(now);
    if !alarm.state.standing() {
        return over(alarm, since, now, clock);
    }
    if alarm.key.condition == Condition::ClockMoved {
        let what = subject(alarm, context);
        return format!("{what} at {}; readings around it may carry wrong times.", clock(since));
    }
    let mut said = format!("{} since {}.", subject(alarm, context), clock(since));
    for part in [
        cause(alarm, context),
        leaving(alarm, context, clock),
        hanging(alarm, context),
        time_left(alarm, context, since, clock),
        found(alarm, context),
    ] {
        if !part.is_empty() {
            said.push(' ');
            said.push_str(&part);
        }
    }
    said
}

/// What keeps an alarm quiet, and until when: "TU3: air stopped is shelved by Ada until 02:40 (cleaning the stone). …". Empty
/// when nothing does.
pub fn quiet(alarm: &Alarm, clock: &dyn Fn(Time) -> String) -> String {
    let one = |(flag, f): (Flag, &Flagging)| {
        let until = f.until.map_or("until somebody ends that".to_owned(), |t| format!("until {}", clock(t)));
        format!("{} by {} {until} ({})", flag.word(), f.by, f.why)
    };
    let flags: Vec<String> = alarm.flags.iter().map(one).collect();
    if flags.is_empty() {
        return String::new();
    }
    let what = alarm.key.condition.word();
    format!("{}: {what} is {}. It calls nobody until then.", place(alarm), flags.join(", and "))
}

fn over(alarm: &Alarm, since: Time, now: Time, clock: &dyn Fn(Time) -> String) -> String {
    let end = alarm.ended.unwrap_or(now);
    let what = ended(alarm);
    let seen = if alarm.state == State::Normal { "" } else { " Nobody has acknowledged it." };
    if alarm.key.condition == Condition::ClockMoved {
        return format!(
            "The clock of this machine jumped at {} and has run evenly since.{seen}",
            clock(since)
        );
    }
    format!("{what} since {}; it lasted {} from {}.{seen}", clock(end), end - since, clock(since))
}

/// What was measured.
fn cause(alarm: &Alarm, context: &Context) -> String {
    match (alarm.key.condition, alarm.value) {
        (Condition::AirStopped, Some(v)) => {
            context.measured.clone().unwrap_or_else(|| format!("Air flow {v:.2} L/min."))
        }
        (Condition::TooWarm, Some(v)) => {
            format!("It has {v:.1} °C, the band ends at {:.1} °C.", alarm.settings.limit)
        }
        (Condition::TooCold, Some(v)) => {
            format!("It has {v:.1} °C, the band begins at {:.1} °C.", alarm.settings.limit)
        }
        (Condition::Silent, _) if !context.parts.is_empty() => {
            let gone = if context.gone.is_some() { "It has gone offline. " } else { "" };
            format!("{gone}Not heard: {}. What they measure may be well.", listed(&context.parts))
        }
        (Condition::Silent, _) if context.gone.is_some() => {
            let device = context.gone.as_deref().unwrap_or_default();
            format!("Its device {device} has gone offline; what it measures may be well.")
        }
        (Condition::Silent, _) => {
            "What it measures may be well: it is the probe or its device that does not talk.".to_owned()
        }
        _ => String::new(),
    }
}

/// Where water goes that is still in its band.
fn leaving(alarm: &Alarm, context: &Context, clock: &dyn Fn(Time) -> String) -> String {
    match (alarm.key.condition, context.leaving, context.celsius) {
        (Condition::LeavingBand, Some((at, limit, per_hour)), Some(now)) => {
            let side = if per_hour < 0.0 { "below" } else { "above" };
            format!(
                "It has {now:.1} °C and goes by {per_hour:+.1} K an hour: {side} {limit:.1} °C at {}.",
                clock(at)
            )
        }
        _ => String::new(),
    }
}

/// Who hangs on it, the most urgent first.
fn hanging(alarm: &Alarm, context: &Context) -> String {
    let Some(clutch) = &context.clutch else { return String::new() };
    let young = context.stage.map_or("young", Stage::young);
    let who = match context.count {
        0 => format!("{clutch}, {young} of {}", context.fish),
        n => format!("{clutch}, {n} {young} of {}", context.fish),
    };
    match (alarm.key.condition, &alarm.key.place) {
        _ if !context.others.is_empty() => {
            let at = context.at.as_ref().map(|v| format!("{v}: ")).unwrap_or_default();
            format!("Most urgent: {at}{who}. Then {}.", context.others.join("; "))
        }
        (Condition::AirStopped, Place::Vessel(_)) => format!("In it: {who}."),
        _ => format!("There: {who}."),
    }
}

/// The planning time; only moving air has one.
fn time_left(alarm: &Alarm, context: &Context, since: Time, clock: &dyn Fn(Time) -> String) -> String {
    let Some(within) = context.within else { return String::new() };
    let act = match alarm.key.condition {
        Condition::AirStopped => "Act by",
        _ => "If its air has stopped, act by",
    };
    let until = clock(since + within);
    format!("{act} {until} ({within}): a planning value; fish have been lost sooner and saved later.")
}

/// What was found beside the value, and the service's own trouble.
fn found(alarm: &Alarm, context: &Context) -> String {
    match (alarm.key.condition, context.trouble.as_str()) {
        (_, "") => String::new(),
        (Condition::CannotStore, trouble) => {
            format!("{trouble}. Messages wait unacknowledged and are not lost.")
        }
        (_, trouble) => format!("{trouble}."),
    }
}
