//! A law from the observations of one stage.

use super::stage::WrittenStage;
use crate::fit::{Fit, LineFit, ModelKind, Observation, fit, straight_line, temperatures};
use crate::species::{Choice, Figure, Form, Law};
use units::Stage;

/// How far a law may err that was fitted to values which look like a fitted curve themselves: a planning value, the
/// median half-range of reported spreads of hatching (see [`crate::Spread::USUAL`]).
const SMOOTH_DOUBT: f64 = 0.07;

/// Field, value and cure.
pub(super) type Said = (String, String, String);

/// What observations alone say.
pub(super) struct Made<'a> {
    pub(super) stage: Stage,
    pub(super) law: Law,
    pub(super) range: (f64, f64),
    pub(super) line: LineFit,
    /// Lowest and highest base temperature, and why.
    pub(super) bases: Result<(f64, f64), Said>,
    pub(super) why: String,
    pub(super) days: Box<dyn Fn(f64) -> Option<f64> + 'a>,
    pub(super) figures: Vec<Figure>,
}

pub(super) fn by_two<'a>(s: &WrittenStage, used: &[Observation]) -> Result<Made<'a>, Said> {
    let field = format!("stage.{}.series", s.stage);
    let cure =
        "the days must fall as it gets warmer; check the order [celsius, days], or give an anchor and a base";
    let line = straight_line(used).ok_or((field, listed(used), cure.to_owned()))?;
    let all = temperatures(used);
    Ok(Made {
        stage: s.stage,
        law: Law::default(),
        range: (all[0], all[1]),
        bases: bases_of_two(s, &all),
        why: format!(
            "line through the observations of {} at two temperatures; low and high: each half a unit of its last digit off",
            s.stage
        ),
        days: {
            let line = line.clone();
            Box::new(move |t| line.days(t))
        },
        line,
        figures: Vec::new(),
    })
}

/// Base temperatures if the days at either temperature were off by what their last digit hides.
fn bases_of_two(s: &WrittenStage, celsius: &[f64]) -> Result<(f64, f64), Said> {
    let with = |signs: [f64; 2]| {
        let off = |o: &Observation, half: f64| Observation {
            days: o.days + half * if o.celsius == celsius[0] { signs[0] } else { signs[1] },
            ..*o
        };
        let used = s.series.iter().filter(|w| w.series.used);
        let all: Vec<Observation> = used
            .flat_map(|w| w.series.observations.iter().zip(&w.half_digit).map(|(o, h)| off(o, *h)))
            .collect();
        straight_line(&all).map(|l| l.t0)
    };
    // Slower when cold and faster when warm is the steepest line.
    match (with([-1.0, 1.0]), with([1.0, -1.0])) {
        (Some(low), Some(high)) => Ok((low, high)),
        _ => Err((
            "base".to_owned(),
            "(missing)".to_owned(),
            "the two times are too near to each other for a base temperature; give a base with low, likely and high"
                .to_owned(),
        )),
    }
}

pub(super) fn by_fit<'a>(s: &WrittenStage, used: &[Observation]) -> Result<Made<'a>, Said> {
    let field = format!("stage.{}.series", s.stage);
    let found = fit(used).map_err(|e| (field, listed(used), e.to_string()))?;
    let kept = found.kept(used);
    let line = found.line.law.clone();
    let error = line.standard_errors.as_ref().map_or(0.0, |e| e.t0);
    let law = law_of(s, &found, &kept);
    let figures = figures(&law, &found);
    Ok(Made {
        stage: s.stage,
        law,
        range: found.range,
        bases: Ok((line.t0 - error, line.t0 + error)),
        why: format!("line through the observations of {}, ± one standard error", s.stage),
        days: Box::new(move |t| found.predict_best(t).days),
        line,
        figures,
    })
}

fn law_of(s: &WrittenStage, found: &Fit, kept: &[Observation]) -> Law {
    let form = match (found.chosen, &found.power) {
        (ModelKind::Power, Some(p)) => Form::Power { b: p.law.b, c: p.law.c },
        (ModelKind::Curve, _) => Form::Curve(found.curve.law.clone()),
        _ => Form::Line,
    };
    let smooth = s.series.iter().filter(|w| w.series.used).any(|w| w.series.smooth);
    let least = if smooth { SMOOTH_DOUBT } else { 0.0 };
    let errors = [
        (ModelKind::Line, found.line.leave_one_out_percent),
        (ModelKind::Power, found.power.as_ref().and_then(|p| p.leave_one_out_percent)),
        (ModelKind::Curve, found.curve.leave_one_out_percent),
    ];
    let choice = Choice {
        stage: s.stage,
        observations: (kept.len(), temperatures(kept).len()),
        chosen: found.chosen,
        percent: errors.to_vec(),
    };
    // A model that could not be tried is doubted as one that only looks good.
    let doubt = found.doubt(found.chosen).unwrap_or(SMOOTH_DOUBT).max(least);
    Law { form, doubt, choice: Some(choice) }
}

fn figures(law: &Law, found: &Fit) -> Vec<Figure> {
    let Some(choice) = &law.choice else { return Vec::new() };
    let computed = |name: &str, value: String, source: &str| Figure {
        name: name.to_owned(),
        value,
        source: source.to_owned(),
        how: "computed".to_owned(),
    };
    let tried: Vec<String> = choice
        .percent
        .iter()
        .map(|(kind, e)| format!("{} {}", kind.word(), e.map_or("fails".to_owned(), |e| format!("{e:.1} %"))))
        .collect();
    let (n, at) = choice.observations;
    let value = format!(
        "{} chosen from {n} observations of {} at {at} temperatures; mean error on what each had not seen: {}",
        choice.chosen.word(),
        choice.stage,
        tried.join(", ")
    );
    let mut all =
        vec![computed("law", value, "the observations of this entry, each predicted from the others")];
    if !found.left_out.is_empty() {
        let source = "no law makes them fit with the other observations";
        all.push(computed("left out", listed(&found.left_out), source));
    }
    all
}

fn listed(all: &[Observation]) -> String {
    all.iter().map(|o| format!("{:.3} d at {} °C", o.days, o.celsius)).collect::<Vec<_>>().join(", ")
}
