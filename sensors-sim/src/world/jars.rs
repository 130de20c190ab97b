//! A loop of running water: a pump, a header tank, jars.

use crate::{JarPlan, LoopPlan};
use units::{Span, Time};

#[derive(Debug, Clone)]
pub(crate) struct JarLoop {
    pub(crate) plan: LoopPlan,
    pub(crate) tank: usize,
    pub(crate) jars: Vec<usize>,
    /// Flow of the pump when all is well, L/min.
    nominal: f64,
    /// Share of the header that is full.
    pub(crate) level: f64,
    /// Share of its flow that the pump gives, strainer included.
    pub(crate) pump: f64,
    pub(crate) watts: f64,
    pub(crate) standby: f64,
    pub(crate) missing_since: Option<Time>,
}

#[derive(Debug, Clone)]
pub(crate) struct Jar {
    pub(crate) plan: JarPlan,
    pub(crate) jar_loop: usize,
    pub(crate) flow: f64,
}

impl Jar {
    /// Flow at a level of the header, L/min.
    fn at(&self, level: f64) -> f64 {
        let over = (level - self.plan.dry_at) / (1.0 - self.plan.dry_at);
        self.plan.litres_per_minute * over.clamp(0.0, 1.0)
    }

    /// Whether the eggs in it turn: planning value, a quarter of its usual flow.
    pub(crate) fn turns(&self) -> bool {
        self.flow >= 0.25 * self.plan.litres_per_minute
    }
}

impl JarLoop {
    pub(crate) fn new(plan: &LoopPlan, number: usize, tank: usize, jars: &[Jar]) -> Self {
        let own: Vec<usize> = (0..jars.len()).filter(|i| jars[*i].jar_loop == number).collect();
        let wanted: f64 = own.iter().map(|i| jars[*i].plan.litres_per_minute).sum();
        Self {
            plan: plan.clone(),
            tank,
            jars: own,
            nominal: wanted * plan.surplus,
            level: 1.0,
            pump: 1.0,
            watts: plan.watts,
            standby: 0.0,
            missing_since: None,
        }
    }

    /// Lets a short span pass. What the pump gives too much runs over.
    pub(crate) fn settle(&mut self, span: Span, jars: &mut [Jar]) {
        let given = self.nominal * (self.pump + self.standby);
        // In pieces of a second, so that a small header follows its jars.
        let pieces = (span.as_seconds().ceil() as u32).clamp(1, 60);
        let minutes = span.as_minutes() / f64::from(pieces);
        for _ in 0..pieces {
            let taken: f64 = self.jars.iter().map(|i| jars[*i].at(self.level)).sum();
            self.level = (self.level + (given - taken) * minutes / self.plan.header_litres).clamp(0.0, 1.0);
            if self.level >= 1.0 && given >= taken {
                break;
            }
        }
        for i in &self.jars {
            jars[*i].flow = jars[*i].at(self.level);
        }
    }
}
