//! The room as the page shows it.

use super::Room;
use super::night::night_of;
use development::Projection;
use ledger::Clutch;
use units::{ClutchId, ProbeKey, Quantity, Stage, Time, VesselId, VesselKind};
use web::view::{
    ClutchView, Heard, NightSpan, ReadingView, RefusalView, RoomView, TankView, TumblerView, Turning, Water,
    Window,
};

impl Room {
    /// Everything the opening page needs.
    pub fn view(&mut self, now: Time) -> RoomView {
        let (dusk, dawn) = night_of(now, self.setup.zone);
        RoomView {
            room: self.setup.room.to_string(),
            zone: self.setup.zone.name().to_owned(),
            now,
            night: NightSpan { dusk, dawn },
            heard: self.heard(),
            progress: self.progress.clone(),
            alarms: self.alarm_views(now),
            shelved: self.shelved_views(),
            tumblers: self.tumblers(dusk, dawn, now),
            tanks: self.tanks(),
            clutches: self.clutch_views(now),
            work: self.task_views(now),
            refusals: self.refusal_views(),
        }
    }

    /// Newest reading of every probe.
    pub fn newest(&self) -> Vec<ReadingView> {
        self.last
            .values()
            .map(|r| ReadingView {
                probe: r.probe.clone(),
                quantity: r.probe.quantity,
                time: r.time,
                value: self.corrected(r),
                raw: r.value,
                unit: r.probe.quantity.unit(),
                fresh: r.fresh,
            })
            .collect()
    }

    fn heard(&self) -> Heard {
        let silent = self.newest_fresh.keys().filter(|p| self.is_silent(p)).cloned().collect();
        let newest = self.newest_fresh.values().max().copied();
        Heard { probes: self.last.len(), silent, newest }
    }

    pub(super) fn is_silent(&self, probe: &ProbeKey) -> bool {
        self.panel.is_silent(&probe.vessel, probe.quantity)
    }

    fn refusal_views(&self) -> Vec<RefusalView> {
        let mut views: Vec<RefusalView> = self.refusals.values().cloned().collect();
        views.sort_by_key(|r| std::cmp::Reverse(r.last));
        views
    }

    fn tumblers(&self, dusk: Time, dawn: Time, now: Time) -> Vec<TumblerView> {
        self.setup
            .vessels
            .iter()
            .filter(|v| v.kind != VesselKind::Tank)
            .map(|v| self.tumbler(&v.id, dusk, dawn, now))
            .collect()
    }

    fn tumbler(&self, id: &VesselId, dusk: Time, dawn: Time, now: Time) -> TumblerView {
        let vessel = self.setup.vessel(id);
        let clutch = self.account.in_vessel(id).next();
        let flow = [Quantity::AirFlow, Quantity::WaterFlow]
            .into_iter()
            .find_map(|q| self.last.get(&ProbeKey::new(id.clone(), q)))
            .filter(|f| self.newest_fresh.contains_key(&f.probe) && !self.is_silent(&f.probe));
        let turning = match self.witness(id) {
            None if !self.has_witness(id) => Turning::NoProbe,
            None => Turning::Unheard,
            Some((_, true)) => Turning::Still,
            Some(_) => Turning::Turning,
        };
        let strokes = self.air.get(id).map(|log| log.strokes(dusk, now.min(dawn))).unwrap_or_default();
        TumblerView {
            vessel: id.clone(),
            host: vessel.and_then(|v| v.host.clone()),
            clutch: clutch.map(|c| c.id.clone()),
            count: clutch.and_then(|c| c.count_in(id)).unwrap_or(0),
            stage: clutch.map(|c| self.stage_of(c, now)),
            turning,
            still_since: (turning == Turning::Still).then(|| self.air_stopped_since(id)).flatten(),
            air_flow: flow.map(|f| f.value),
            water: self.water_view(id),
            strokes,
        }
    }

    fn tanks(&self) -> Vec<TankView> {
        let tanks = self.setup.vessels.iter().filter(|v| v.kind == VesselKind::Tank);
        tanks
            .map(|v| TankView {
                vessel: v.id.clone(),
                water: self.water_view(&v.id),
                clutches: self.clutches_sharing(&v.id).map(|c| c.id.clone()).collect(),
            })
            .collect()
    }

    pub(super) fn water_view(&self, id: &VesselId) -> Water {
        let tank = self.setup.water_of(id);
        let probe = ProbeKey::new(tank.clone(), Quantity::Temperature);
        let heard = self
            .last
            .get(&probe)
            .filter(|_| self.newest_fresh.contains_key(&probe) && !self.is_silent(&probe));
        Water {
            celsius: heard.map(|r| self.corrected(r)),
            at: heard.map(|r| r.time),
            per_hour: heard.and_then(|_| self.water.get(tank)?.per_hour()),
            band: self.setup.vessel(tank).and_then(|v| v.band),
        }
    }

    /// Temperature of a tank now, if it is heard.
    pub(super) fn celsius(&self, tank: &VesselId) -> Option<f64> {
        self.water_view(tank).celsius
    }

    /// How far a clutch has come: as seen, or by the likeliest projection.
    pub(super) fn stage_of(&self, clutch: &Clutch, now: Time) -> Stage {
        let seen = clutch.seen.iter().map(|s| s.sign.reached()).max().unwrap_or(Stage::Egg);
        let projected =
            self.tracked.get(&clutch.id).and_then(|t| t.projection.as_ref()).map(|p| p.stage_now_at(now));
        projected.unwrap_or(Stage::Egg).max(seen)
    }

    fn clutch_views(&mut self, now: Time) -> Vec<ClutchView> {
        // One of which none are left is followed on for its mother's sake.
        let in_hand = |id: &&ClutchId| self.account.clutch(id).is_some_and(Clutch::in_hand);
        let ids: Vec<ClutchId> = self.tracked.keys().filter(in_hand).cloned().collect();
        let mut views: Vec<ClutchView> = ids.iter().filter_map(|id| self.clutch_view(id, now)).collect();
        views.sort_by_key(|v| next_time(v).unwrap_or(Time::from_millis(i64::MAX)));
        views
    }

    pub(super) fn clutch_view(&mut self, id: &ClutchId, now: Time) -> Option<ClutchView> {
        let clutch = self.account.clutch(id)?;
        let stage = self.stage_of(clutch, now);
        let setup = self.setup.clone();
        let coming = if stage < Stage::Hatch { Stage::Hatch } else { Stage::FreeSwimming };
        let tracked = self.tracked.get_mut(id).filter(|_| clutch.in_hand());
        let mut view = bare_view(clutch, stage, now);
        if let Some(tracked) = tracked {
            let footprints = tracked.footprints(clutch, &setup, coming, now);
            let projection = tracked.projection.as_ref();
            view.hatch = window(projection, Stage::Hatch);
            view.free_swimming = window(projection, Stage::FreeSwimming);
            view.course = tracked.pieces(clutch, now);
            view.shift = shift_words(&footprints, window(projection, coming));
            view.footprints = footprints;
            view.warnings = projection.map(|p| p.warnings.clone()).unwrap_or_default();
        }
        Some(view)
    }
}

/// A clutch without any dates.
fn bare_view(clutch: &Clutch, stage: Stage, now: Time) -> ClutchView {
    ClutchView {
        id: clutch.id.clone(),
        fish: clutch.fish.clone(),
        species: clutch.species.clone(),
        mother: clutch.mother.clone(),
        day0: clutch.day0,
        age_days: (clutch.ended().unwrap_or(now) - clutch.day0.middle()).as_days(),
        stage,
        count: clutch.alive.unwrap_or(0),
        vessel: clutch.place_now().filter(|_| clutch.in_hand()).cloned(),
        hatch: None,
        free_swimming: None,
        course: Vec::new(),
        shift: None,
        footprints: Vec::new(),
        warnings: Vec::new(),
    }
}

fn window(projection: Option<&Projection>, stage: Stage) -> Option<Window> {
    let w = projection?.stages.iter().find(|w| w.stage == stage)?;
    Some(Window {
        earliest: w.earliest,
        likeliest: w.likeliest,
        latest: w.latest,
        required: w.required,
        so_far: w.so_far,
        seen: w.seen,
        first: w.first,
        last: w.last,
    })
}

/// When the next stage of a clutch is likeliest.
fn next_time(v: &ClutchView) -> Option<Time> {
    let window = if v.stage < Stage::Hatch { v.hatch } else { v.free_swimming };
    window.map(|w| w.likeliest)
}

/// How far the date has moved since the first night, or since last night where that was more.
fn shift_words(footprints: &[(Time, Time)], window: Option<Window>) -> Option<String> {
    let now = window.filter(|w| w.seen.is_none())?.likeliest;
    let Some(((_, last), first)) = footprints.last().zip(footprints.first().map(|(_, t)| *t)) else {
        return Some("first night".to_owned());
    };
    let hours = |then: Time| (now - then).as_hours().round() as i64;
    let words = |h: i64, since: &str| {
        format!("{} h {} than {since} said", h.abs(), if h < 0 { "sooner" } else { "later" })
    };
    let (of_last, of_first) = (hours(*last), hours(first));
    Some(match (of_last, of_first) {
        (0, 0) => match footprints.len() {
            1 => "unmoved since last night".to_owned(),
            n => format!("unmoved for {n} nights"),
        },
        (l, f) if l.abs() >= f.abs() => words(l, "last night"),
        (_, f) => words(f, "the first night"),
    })
}
