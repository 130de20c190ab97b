//! A tumbler as a drawn flask: eggs spread while they turn, heaped when they lie still, outlined when
//! nothing is known.

use super::{Drawing, num};
use maud::Markup;
use units::Stage;

use crate::view::{TumblerView, Turning};

/// Centre and radius of the round part.
const CENTRE: (f64, f64) = (60.0, 72.0);
const RADIUS: f64 = 38.0;
/// Most eggs drawn in one flask.
pub(crate) const MOST_EGGS: u32 = 40;
/// Half the width of an egg.
const EGG: f64 = 4.6;

/// How many eggs are drawn, and how many each stands for.
pub(crate) fn drawn(count: u32) -> (u32, u32) {
    let each = count.div_ceil(MOST_EGGS).max(1);
    (count.div_ceil(each), each)
}

/// Places of eggs that turn: a sunflower spread over the round.
pub(crate) fn spread(n: u32) -> Vec<(f64, f64, f64)> {
    (0..n)
        .map(|i| {
            // 2.39996 rad is the golden angle.
            let (turn, out) = (f64::from(i) * 2.399_96, 31.0 * ((f64::from(i) + 0.6) / f64::from(n)).sqrt());
            (CENTRE.0 + out * turn.cos(), CENTRE.1 + out * turn.sin(), turn.to_degrees() + 90.0)
        })
        .collect()
}

/// Places of eggs that lie still: rows from the floor up, each as wide as the round is there.
pub(crate) fn heap(n: u32) -> Vec<(f64, f64, f64)> {
    let mut places = Vec::new();
    let mut y = CENTRE.1 + RADIUS - 7.0;
    while places.len() < n as usize && y > CENTRE.1 - RADIUS {
        let half = ((RADIUS - 6.0).powi(2) - (y - CENTRE.1).powi(2)).max(0.0).sqrt();
        let fit = ((half * 2.0 / 8.6).floor() as usize).max(1).min(n as usize - places.len());
        for i in 0..fit {
            places.push((CENTRE.0 + (i as f64 - (fit as f64 - 1.0) / 2.0) * 8.6, y, 0.0));
        }
        y -= 7.0;
    }
    places
}

fn young(d: &mut Drawing, class: &'static str, stage: Stage, place: (f64, f64, f64)) {
    let at = format!("transform=\"translate({} {}) rotate({})\"", num(place.0), num(place.1), num(place.2));
    d.group(&at, |d| match stage {
        Stage::Egg | Stage::Eyed => {
            d.path(class, &format!("M-{EGG} 0a{EGG} 3.9 0 1 0 9.2 0a{EGG} 3.9 0 1 0 -9.2 0Z"));
        }
        Stage::Hatch => {
            d.path("tail", "M3 0q4 -3 7 0");
            d.path(class, "M-4 0a4 3.3 0 1 0 8 0a4 3.3 0 1 0 -8 0Z");
        }
        Stage::FreeSwimming | Stage::FirstFeeding | Stage::Release => {
            d.path(class, "M-5 0q4 -4.4 8 0l3 -2.4v4.8l-3 -2.4q-4 4.4 -8 0Z");
        }
    });
}

fn contents(d: &mut Drawing, t: &TumblerView) {
    let (n, _) = drawn(if t.clutch.is_some() { t.count } else { 0 });
    let stage = t.stage.unwrap_or(Stage::Egg);
    match t.turning {
        Turning::Turning => d.group("class=\"spin\"", |d| {
            spread(n).into_iter().for_each(|p| young(d, "egg", stage, p));
        }),
        Turning::Still => heap(n).into_iter().for_each(|p| young(d, "egg", stage, p)),
        // Not known: hollow eggs, fewer strokes, and a mark that is no egg.
        Turning::Unheard | Turning::NoProbe => {
            spread(n).into_iter().for_each(|p| young(d, "hollow", stage, p));
        }
    }
}

/// Lean of the waterline in degrees: down to the right when cooling, up when warming.
pub(crate) fn lean(per_hour: Option<f64>) -> f64 {
    (per_hour.unwrap_or(0.0) * -62.0).clamp(-15.0, 15.0)
}

fn waterline(d: &mut Drawing, t: &TumblerView) {
    let off = crate::words::drifts(&t.water) || crate::words::off_band(&t.water).is_some();
    let class = match (t.water.celsius.is_some(), off) {
        (false, _) => "line lost",
        (true, true) => "line off",
        (true, false) => "line",
    };
    let turn = format!("transform=\"rotate({} 60 20)\"", num(lean(t.water.per_hour)));
    d.group(&turn, |d| d.line(class, (40.0, 20.0), (80.0, 20.0)));
}

/// The flask of one tumbler, labelled with `label`.
pub(crate) fn flask(t: &TumblerView, label: &str) -> Markup {
    let mut d = Drawing::default();
    let known = matches!(t.turning, Turning::Turning | Turning::Still);
    d.path(if known { "wet" } else { "wet unknown" }, "M44 20V37A38 38 0 1 0 76 37V20Z");
    match t.turning {
        Turning::Turning => d.path("air", "M60 6V107"),
        Turning::Still | Turning::Unheard => d.path("air cut", "M60 6V107"),
        Turning::NoProbe => {}
    }
    contents(&mut d, t);
    let glass = if known { "glass" } else { "glass unknown" };
    d.path(glass, "M44 6V37A38 38 0 1 0 76 37V6");
    waterline(&mut d, t);
    if !known {
        d.dot("askbed", CENTRE.0, CENTRE.1, 13.0);
        d.text("ask", "middle", CENTRE.0, CENTRE.1 + 7.5, "?");
    }
    d.finish("flask", 120.0, 118.0, Some(label))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn never_more_than_forty_and_none_for_none() {
        assert_eq!(drawn(0), (0, 1));
        assert_eq!(drawn(40), (40, 1));
        assert_eq!(drawn(41), (21, 2));
        for n in 0..2_000 {
            let (shown, each) = drawn(n);
            assert!(shown <= MOST_EGGS && shown * each >= n && shown * each < n + each, "{n}");
        }
    }

    #[test]
    fn every_egg_lies_inside_the_round() {
        for n in 1..=MOST_EGGS {
            assert_eq!(heap(n).len(), n as usize);
            assert_eq!(spread(n).len(), n as usize);
            for (x, y, _) in heap(n).into_iter().chain(spread(n)) {
                let out = (x - CENTRE.0).hypot(y - CENTRE.1);
                assert!(out + EGG <= RADIUS + 0.5, "{n} eggs: one at {out}");
            }
        }
    }

    #[test]
    fn a_heap_lies_low_and_a_spread_is_even() {
        let low = heap(20).iter().map(|p| p.1).sum::<f64>() / 20.0;
        let even = spread(20).iter().map(|p| p.1).sum::<f64>() / 20.0;
        assert!(low > CENTRE.1 + 12.0, "{low}");
        assert!((even - CENTRE.1).abs() < 3.0, "{even}");
    }

    #[test]
    fn the_line_leans_with_the_water_but_never_falls_over() {
        assert!(lean(Some(-0.2)) > 0.0 && lean(Some(0.2)) < 0.0);
        assert_eq!(lean(Some(-9.0)), 15.0);
        assert_eq!(lean(None), 0.0);
    }
}
