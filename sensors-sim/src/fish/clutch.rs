//! One clutch through its life.

use super::law::Law;
use super::lives::Around;
use crate::ClutchPlan;
use crate::chance::Chance;
use crate::scenario::Deaths;
use crate::truth::Share;
use crate::world::Spot;
use units::{Span, Stage, Time};

/// A minute in days and hours.
const MINUTE_D: f64 = 1.0 / 1440.0;
const MINUTE_H: f64 = 1.0 / 60.0;

#[derive(Debug, Clone)]
pub(crate) struct Clutch {
    pub(crate) plan: ClutchPlan,
    pub(crate) law: Law,
    pub(crate) place: Spot,
    pub(crate) laid: Time,
    /// In times to hatch.
    pub(crate) progress: f64,
    /// How much slower than the mean each egg is, as a share, in order.
    slower: Vec<f64>,
    /// What each can stand before it dies, in order.
    fates: Vec<f64>,
    suffered: f64,
    /// How many fates have come true.
    fallen: usize,
    /// Dead and gone by events.
    dead: u32,
    left: u32,
    still_since: Option<Time>,
    told: Vec<(Stage, Share)>,
    /// Whether the truth has told that it is there.
    pub(crate) introduced: bool,
}

/// Something that a minute brought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Step {
    Reached(Stage, Share),
    Died { count: u32, why: &'static str },
    Still,
    Turning,
}

impl Clutch {
    /// Draws a clutch. `water` is the temperature of its place since it was laid, °C.
    pub(crate) fn new(plan: &ClutchPlan, place: Spot, seed: u64, start: Time, water: f64) -> Self {
        let mut chance = Chance::named(seed, "clutch", &plan.name);
        let law = Law::draw(&plan.law, &mut chance);
        let mut slower: Vec<f64> = (0..plan.eggs).map(|_| plan.law.within * chance.normal()).collect();
        let mut fates: Vec<f64> = (0..plan.eggs).map(|_| chance.exponential()).collect();
        slower.sort_by(f64::total_cmp);
        fates.sort_by(f64::total_cmp);
        let laid = plan.laid.after(start);
        let before = (start - laid).as_days().max(0.0);
        let mut clutch = Self {
            progress: before * law.per_day(water),
            law,
            place,
            laid,
            slower,
            fates,
            suffered: 0.0,
            fallen: 0,
            dead: 0,
            left: 0,
            still_since: None,
            told: Vec::new(),
            introduced: false,
            plan: plan.clone(),
        };
        // What came before the start is nobody's news.
        clutch.stages(&mut Vec::new());
        clutch
    }

    /// How many live.
    pub(crate) fn alive(&self) -> u32 {
        self.plan.eggs.saturating_sub(self.dead + self.left)
    }

    /// The stage that half of them have reached.
    pub(crate) fn stage(&self) -> Stage {
        match self.progress {
            p if p >= self.plan.law.swims_at => Stage::FreeSwimming,
            p if p >= 1.0 => Stage::Hatch,
            p if p >= self.plan.law.eyes_at => Stage::Eyed,
            _ => Stage::Egg,
        }
    }

    /// Oxygen that all of them take, mg/h. Published: hatchlings of tilapia take 90 µmol a gram and hour at 30 °C
    /// (abstract); for eggs no figure was found: a tenth and a third of it are planning values. Q10 of 2.
    pub(crate) fn breath(&self, celsius: f64) -> f64 {
        let share = match self.stage() {
            Stage::Egg => 0.1,
            Stage::Eyed => 0.33,
            _ => 1.0,
        };
        let grams = f64::from(self.alive()) * self.plan.milligrams / 1000.0;
        let micromol = 90.0 * share * libm::pow(2.0, (celsius - 30.0) / 10.0);
        grams * micromol * 0.032
    }

    /// Some die or leave by an event. Returns how many there really were.
    pub(crate) fn lose(&mut self, count: u32, alive: bool) -> u32 {
        let count = count.min(self.alive());
        *(if alive { &mut self.left } else { &mut self.dead }) += count;
        self.drop_fates(count as usize);
        count
    }

    /// Takes as many of the fates still open away, evenly, so that nobody who is gone dies later.
    fn drop_fates(&mut self, count: usize) {
        let open = self.fates.split_off(self.fallen);
        let n = open.len().max(1);
        let stays = |i: usize| i * count / n == (i + 1) * count / n;
        self.fates.extend(open.into_iter().enumerate().filter(|(i, _)| stays(*i)).map(|(_, f)| f));
    }

    /// Lets a minute pass.
    pub(crate) fn minute(&mut self, at: Time, water: (f64, f64), turns: bool, deaths: &Deaths) -> Vec<Step> {
        let mut news = Vec::new();
        if at < self.laid || self.alive() == 0 {
            return news;
        }
        let (celsius, oxygen) = water;
        self.progress += MINUTE_D * self.law.per_day(celsius);
        self.stages(&mut news);
        self.moves(at, turns, &mut news);
        if self.plan.deaths_drawn {
            let still = self.still_since.map_or(Span::ZERO, |since| at - since);
            self.die(&Around { celsius, oxygen, still }, deaths, &mut news);
        }
        news
    }

    fn stages(&mut self, news: &mut Vec<Step>) {
        let law = &self.plan.law;
        let marks = [(Stage::Eyed, law.eyes_at), (Stage::Hatch, 1.0), (Stage::FreeSwimming, law.swims_at)];
        for (stage, at) in marks {
            let ready = self.slower.partition_point(|s| at * (1.0 + s) <= self.progress);
            let n = self.slower.len();
            for (share, needs) in [(Share::First, 1), (Share::Half, n.div_ceil(2)), (Share::Last, n)] {
                if ready >= needs && !self.told.contains(&(stage, share)) {
                    self.told.push((stage, share));
                    news.push(Step::Reached(stage, share));
                }
            }
        }
    }

    fn moves(&mut self, at: Time, turns: bool, news: &mut Vec<Step>) {
        match (turns, self.still_since) {
            (true, Some(_)) => {
                self.still_since = None;
                news.push(Step::Turning);
            }
            (false, None) => {
                self.still_since = Some(at);
                news.push(Step::Still);
            }
            _ => {}
        }
    }

    fn die(&mut self, around: &Around, deaths: &Deaths, news: &mut Vec<Step>) {
        let (hazard, why) = deaths.hazard(self.stage(), around);
        self.suffered += hazard * MINUTE_H;
        let fallen = self.fates.partition_point(|f| *f <= self.suffered);
        let count = u32::try_from(fallen - self.fallen).unwrap_or(u32::MAX);
        self.fallen = fallen;
        self.dead += count;
        if count > 0 {
            news.push(Step::Died { count, why });
        }
    }
}
