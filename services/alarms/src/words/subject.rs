//! Headlines, and what is said when it is over.

use super::{Context, place, probe};
use crate::{Alarm, Condition, Place};

/// The headline without a full stop: "TU3 lies still".
pub fn subject(alarm: &Alarm, context: &Context) -> String {
    let at = place(alarm);
    match alarm.key.condition {
        Condition::AirStopped => format!("{} still", lie(alarm, context)),
        Condition::AirWeak => format!("The air of {at} grows weak"),
        Condition::AirStrong => format!("The air of {at} flows more than usual"),
        Condition::LineFault => format!("Something is wrong with {at}"),
        Condition::TooWarm => format!("{at} is too warm"),
        Condition::TooCold => format!("{at} is too cold"),
        Condition::LeavingBand => format!("{at} is leaving its band"),
        Condition::ChangingFast => format!("{at} changes fast"),
        Condition::Drifting => format!("{at} drifts away from its usual course"),
        Condition::OxygenLow => format!("{at} has too little oxygen"),
        Condition::AmmoniaHigh => format!("{at} has too much ammonia"),
        Condition::Acidity => format!("The pH of {at} is out of its band"),
        Condition::ConductivityChanged => format!("The conductivity of {at} has changed"),
        Condition::LevelLow => format!("The water of {at} stands low"),
        Condition::Leak => format!("Water is on the floor at {at}"),
        Condition::PowerCut => "The mains are gone".to_owned(),
        Condition::Silent => silent(alarm),
        Condition::Implausible => format!("{} cannot be believed", probe(alarm)),
        Condition::CannotDeliver => "Calls do not arrive everywhere".to_owned(),
        Condition::CannotStore => "Readings cannot be stored".to_owned(),
        Condition::ClockMoved if context.trouble.is_empty() => "The clock of this machine jumped".to_owned(),
        Condition::ClockMoved => format!("The clock of this machine jumped by {}", context.trouble),
        Condition::BrokerLost => "No messages come in".to_owned(),
        Condition::FallingBehind => "Messages come in faster than they can be kept".to_owned(),
        Condition::OtherSilent => "The other Hatchwarden is silent".to_owned(),
        Condition::Drill => "This is a drill; nothing is wrong".to_owned(),
    }
}

/// "TU1 lies", "TU1, TU2 and TU4 lie".
fn lie(alarm: &Alarm, context: &Context) -> String {
    match context.parts.as_slice() {
        [] => format!("{} lies", place(alarm)),
        [one] => format!("{one} lies"),
        many => format!("{} lie", listed(many)),
    }
}

/// "a", "a and b", "a, b and c".
pub(super) fn listed(all: &[String]) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

fn silent(alarm: &Alarm) -> String {
    match (&alarm.key.place, alarm.key.quantity) {
        (Place::Room, _) => "Several devices are silent".to_owned(),
        (Place::Vessel(vessel), None) => format!("All probes of {vessel} are silent"),
        (Place::Device(name), _) => format!("Device {name} is silent"),
        _ => format!("{} is silent", probe(alarm)),
    }
}

/// What is true again when the alarm is over.
pub(super) fn ended(alarm: &Alarm) -> String {
    let at = place(alarm);
    match alarm.key.condition {
        Condition::AirStopped => format!("Air flows again in {at}"),
        Condition::AirWeak | Condition::AirStrong => format!("The air of {at} is as usual again"),
        Condition::LineFault => format!("All is as usual again with {at}"),
        Condition::TooWarm | Condition::TooCold | Condition::Acidity => format!("{at} is back in its band"),
        Condition::LeavingBand => format!("{at} is no longer leaving its band"),
        Condition::ChangingFast => format!("{at} holds steady again"),
        Condition::Drifting => format!("{at} is back on its usual course"),
        Condition::OxygenLow => format!("{at} has oxygen enough again"),
        Condition::AmmoniaHigh => format!("{at} has little ammonia again"),
        Condition::ConductivityChanged => format!("The conductivity of {at} is as usual again"),
        Condition::LevelLow => format!("The water of {at} stands high enough again"),
        Condition::Leak => format!("The floor at {at} is dry"),
        Condition::PowerCut => "The mains are back".to_owned(),
        Condition::Silent => heard(alarm),
        Condition::Implausible => format!("{} can be believed again", probe(alarm)),
        Condition::CannotDeliver => "Calls arrive again".to_owned(),
        Condition::CannotStore => {
            "Readings are stored again; nothing that was acknowledged is lost".to_owned()
        }
        Condition::ClockMoved => "The clock of this machine goes on steadily".to_owned(),
        Condition::BrokerLost => "Messages come in again".to_owned(),
        Condition::FallingBehind => "Messages are kept as they come again".to_owned(),
        Condition::OtherSilent => "The other Hatchwarden is heard again".to_owned(),
        Condition::Drill => "The drill is over".to_owned(),
    }
}

fn heard(alarm: &Alarm) -> String {
    match (&alarm.key.place, alarm.key.quantity) {
        (Place::Room, _) => "The devices are heard again".to_owned(),
        (Place::Vessel(vessel), None) => format!("{vessel} is heard again"),
        (Place::Device(name), _) => format!("Device {name} is heard again"),
        _ => format!("{} is heard again", probe(alarm)),
    }
}
