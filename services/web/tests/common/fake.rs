//! The service behind the page, as tests have it: it answers what is invented and keeps what it is told.

use super::answers::FakeAnswers;
use super::*;
use tokio::sync::Notify;

/// Keeps what it was told; refuses what a real one would.
pub struct FakeKeeper {
    pub room: watch::Sender<Arc<RoomView>>,
    pub calls: CallsView,
    pub told: Mutex<Vec<String>>,
    pub unready: Option<String>,
    pub toy: Option<Arc<FakeRoom>>,
    pub answers: Arc<FakeAnswers>,
    pub held: Mutex<Option<Held>>,
}

/// Told when an entry has come, and what it then waits for.
pub type Held = (Arc<Notify>, Arc<Notify>);

/// A simulated room with two things that can be broken.
pub struct FakeRoom(pub watch::Sender<Arc<Simulated>>);

impl FakeRoom {
    pub fn new() -> Arc<Self> {
        let thing = |key: &str, breaks: &str, mends: &str| Thing {
            key: key.to_owned(),
            broken: false,
            since: None,
            breaks: breaks.to_owned(),
            mends: mends.to_owned(),
            what: "Its eggs sink into a heap.".to_owned(),
        };
        let things = vec![
            thing("air-tu2", "Stop the air of TU2", "Give TU2 its air back"),
            thing("wifi", "Lose the Wi-Fi", "Bring the Wi-Fi back"),
        ];
        Arc::new(Self(watch::Sender::new(Arc::new(Simulated { pace: 1.0, things }))))
    }

    fn refuse(field: &str, value: impl std::fmt::Display, cure: &str) -> Answer<()> {
        let trouble =
            Trouble::Refused { field: field.to_owned(), reason: format!("{value} will not do; {cure}") };
        Box::pin(async move { Err(trouble) })
    }
}

impl SimulatedRoom for FakeRoom {
    fn shown(&self) -> watch::Receiver<Arc<Simulated>> {
        self.0.subscribe()
    }
    fn break_thing(&self, key: String, broken: bool) -> Answer<()> {
        let mut next = (**self.0.borrow()).clone();
        let Some(thing) = next.things.iter_mut().find(|t| t.key == key) else {
            return Self::refuse("key", key, "use air-tu2 or wifi");
        };
        (thing.broken, thing.since) = (broken, broken.then(now));
        self.0.send_replace(Arc::new(next));
        Box::pin(async { Ok(()) })
    }
    fn pace(&self, pace: f64) -> Answer<()> {
        if !(0.1..=1000.0).contains(&pace) {
            return Self::refuse("pace", pace, "write 0.1 to 1000");
        }
        let things = self.0.borrow().things.clone();
        self.0.send_replace(Arc::new(Simulated { pace, things }));
        Box::pin(async { Ok(()) })
    }
}

impl FakeKeeper {
    pub fn new(room: RoomView) -> Arc<Self> {
        Arc::new(Self::bare(room))
    }

    /// The room as one that people may break.
    pub fn simulated(room: RoomView) -> Arc<Self> {
        Arc::new(Self { toy: Some(FakeRoom::new()), ..Self::bare(room) })
    }

    /// With people to call.
    pub fn calling(room: RoomView, calls: CallsView) -> Arc<Self> {
        Arc::new(Self { calls, ..Self::bare(room) })
    }

    fn bare(room: RoomView) -> Self {
        let room = watch::channel(Arc::new(room)).0;
        let answers = Arc::default();
        Self {
            room,
            calls: CallsView::default(),
            told: Mutex::default(),
            unready: None,
            toy: None,
            answers,
            held: Mutex::default(),
        }
    }

    fn say<T: Send + 'static>(&self, what: String, answer: Result<T, Trouble>) -> Answer<T> {
        self.told.lock().unwrap().push(what);
        Box::pin(async move { answer })
    }

    /// Lets the next entry wait: told when it has come, and it goes on when told.
    pub fn hold_entries(&self) -> Held {
        let held = Held::default();
        *self.held.lock().unwrap() = Some(held.clone());
        held
    }

    pub fn heard(&self) -> Vec<String> {
        self.told.lock().unwrap().clone()
    }
}

impl Keeper for FakeKeeper {
    fn room(&self) -> watch::Receiver<Arc<RoomView>> {
        self.room.subscribe()
    }
    fn now(&self) -> Time {
        now()
    }
    fn readings(&self) -> Vec<ReadingView> {
        let one = |probe: &str, value: f64, fresh: bool, ago: i64| {
            let probe: ProbeKey = probe.parse().unwrap();
            let quantity = probe.quantity;
            ReadingView {
                probe,
                quantity,
                time: now() - Span::seconds(ago),
                value,
                raw: value,
                unit: quantity.unit(),
                fresh,
            }
        };
        vec![
            one("V1/temperature", 26.81, true, 40),
            one("V2/temperature", 27.4, true, 41),
            one("TU1/air-flow", 1.4, true, 44),
            one("TU4/air-flow", 1.4, false, 900),
        ]
    }
    fn night(&self, date: Option<chrono::NaiveDate>) -> Answer<Review> {
        let date = date.unwrap_or_else(|| web::review::date("2026-11-24").unwrap());
        self.say(format!("night {date}"), Ok(reviews::review(date)))
    }
    fn history(&self, probe: ProbeKey, from: Time, to: Time, _: usize) -> Answer<Vec<PastReading>> {
        let one = |time, raw| PastReading { time, value: raw - 0.3, raw };
        self.say(format!("history {probe} {from} {to}"), Ok(vec![one(from, 26.5), one(to, 26.8)]))
    }
    fn clutch(&self, id: ClutchId) -> Answer<ClutchPage> {
        let found = self.room.borrow().clutches.iter().find(|c| c.id == id).cloned();
        let page = found.map(|clutch| ClutchPage {
            spawned: Some(SpawnedView {
                earliest: clutch.day0.earliest - Span::hours(3),
                likeliest: clutch.day0.earliest,
                latest: clutch.day0.earliest + Span::hours(3),
            }),
            clutch,
            learnt: vec![learnt()],
            figures: vec![Figure {
                name: "base temperature".into(),
                value: "14.2 °C".into(),
                source: "invented for the preview".into(),
                how: "computed".into(),
            }],
            shifts: vec![ShiftView {
                at: t("2026-11-25T06:00:00Z"),
                stage: Stage::Hatch,
                before: Some(t("2026-11-26T20:00:00Z")),
                after: t("2026-11-26T13:00:00Z"),
                cause: "the water was 0.9 °C over its usual from 02:10 to 06:40".into(),
            }],
            events: vec![EventView {
                entry: 2,
                withdrawable: true,
                stands: true,
                at: t("2026-11-24T18:00:00Z"),
                recorded: t("2026-11-24T19:00:00Z"),
                by: "Ada".into(),
                text: "taken into TU1: 33 alive, 0 dead".into(),
            }],
            account: account::of_clutch(),
        });
        Box::pin(async move { page.ok_or_else(|| Trouble::NotFound(format!("there is no clutch {id}"))) })
    }
    fn enter(&self, event: Box<ledger::Event>, by: String) -> Answer<()> {
        let said = self.say(format!("{} by {by}", serde_json::to_string(&event).unwrap()), Ok(()));
        let Some((come, go)) = self.held.lock().unwrap().take() else { return said };
        Box::pin(async move {
            come.notify_one();
            go.notified().await;
            said.await
        })
    }
    fn entries(&self, before: Option<u64>, most: usize) -> Answer<Vec<EventView>> {
        self.say(
            format!("entries before {before:?}, {most}"),
            Ok(vec![account::event(2, "TU1 fed: brine shrimp")]),
        )
    }
    fn alarm_log(&self, before: Option<u64>, most: usize) -> Answer<Vec<AlarmChange>> {
        let all = answers::alarm_log(before, most);
        self.say(format!("alarm log before {before:?}, {most}"), Ok(all))
    }
    fn answers(&self) -> Arc<dyn web::once::Answers> {
        self.answers.clone()
    }
    fn vessel(&self, id: VesselId) -> Answer<VesselPage> {
        let page = account::vessel(&id).ok_or_else(|| Trouble::NotFound(format!("there is no vessel {id}")));
        Box::pin(async move { page })
    }
    fn tanks(&self) -> Answer<TanksPage> {
        Box::pin(async { Ok(account::tanks()) })
    }
    fn mothers(&self) -> Answer<Vec<MotherView>> {
        Box::pin(async { Ok(vec![account::mother()]) })
    }
    fn species(&self) -> Answer<Vec<SpeciesView>> {
        let answer = Ok(species());
        Box::pin(async move { answer })
    }
    fn enter_species(&self, new: NewSpecies, by: String) -> Answer<()> {
        self.say(format!("enter species {new:?} by {by}"), Ok(()))
    }
    fn withdraw_species(&self, key: String, by: String) -> Answer<()> {
        let answer = match key.as_str() {
            "my-fish" => Ok(()),
            _ => Err(Trouble::NotFound(format!("no entry {key:?} was written on the page"))),
        };
        self.say(format!("withdraw species {key} by {by}"), answer)
    }
    /// Invented: hatch can be put from 10:00 to 22:00, and is 6 h later in any other water.
    fn what_if(&self, id: ClutchId, change: Change) -> Answer<Foreseen> {
        let hatch = OtherStage {
            stage: Stage::Hatch,
            as_is: Some(t("2026-11-26T13:00:00Z")),
            earliest: t("2026-11-26T12:00:00Z"),
            likeliest: t("2026-11-26T19:00:00Z"),
            latest: t("2026-11-27T03:00:00Z"),
        };
        let water = |celsius, from, put| {
            let warnings = vec!["the water to come lies outside the calibrated range".into()];
            let (stages, caution) = (vec![hatch.clone()], "Forcing temperature harms.".into());
            Foreseen::Water(OtherWater { celsius, from, put, stages, warnings, caution })
        };
        let range = "the tolerated range (22 to 30 °C)".to_owned();
        let (first, last) = (t("2026-11-26T10:00:00Z"), t("2026-11-26T22:00:00Z"));
        let answer = match change {
            Change::FromNow(c) | Change::Always(c) if !(0.0..=45.0).contains(&c) => {
                Err(Trouble::Refused { field: "celsius".into(), reason: format!("{c} is no temperature") })
            }
            Change::FromNow(c) => Ok(water(c, Some(now()), None)),
            Change::Always(c) => Ok(water(c, None, None)),
            Change::Put { stage, at } if (first..=last).contains(&at) => {
                Ok(water(25.333, Some(now()), Some(Put { stage, at, per_tenth: Span::minutes(65), range })))
            }
            Change::Put { stage, at: wanted } => Ok(Foreseen::OutOfReach(Reach {
                stage,
                wanted,
                earliest: (first, 30.0),
                latest: (last, 22.0),
                range,
                caution: "Forcing temperature harms.".into(),
            })),
        };
        self.say(format!("what if {id} {change:?}"), answer)
    }
    /// Invented: two parts, between them 96 minutes later.
    fn shift(&self, id: ClutchId, from: Time, to: Time) -> Answer<Moved> {
        let part = |kind: &str, (a, b), minutes, cause: &str| PartMoved {
            kind: kind.into(),
            from: t(a),
            to: t(b),
            gained: Span::minutes(minutes),
            cause: cause.into(),
        };
        let night = ("2026-11-25T20:00:00Z", "2026-11-25T22:00:00Z");
        let ahead = ("2026-11-26T01:00:00Z", "2026-11-26T13:00:00Z");
        let stage = StageMoved {
            stage: Stage::Hatch,
            before: t("2026-11-26T11:24:00Z"),
            after: t("2026-11-26T13:00:00Z"),
            gained: Span::minutes(-96),
            parts: vec![
                part("water", night, -100, "25.4 °C instead of 27.0"),
                part("water-to-come", ahead, 4, "water to come taken at 27.1 °C instead of 27.0"),
            ],
        };
        let known = self.room.borrow().clutches.iter().any(|c| c.id == id);
        let answer = match known {
            true if from > to => {
                Err(Trouble::Refused { field: "from".into(), reason: "swap the two".into() })
            }
            true => Ok(Moved { from, to, stages: vec![stage] }),
            false => Err(Trouble::NotFound(format!("there is no clutch {id}"))),
        };
        Box::pin(async move { answer })
    }
    fn vessels(&self) -> Vec<VesselId> {
        ["V1", "V2", "TU1", "TU2", "TU3", "TU4"].into_iter().map(v).collect()
    }
    fn acknowledge(&self, alarm: String, by: String) -> Answer<()> {
        let mut room = (**self.room.borrow()).clone();
        let found = room.alarms.iter_mut().find(|a| a.id == alarm).map(|a| {
            a.acknowledged = Some((by.clone(), now()));
            a.state = "acknowledged".into();
        });
        let answer = found.ok_or_else(|| Trouble::NotFound(format!("no alarm {alarm} stands")));
        self.room.send_replace(Arc::new(room));
        self.say(format!("acknowledge {alarm} by {by}"), answer)
    }
    fn calls(&self) -> Answer<CallsView> {
        let calls = self.calls.clone();
        Box::pin(async move { Ok(calls) })
    }
    fn try_call(&self, name: String, by: String) -> Answer<()> {
        self.say(format!("try {name} by {by}"), Ok(()))
    }
    fn link(&self, token: String) -> Answer<LinkView> {
        let alarm = self.room.borrow().alarms.first().cloned();
        let link = alarm.filter(|_| token == "good").map(|alarm| LinkView { person: "Ada".into(), alarm });
        Box::pin(async move { link.ok_or_else(|| Trouble::NotFound("this link is over".into())) })
    }
    fn use_link(&self, token: String) -> Answer<()> {
        self.say(format!("link {token}"), Ok(()))
    }
    fn shelve(&self, alarm: String, shelving: Shelving, by: String) -> Answer<()> {
        self.say(format!("shelve {alarm} {shelving:?} {by}"), Ok(()))
    }
    fn unshelve(&self, alarm: String, by: String) -> Answer<()> {
        self.say(format!("unshelve {alarm} {by}"), Ok(()))
    }
    fn open_clutch(&self, clutch: NewClutch, by: String) -> Answer<()> {
        let taken = self.room.borrow().clutches.iter().any(|c| c.id == clutch.id);
        let answer = if taken {
            let reason = format!("{} is already in use; choose another name", clutch.id);
            Err(Trouble::Refused { field: "id".into(), reason })
        } else {
            Ok(())
        };
        self.say(format!("open {} {} by {by}", clutch.id, clutch.day0_earliest), answer)
    }
    fn record(&self, clutch: ClutchId, what: Record, by: String) -> Answer<()> {
        let answer = match &what {
            Record::Loss { count, .. } if *count > 33 => Err(Trouble::Refused {
                field: "count".into(),
                reason: "only 33 are alive by the account".into(),
            }),
            _ => Ok(()),
        };
        self.say(format!("record {clutch} {what:?} by {by}"), answer)
    }
    fn probes(&self) -> Answer<ProbesView> {
        self.say("probes".into(), Ok(probes()))
    }
    fn calendar(&self) -> Answer<CalendarView> {
        let renewed = self.heard().iter().any(|s| s.starts_with("new address"));
        Box::pin(async move { Ok(calendar(if renewed { "n3w" } else { "c0ffee" })) })
    }
    fn new_address(&self, by: String) -> Answer<()> {
        self.say(format!("new address by {by}"), Ok(()))
    }
    fn try_entry(&self, trial: Trial) -> Answer<Vec<Tried>> {
        let said = format!("try {} on {:?}", trial.entry.topic, trial.payload);
        let tried = Tried {
            place: Some("V2/temperature".into()),
            outcome: "reading",
            value: Some(26.87),
            unit: Some("°C".into()),
            time_source: Some("arrival"),
            time: Some(now()),
            flag: None,
            reason: None,
        };
        self.say(said, Ok(vec![tried]))
    }
    fn claim(&self, entry: MapEntry, by: String) -> Answer<u64> {
        if entry.vessel.is_none() {
            let reason = "is missing; name the vessel it measures".to_owned();
            return self.say("refused".into(), Err(Trouble::Refused { field: "vessel".into(), reason }));
        }
        self.say(format!("claim {} by {by}", serde_json::to_string(&entry).unwrap()), Ok(3))
    }
    fn release(&self, claim: u64, by: String) -> Answer<()> {
        self.say(format!("release {claim} by {by}"), Ok(()))
    }
    fn compare(&self, new: NewComparison, by: String) -> Answer<()> {
        if new.reference < 20.0 {
            let reason = "a probe that is 6.8 K off is broken".to_owned();
            return self.say("refused".into(), Err(Trouble::Refused { field: "reference".into(), reason }));
        }
        let (read, since) = (new.read, new.since);
        let said =
            format!("compare {} {} {} {read:?} {since:?} by {by}", new.probe, new.reference, new.against);
        self.say(said, Ok(()))
    }
    fn withdraw_comparison(&self, number: u64, by: String) -> Answer<()> {
        self.say(format!("withdraw comparison {number} by {by}"), Ok(()))
    }
    fn simulated(&self) -> Option<Arc<dyn SimulatedRoom>> {
        self.toy.clone().map(|t| t as Arc<dyn SimulatedRoom>)
    }
    fn not_ready(&self) -> Option<String> {
        self.unready.clone()
    }
}
