//! What to do first, in the dark, half asleep. Common practice, no source; whoever runs the room can write their own.

use super::place;
use crate::{Alarm, Condition, Place};

/// What to do first.
pub fn first_step(alarm: &Alarm) -> String {
    let at = place(alarm);
    match alarm.key.condition {
        Condition::AirStopped => match alarm.key.place {
            Place::Line(_) => "Look at the air pump and its plug: is it running? If it is dead, put the battery air pump on. If it \
                runs, look for the hose that is off. Dry hands before you touch a plug."
                .to_owned(),
            _ => format!(
                "Look whether bubbles rise in {at}. If not: is the pump running, is the hose on, is the stone clogged? \
                 If the pump is dead, put the battery air pump on. Dry hands before you touch a plug."
            ),
        },
        Condition::AirWeak => format!(
            "Look at {at}: do the eggs still turn? Then open its valve a little; clean or change the stone in the morning."
        ),
        Condition::AirStrong => format!(
            "Look at {at}: do the eggs turn? If they lie still, put the hose back on behind the probe. If they are thrown about, \
             close its valve a little."
        ),
        Condition::LineFault => "Look whether bubbles rise in each tumbler, then follow the line from the pump: plug, \
            diaphragm, hose, check valve, stone. Dry hands before you touch a plug."
            .to_owned(),
        Condition::TooWarm => format!(
            "Read another thermometer in {at}. If it is true, pull the heater's plug with dry hands; let it cool slowly."
        ),
        Condition::TooCold => format!(
            "Read another thermometer in {at}. If it is true: is the heater plugged in and warm, did cold water run in? \
             Warm it slowly. Pull the plug before your hands go into the water."
        ),
        Condition::LeavingBand | Condition::Drifting => format!(
            "Read another thermometer in {at}. Falling: is the heater plugged in and warm, is a lid or a window open? \
             Rising: has the heater stuck on? Pull its plug with dry hands before you touch the water."
        ),
        Condition::ChangingFast => format!(
            "If nobody is changing the water of {at}: read another thermometer there, look for running water and at the heater. \
             Pull its plug with dry hands before you touch the water."
        ),
        Condition::OxygenLow => format!(
            "Put an air stone into {at} and stop feeding. Look at filter and pump. Then find what rots: dead fish, food."
        ),
        Condition::AmmoniaHigh => format!(
            "Test {at} once more. If it is true: stop feeding, change a part of the water for water as warm and of the same pH, \
             and look for what rots and whether the filter runs."
        ),
        Condition::Acidity => format!("Measure {at} by another test before you do anything; change pH slowly if at all."),
        Condition::ConductivityChanged => {
            format!("Look at {at}: has water run in or out, was salt or a treatment added? Measure by hand.")
        }
        Condition::LevelLow => format!(
            "Look at {at} and the floor. Pull the heater's plug with dry hands before its glass stands dry, then find the leak."
        ),
        Condition::Leak => "Do not step into water near plugs: switch the room off at the breaker first. Then find the leak."
            .to_owned(),
        Condition::PowerCut => "Put the battery air pump on the tumbler that is named first, then on the next. Cover tanks \
            to keep them warm. Switch heaters off until the power is steady."
            .to_owned(),
        Condition::Silent => silent(alarm),
        Condition::Implausible => format!("Read {at} by another instrument, then look at the probe: cable, plug, depth."),
        Condition::CannotDeliver => "Somebody may not be woken: call them yourself. Then look at the way that is named."
            .to_owned(),
        Condition::CannotStore => "Make room on the disk, or see whether it is failing.".to_owned(),
        Condition::ClockMoved => "See whether this machine shows the right time. If it does, there is nothing more to do.".to_owned(),
        Condition::BrokerLost => "Look at the tumblers yourself, then at the broker's machine and the network.".to_owned(),
        Condition::FallingBehind => "Look at the tumblers yourself: what is shown here is old. Then see what this machine is busy \
            with, and whether a device sends far too often."
            .to_owned(),
        Condition::OtherSilent => {
            "Nobody may be watching the other room: look at it yourself, then at its machine: power, network.".to_owned()
        }
        Condition::Drill => "Acknowledge it, so that the record shows that the call has reached you.".to_owned(),
    }
}

fn silent(alarm: &Alarm) -> String {
    match alarm.key.place {
        Place::Room => "Look whether the lights of the room still burn and the pump runs, then at the router. If the power is \
            gone, put the battery air pump on."
            .to_owned(),
        Place::Device(_) => "Look at what hangs on it yourself, then at the device: power, cable, Wi-Fi.".to_owned(),
        _ => format!("Look at {} yourself, then at the device: power, cable, Wi-Fi.", place(alarm)),
    }
}
