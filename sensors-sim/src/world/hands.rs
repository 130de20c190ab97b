//! What people do to the room.

use super::heat::Stream;
use super::{Sources, World};
use crate::{Act, Lapse, Role, Scenario};
use units::{Span, Time};

/// A water change under way: half of the time water runs out, half of it new water runs in.
#[derive(Debug, Clone)]
pub(super) struct Change {
    begun: Time,
    takes: Span,
    litres: f64,
    celsius: f64,
}

impl Change {
    fn new(begun: Time, takes: Lapse, litres: f64, celsius: f64) -> Self {
        Self { begun, takes: Span::from_millis(takes.span().millis().max(2_000)), litres, celsius }
    }

    /// What runs at a moment; `None` once it is over.
    pub(super) fn stream(&self, at: Time) -> Option<Stream> {
        let (gone, half) = (at - self.begun, Span::from_millis(self.takes.millis() / 2));
        let rate = self.litres / half.as_minutes();
        (gone < half + half).then_some(if gone < half {
            Stream { into: 0.0, out: rate, celsius: self.celsius }
        } else {
            Stream { into: rate, out: 0.0, celsius: self.celsius }
        })
    }

    /// When it changes from one half to the other, and when it ends: moments of their own, so that the amounts are right.
    fn turns(&self) -> [Time; 2] {
        let half = Span::from_millis(self.takes.millis() / 2);
        [self.begun + half, self.begun + half + half]
    }
}

impl World {
    /// Does what somebody does; everything must be worked out up to that moment. Returns moments at which the world is
    /// to be looked at again. What concerns clutches and devices is not done here.
    pub(crate) fn act(&mut self, act: &Act, scenario: &Scenario) -> Vec<Time> {
        let again = self.do_it(act, &Sources::new(scenario));
        self.refresh();
        again
    }

    /// Looks again at what runs.
    pub(crate) fn look_again(&mut self) {
        self.refresh();
    }

    fn do_it(&mut self, act: &Act, sources: &Sources<'_>) -> Vec<Time> {
        let at = self.at;
        match act {
            Act::StartPump(name) => self.pump(name, |p| p.by_hand = true),
            Act::StopPump(name) => self.pump(name, |p| p.by_hand = false),
            Act::PumpRole { pump, role } => self.pump(pump, |p| p.set_role(*role)),
            Act::Feed { tank, .. }
            | Act::WaterChange { tank, .. }
            | Act::TopUp(tank)
            | Act::SetPoint { tank, .. }
            | Act::Fish { tank, .. } => {
                let Some(tank) = sources.tank(tank) else { return Vec::new() };
                return self.tanks[tank].act(act, at);
            }
            Act::Look(_)
            | Act::Move { .. }
            | Act::Dies { .. }
            | Act::Leaves { .. }
            | Act::Restart(_)
            | Act::Note(_) => {}
        }
        Vec::new()
    }

    fn pump(&mut self, name: &str, change: impl Fn(&mut super::air::Pump)) {
        self.pumps.iter_mut().filter(|p| p.plan.name == name).for_each(change);
    }
}

impl super::air::Pump {
    fn set_role(&mut self, role: Role) {
        self.role = role;
        self.missing_since = None;
    }
}

impl super::Tank {
    fn act(&mut self, act: &Act, at: Time) -> Vec<Time> {
        match act {
            Act::Feed { grams, protein, .. } => self.chemistry.feed(*grams, *protein),
            Act::SetPoint { celsius, .. } => self.set_point = *celsius,
            Act::Fish { grams, .. } => {
                self.chemistry.fish_grams = (self.chemistry.fish_grams + grams).max(0.0);
            }
            Act::WaterChange { part, celsius, takes, .. } => {
                return self.begin(Change::new(at, *takes, part * self.water.litres, *celsius));
            }
            Act::TopUp(_) => {
                let missing = (self.plan.litres - self.water.litres).max(0.0);
                let takes = Lapse::of(Span::minutes(4));
                let mut change = Change::new(at, takes, missing, self.water.celsius);
                // Nothing is let out: only the second half is played.
                change.begun = at - Span::from_millis(change.takes.millis() / 2);
                return self.begin(change);
            }
            _ => {}
        }
        Vec::new()
    }

    fn begin(&mut self, change: Change) -> Vec<Time> {
        let turns = change.turns().to_vec();
        self.changes.push(change);
        turns
    }
}
