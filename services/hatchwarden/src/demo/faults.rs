//! What people may break in the demo's room, and how fast they may let its time run.

use crate::clock::Clock;
use sensors_sim::{Fault, Wish};
use std::ops::RangeInclusive;
use std::sync::Arc;
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{mpsc, watch};
use units::Span;
use web::keeper::{Answer, Trouble};
use web::simulated::{Simulated, SimulatedRoom, Thing};

/// Paces at which the demo's clock may run, times real time.
pub(super) const PACES: RangeInclusive<f64> = 0.1..=1000.0;
/// Wishes that may wait for the simulator.
const WAITING: usize = 64;

/// Something that can be broken: its words, and what the simulator calls it.
struct Breakable {
    key: &'static str,
    breaks: &'static str,
    mends: &'static str,
    what: &'static str,
    fault: fn() -> Fault,
}

/// The tumbler whose air also stops by itself.
pub(super) const AIR: &str = "air-tu2";

const BREAKABLE: [Breakable; 4] = [
    Breakable {
        key: AIR,
        breaks: "Stop the air of TU2",
        mends: "Give TU2 its air back",
        what: "Its eggs stop turning and sink into a heap. The alarm comes within half a minute, and goes half a minute \
               after the air is back.",
        fault: || Fault::AirStop("TU2".to_owned()),
    },
    Breakable {
        key: "heater-v1",
        breaks: "Kill the heater of V1",
        mends: "Mend the heater of V1",
        what: "The water of V1 loses a third of a degree to a degree an hour. The page says that it is cooling within about an \
               hour; the alarm comes when the water leaves its band, after two to five hours.",
        fault: || heater("V1"),
    },
    Breakable {
        key: "power",
        breaks: "Cut the power of the whole room",
        mends: "Bring the power back",
        what: "Air pumps and heaters stop; probes and router run on batteries. Within half a minute the tumblers lie still, or \
               turn on the little that a battery pump gives, and the tanks grow cold in the hours after.",
        fault: || Fault::GridOff,
    },
    Breakable {
        key: "wifi",
        breaks: "Lose the Wi-Fi",
        mends: "Bring the Wi-Fi back",
        what: "No probe is heard any more. Perhaps all is well in the water, but nobody can know: after half a minute the \
               devices are given up and every probe is silent, and the page says so instead of drawing what it no \
               longer knows. Once the Wi-Fi is back, what the devices kept fills the gap.",
        fault: || Fault::RoomWifiLost,
    },
];

fn heater(tank: &str) -> Fault {
    Fault::HeaterDead(tank.to_owned())
}

/// The demo's room as people may break it. Keeps what is broken.
pub(super) struct Faults {
    clock: Clock,
    wishes: mpsc::Sender<Wish>,
    shown: watch::Sender<Arc<Simulated>>,
}

impl Faults {
    /// Everything whole, and the wishes that the simulator is to fulfil. `pace` is that of the clock.
    pub(super) fn new(clock: Clock, pace: f64) -> (Arc<Self>, mpsc::Receiver<Wish>) {
        let (wishes, fulfilled) = mpsc::channel(WAITING);
        let things = BREAKABLE.iter().map(whole).collect();
        let shown = watch::Sender::new(Arc::new(Simulated { pace, things }));
        (Arc::new(Self { clock, wishes, shown }), fulfilled)
    }

    /// Breaks or mends a thing.
    ///
    /// # Errors
    /// [`Trouble`] when there is no such thing, or the simulator cannot take more.
    pub(super) fn change(&self, key: &str, broken: bool) -> Result<(), Trouble> {
        let mut answer = Ok(());
        self.shown.send_if_modified(|shown| match self.changed(shown, key, broken) {
            Ok(next) => std::mem::replace(shown, Arc::new(next)) != *shown,
            Err(trouble) => {
                answer = Err(trouble);
                false
            }
        });
        answer
    }

    /// The room after the change, once the simulator has been told what is different.
    fn changed(&self, now: &Simulated, key: &str, broken: bool) -> Result<Simulated, Trouble> {
        let mut next = now.clone();
        let thing = next.things.iter_mut().find(|t| t.key == key);
        let breakable = BREAKABLE.iter().find(|b| b.key == key);
        let (thing, breakable) = thing.zip(breakable).ok_or_else(|| unknown(key))?;
        if thing.broken != broken {
            let fault = (breakable.fault)();
            self.wish(if broken { Wish::Inject(fault) } else { Wish::Mend(fault) })?;
            thing.broken = broken;
            thing.since = broken.then(|| self.clock.now());
        }
        Ok(next)
    }

    /// Tells the simulator.
    ///
    /// # Errors
    /// [`Trouble::Unable`] when the simulator has stopped or has too much to do.
    pub(super) fn wish(&self, wish: Wish) -> Result<(), Trouble> {
        self.wishes.try_send(wish).map_err(|e| {
            Trouble::Unable(match e {
                TrySendError::Full(_) => {
                    "the simulated room is busy with what was broken before; try again in a moment".to_owned()
                }
                TrySendError::Closed(_) => "the simulated room has stopped; start the demo again".to_owned(),
            })
        })
    }

    /// Lets the clock run at another pace.
    fn hurry(&self, pace: f64) -> Result<(), Trouble> {
        if !PACES.contains(&pace) {
            let (low, high) = (PACES.start(), PACES.end());
            let reason = format!("{pace} is out of range; write a number from {low} to {high}");
            return Err(Trouble::Refused { field: "pace".to_owned(), reason });
        }
        self.wish(Wish::Rhythm(rhythm_at(pace)))?;
        // The demo's clock is one that can be paced, and the pace fits.
        self.clock.set_pace(pace);
        self.shown.send_modify(|shown| {
            *shown = Arc::new(Simulated { pace, things: shown.things.clone() });
        });
        Ok(())
    }
}

/// How often the devices measure: every two seconds, and in a hurry less often, as nobody can follow that.
pub(super) fn rhythm_at(pace: f64) -> Span {
    Span::from_millis((pace / 9.0 * 1000.0) as i64).max(Span::seconds(2))
}

fn whole(b: &Breakable) -> Thing {
    Thing {
        key: b.key.to_owned(),
        broken: false,
        since: None,
        breaks: b.breaks.to_owned(),
        mends: b.mends.to_owned(),
        what: b.what.to_owned(),
    }
}

fn unknown(key: &str) -> Trouble {
    let known: Vec<&str> = BREAKABLE.iter().map(|b| b.key).collect();
    let reason = format!("{key:?} is nothing that can be broken here; use one of {}", known.join(", "));
    Trouble::Refused { field: "key".to_owned(), reason }
}

fn at_once(result: Result<(), Trouble>) -> Answer<()> {
    Box::pin(std::future::ready(result))
}

impl SimulatedRoom for Faults {
    fn shown(&self) -> watch::Receiver<Arc<Simulated>> {
        self.shown.subscribe()
    }

    fn break_thing(&self, key: String, broken: bool) -> Answer<()> {
        at_once(self.change(&key, broken))
    }

    fn pace(&self, pace: f64) -> Answer<()> {
        at_once(self.hurry(pace))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sensors_sim::{Room, Scenario};
    use units::Time;

    fn faults() -> (Arc<Faults>, mpsc::Receiver<Wish>) {
        Faults::new(Clock::hand(Time::from_millis(0)).0, 1.0)
    }

    fn told(wishes: &mut mpsc::Receiver<Wish>) -> Vec<Wish> {
        std::iter::from_fn(|| wishes.try_recv().ok()).collect()
    }

    #[test]
    fn every_fault_names_what_is_in_the_room() {
        let mut room = Room::new(Scenario::undercroft_cut(), 7, Time::from_millis(0));
        for fault in BREAKABLE.iter().map(|b| (b.fault)()) {
            room.inject(Time::from_millis(0), fault).unwrap();
        }
    }

    #[test]
    fn mending_one_thing_leaves_the_other_broken() {
        let (faults, mut wishes) = faults();
        faults.change("heater-v1", true).unwrap();
        faults.change("power", true).unwrap();
        faults.change("power", true).unwrap();
        assert_eq!(told(&mut wishes), [heater("V1"), Fault::GridOff].map(Wish::Inject));
        faults.change("power", false).unwrap();
        assert_eq!(told(&mut wishes), [Wish::Mend(Fault::GridOff)]);
        faults.change("heater-v1", false).unwrap();
        assert_eq!(told(&mut wishes), [Wish::Mend(heater("V1"))]);
        assert!(faults.shown().borrow().things.iter().all(|t| !t.broken && t.since.is_none()));
    }

    #[test]
    fn what_is_broken_is_shown_with_its_time_and_told_once() {
        let (faults, _wishes) = faults();
        let mut shown = faults.shown();
        faults.change(AIR, true).unwrap();
        assert!(shown.has_changed().unwrap());
        let air = shown.borrow_and_update().things[0].clone();
        assert_eq!((air.key.as_str(), air.broken, air.since), (AIR, true, Some(Time::from_millis(0))));
        faults.change(AIR, true).unwrap();
        assert!(!shown.has_changed().unwrap());
    }

    #[test]
    fn silly_wishes_are_refused_with_the_cure() {
        let (faults, mut wishes) = faults();
        let said = faults.change("air-tu9", true).unwrap_err().to_string();
        assert!(
            said.starts_with("key: \"air-tu9\"") && said.contains("air-tu2, heater-v1, power, wifi"),
            "{said}"
        );
        for silly in [0.0, -3.0, 5_000.0, f64::NAN] {
            let said = faults.hurry(silly).unwrap_err().to_string();
            assert!(said.starts_with("pace: ") && said.contains("from 0.1 to 1000"), "{said}");
        }
        assert!(told(&mut wishes).is_empty());
        drop(wishes);
        assert!(faults.change(AIR, true).unwrap_err().to_string().contains("has stopped"));
        assert!(!faults.shown().borrow().things[0].broken);
    }

    #[tokio::test(start_paused = true)]
    async fn a_new_pace_moves_the_clock_and_slows_the_devices() {
        let clock = Clock::paced(1.0, None);
        let (faults, mut wishes) = Faults::new(clock.clone(), 1.0);
        faults.hurry(180.0).unwrap();
        let begun = clock.now();
        tokio::time::advance(std::time::Duration::from_secs(20)).await;
        assert_eq!(clock.now() - begun, units::Span::hours(1));
        assert_eq!(faults.shown().borrow().pace, 180.0);
        assert_eq!(told(&mut wishes), [Wish::Rhythm(Span::seconds(20))]);
    }
}
