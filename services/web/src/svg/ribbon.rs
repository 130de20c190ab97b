//! The development ribbon of one clutch: thickness = speed of development, lenses for the windows, dots for
//! where earlier nights had put the next stage.

use super::calendar::{Calendar, WIDTH};
use super::{Drawing, num};
use crate::view::{ClutchView, Piece, Window};
use maud::Markup;
use std::fmt::Write as _;
use units::{Band, Span, Time};

const MID: f64 = 30.0;
/// Half the thickness at the greatest speed shown.
const THICKEST: f64 = 19.0;
/// Footprints drawn at most, the newest.
const DOTS: usize = 5;

/// Half the thickness of the ribbon for a speed, given the greatest speed of all ribbons.
pub(crate) fn half(speed: f64, fastest: f64) -> f64 {
    if fastest > 0.0 { THICKEST * (speed / fastest).clamp(0.0, 1.0) } else { 0.0 }
}

/// The greatest speed of all clutches, so that their ribbons are comparable.
pub(crate) fn fastest(clutches: &[ClutchView]) -> f64 {
    clutches.iter().flat_map(|c| &c.course).map(|p| p.speed).fold(0.0, f64::max)
}

/// How the ribbon of one clutch is drawn.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    /// The shared calendar.
    pub calendar: Calendar,
    /// The greatest speed of all ribbons.
    pub fastest: f64,
    /// The band of the vessel the clutch lives in.
    pub band: Option<Band>,
}

fn shade(piece: &Piece, band: Option<Band>) -> &'static str {
    match (piece.celsius, band) {
        (Some(c), Some(b)) if c < b.low => "c0",
        (Some(c), Some(b)) if c > b.high => "c2",
        _ => "c1",
    }
}

fn pieces(d: &mut Drawing, c: &ClutchView, s: &Scale) {
    let (from, now) = (s.calendar.ends().0, s.calendar.now());
    let mut edge = String::new();
    for p in c.course.iter().filter(|p| p.to > from && p.from < now) {
        let (x, right) = (s.calendar.x(p.from), s.calendar.x(p.to.min(now)));
        if p.celsius.is_none() {
            d.line("unread", (x, MID), (right, MID));
            continue;
        }
        let h = half(p.speed, s.fastest).max(1.5);
        let class = shade(p, s.band);
        d.rect(class, x, MID - h, right - x - 0.5, 2.0 * h);
        let _ = write!(edge, "M{0} {1}H{2}M{0} {3}H{2}", num(x), num(MID - h), num(right), num(MID + h));
        match class {
            "c2" => d.line("over", (x, MID - h - 3.0), (right, MID - h - 3.0)),
            "c0" => d.line("under", (x, MID + h + 3.0), (right, MID + h + 3.0)),
            _ => {}
        }
    }
    d.path("edge", &edge);
    let x = s.calendar.x(c.day0.middle().max(from));
    d.line("edge", (x, MID - 21.0), (x, MID + 21.0));
}

fn lens(d: &mut Drawing, class: &'static str, w: &Window, s: &Scale, deep: f64) {
    let mid = s.calendar.x(w.likeliest);
    // Narrow windows stay visible.
    let left = s.calendar.x(w.earliest).min(mid - 4.0);
    let right = s.calendar.x(w.latest).max(mid + 4.0);
    let (l, m, r) = (num(left), num(mid), num(right));
    let (up, down) = (num(MID - deep), num(MID + deep));
    d.path(class, &format!("M{l} {MID}Q{m} {up} {r} {MID}Q{m} {down} {l} {MID}Z"));
}

/// A word beside a lens, on the side that has room.
fn beside(d: &mut Drawing, class: &'static str, w: &Window, s: &Scale, words: &str) {
    let right = s.calendar.x(w.latest).max(s.calendar.x(w.likeliest) + 4.0) + 4.0;
    if right + 7.0 * words.len() as f64 <= WIDTH {
        d.text(class, "start", right, MID + 4.5, words);
    } else {
        d.text(class, "end", WIDTH - 1.0, MID + 29.0, words);
    }
}

fn ahead(d: &mut Drawing, c: &ClutchView, s: &Scale) {
    let end = c.free_swimming.or(c.hatch).map(|w| w.likeliest);
    let speed = c.course.iter().rev().find(|p| p.celsius.is_some()).map(|p| p.speed);
    let (Some(end), Some(speed)) = (end, speed) else { return };
    let (a, b) = (s.calendar.x(s.calendar.now()), s.calendar.x(end));
    if b > a {
        let h = half(speed, s.fastest).max(1.5);
        d.line("ahead", (a, MID - h), (b, MID - h));
        d.line("ahead", (a, MID + h), (b, MID + h));
    }
}

fn seen(d: &mut Drawing, at: Time, s: &Scale) {
    let x = num(s.calendar.x(at));
    d.path("seen", &format!("M{x} {}l5 7l-5 7l-5 -7Z", num(MID - 7.0)));
}

fn footprints(d: &mut Drawing, c: &ClutchView, next: &Window, s: &Scale) {
    let mut thread = format!("M{} {}", num(s.calendar.x(next.likeliest)), num(MID + 4.0));
    let mut dots = Vec::new();
    for (i, (_, put)) in c.footprints.iter().rev().take(DOTS).enumerate() {
        let (x, y) = (s.calendar.x(*put), MID + 26.0 + i as f64 * 6.0);
        let _ = write!(thread, "L{} {}", num(x), num(y));
        dots.push((x, y, 2.7 - 0.25 * i as f64));
    }
    d.path("thread", &thread);
    for (x, y, r) in dots {
        d.dot("step", x, y, r);
    }
}

/// The ribbon, labelled with `label`.
pub(crate) fn ribbon(c: &ClutchView, s: &Scale, label: &str) -> Markup {
    let mut d = Drawing::default();
    pieces(&mut d, c, s);
    ahead(&mut d, c, s);
    if let Some(w) = c.free_swimming {
        match w.seen {
            Some(at) => seen(&mut d, at, s),
            None => {
                lens(&mut d, "lens2", &w, s, 22.0);
                beside(&mut d, "t", &w, s, "swims");
            }
        }
    }
    if let Some(w) = c.hatch {
        match w.seen {
            Some(at) => seen(&mut d, at, s),
            None => {
                lens(&mut d, "lens", &w, s, 34.0);
                beside(&mut d, "t tnow", &w, s, "hatch");
            }
        }
    }
    let mut height = 62.0;
    if let Some((_, next)) = crate::words::next_stage(c, s.calendar.now()) {
        d.dot("core", s.calendar.x(next.likeliest), MID, 4.0);
        footprints(&mut d, c, &next, s);
        height += 6.0 * c.footprints.len().min(DOTS).saturating_sub(1) as f64;
    }
    let x = s.calendar.x(s.calendar.now() + Span::ZERO);
    d.line("now", (x, 2.0), (x, height - 4.0));
    d.finish("wide", WIDTH, height, Some(label))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faster_is_never_thinner_and_the_fastest_is_thickest() {
        let h: Vec<f64> = (0..=200).map(|i| half(f64::from(i) / 10.0, 15.0)).collect();
        assert!(h.windows(2).all(|w| w[0] <= w[1]));
        assert!(h[40] < h[80]);
        assert_eq!(half(15.0, 15.0), THICKEST);
        assert_eq!(half(3.0, 0.0), 0.0);
    }
}
