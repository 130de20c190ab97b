//! The words of an alarm: what, where, since when, who hangs on it, how long they have, what to do first.

use crate::{Alarm, Condition, Flag, Flagging, State, act_within};
use units::{ClutchId, Quantity, Span, Stage, Time, VesselId};

/// What surrounds an alarm.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Context {
    /// The clutch that has the least time.
    pub clutch: Option<ClutchId>,
    /// The fish in the keeper's words.
    pub fish: String,
    /// How far it has come.
    pub stage: Option<Stage>,
    /// How many are alive; 0 when not counted.
    pub count: u32,
    /// Temperature of its water now, °C.
    pub celsius: Option<f64>,
    /// For water that leaves its band: when, past which end of it (°C), and how fast (K an hour) it goes there.
    pub leaving: Option<(Time, f64, f64)>,
    /// For a trouble of the service itself: what it is, with the cure; for a clock, by how much it jumped.
    pub trouble: String,
    /// For a silent probe: its device, if that has said that it is gone.
    pub gone: Option<String>,
}

fn place(alarm: &Alarm) -> &str {
    alarm.key.vessel.as_ref().map_or("the room", VesselId::as_str)
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

/// The headline without a full stop: "TU3 lies still".
pub fn subject(alarm: &Alarm, context: &Context) -> String {
    match alarm.key.condition {
        Condition::AirStopped => format!("{} lies still", place(alarm)),
        Condition::TooWarm => format!("{} is too warm", place(alarm)),
        Condition::TooCold => format!("{} is too cold", place(alarm)),
        Condition::LeavingBand => format!("{} is leaving its band", place(alarm)),
        Condition::Silent => format!("{} is silent", probe(alarm)),
        Condition::CannotStore => "Readings cannot be stored".to_owned(),
        Condition::BrokerLost => "No messages come in".to_owned(),
        Condition::ClockMoved if context.trouble.is_empty() => "The clock of this machine jumped".to_owned(),
        Condition::ClockMoved => format!("The clock of this machine jumped by {}", context.trouble),
    }
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
        whose(alarm, context),
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
    let ended = alarm.ended.unwrap_or(now);
    let seen = if alarm.state == State::Normal { "" } else { " Nobody has acknowledged it." };
    let what = match alarm.key.condition {
        Condition::AirStopped => format!("Air flows again in {}", place(alarm)),
        Condition::TooWarm | Condition::TooCold => format!("{} is back in its band", place(alarm)),
        Condition::LeavingBand => format!("{} is no longer leaving its band", place(alarm)),
        Condition::Silent => format!("{} is heard again", probe(alarm)),
        Condition::CannotStore => {
            "Readings are stored again; nothing that was acknowledged is lost".to_owned()
        }
        Condition::BrokerLost => "Messages come in again".to_owned(),
        Condition::ClockMoved => {
            return format!(
                "The clock of this machine jumped at {} and has run evenly since.{seen}",
                clock(since)
            );
        }
    };
    format!("{what} since {}; it lasted {} from {}.{seen}", clock(ended), ended - since, clock(since))
}

/// What was measured.
fn cause(alarm: &Alarm, context: &Context) -> String {
    match (alarm.key.condition, alarm.value) {
        (Condition::AirStopped, Some(v)) => format!("Air flow {v:.2} L/min."),
        (Condition::TooWarm, Some(v)) => {
            format!("It has {v:.1} °C, the band ends at {:.1} °C.", alarm.settings.limit)
        }
        (Condition::TooCold, Some(v)) => {
            format!("It has {v:.1} °C, the band begins at {:.1} °C.", alarm.settings.limit)
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

/// Who hangs on it.
fn hanging(alarm: &Alarm, context: &Context) -> String {
    let Some(clutch) = &context.clutch else { return String::new() };
    let young = context.stage.map_or("young", Stage::young);
    let who = match context.count {
        0 => format!("{clutch}, {young} of {}", context.fish),
        n => format!("{clutch}, {n} {young} of {}", context.fish),
    };
    match alarm.key.condition {
        Condition::AirStopped => format!("In it: {who}."),
        _ => format!("There: {who}."),
    }
}

/// The planning time; only moving air has one.
fn time_left(alarm: &Alarm, context: &Context, since: Time, clock: &dyn Fn(Time) -> String) -> String {
    match (alarm.key.condition, context.stage) {
        (Condition::AirStopped, Some(stage)) => {
            let within: Span = act_within(stage, context.celsius);
            let until = clock(since + within);
            format!(
                "Act by {until} ({within}): a planning value; fish have been lost sooner and saved later."
            )
        }
        _ => String::new(),
    }
}

/// The service's own trouble.
fn whose(alarm: &Alarm, context: &Context) -> String {
    match alarm.key.condition {
        Condition::CannotStore if !context.trouble.is_empty() => {
            format!("{}. Messages wait unacknowledged and are not lost.", context.trouble)
        }
        Condition::BrokerLost if !context.trouble.is_empty() => format!("{}.", context.trouble),
        _ => String::new(),
    }
}

/// What to do first, in the dark, half asleep.
pub fn first_step(alarm: &Alarm) -> String {
    let place = place(alarm);
    match alarm.key.condition {
        Condition::AirStopped => format!(
            "Look whether bubbles rise in {place}. If not: is the pump running, is the hose on, is the stone clogged? \
             If the pump is dead, put the battery air pump on. Dry hands before you touch a plug."
        ),
        Condition::TooWarm => format!(
            "Read another thermometer in {place}. If it is true, pull the heater's plug with dry hands; let it cool slowly."
        ),
        Condition::TooCold => format!(
            "Read another thermometer in {place}. If it is true: is the heater plugged in and warm, did cold water run in? \
             Warm it slowly. Pull the plug before your hands go into the water."
        ),
        Condition::LeavingBand => format!(
            "Read another thermometer in {place}. Falling: is the heater plugged in and warm, is a lid or a window open? \
             Rising: has the heater stuck on? Pull its plug with dry hands before you touch the water."
        ),
        Condition::Silent => format!("Look at {place} yourself, then at the device: power, cable, Wi-Fi."),
        Condition::CannotStore => "Make room on the disk, or see whether it is failing.".to_owned(),
        Condition::BrokerLost => {
            "Look at the tumblers yourself, then at the broker's machine and the network.".to_owned()
        }
        Condition::ClockMoved => {
            "See whether this machine shows the right time. If it does, there is nothing more to do."
                .to_owned()
        }
    }
}
