//! Observations that an entry rests on or shows.

use crate::fit::Observation;
use units::Stage;

/// How the observations of a series must have been got to feed a law or a requirement: out of a work, recalled from
/// one, or seen by the keeper. Hobby pages, common practice, planning values and what a model computed feed none.
pub const FEEDING: [&str; 5] = ["read", "read (secondary)", "abstract", "memory", "observed"];

/// Observations of one stage from one source.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// The stage reached.
    pub stage: Stage,
    /// The earlier stage from which the days count; `None`: from fertilisation.
    pub after: Option<Stage>,
    /// Days at temperatures, in the order in which they are written.
    pub observations: Vec<Observation>,
    /// Where they come from.
    pub source: String,
    /// How they were got.
    pub how: String,
    /// What should be known about them.
    pub note: Option<String>,
    /// They look like values of a fitted curve: they give the law, but tell nothing of its error.
    pub smooth: bool,
    /// Whether the law or the requirement rests on them: they may feed one, and the stage has no requirement that is given.
    pub used: bool,
}

impl Series {
    /// The observations as people read them; of a long series the ends.
    pub(crate) fn words(&self) -> String {
        const MANY: usize = 12;
        let from = self.after.map_or("from fertilisation".to_owned(), |a| format!("after {a}"));
        let each = |o: &Observation| format!("{} at {} °C", time(o.days), o.celsius);
        let all = &self.observations;
        let coldest = all.iter().min_by(|a, b| a.celsius.total_cmp(&b.celsius));
        let warmest = all.iter().max_by(|a, b| a.celsius.total_cmp(&b.celsius));
        let list = match (coldest, warmest) {
            (Some(cold), Some(warm)) if all.len() > MANY => {
                format!("{} observations, {} to {}", all.len(), each(cold), each(warm))
            }
            _ => all.iter().map(each).collect::<Vec<_>>().join(", "),
        };
        let note = self.note.as_ref().map_or(String::new(), |n| format!("; {n}"));
        let shown = if self.used { "" } else { "; shown only" };
        format!("{list} {from}{note}{shown}")
    }
}

/// A length of time as people read it: hours up to four days, then days.
pub(crate) fn time(days: f64) -> String {
    let to = |x: f64, n: f64| (x * n).round() / n;
    if days < 4.0 { format!("{} h", to(days * 24.0, 10.0)) } else { format!("{} d", to(days, 100.0)) }
}
