//! The picture of a vessel's night: the water from its lowest to its highest in slots of six minutes, its band, and beneath it the
//! stretches in which its air stood.

use super::{Review, Slot, VesselNight};
use crate::local::Local;
use crate::svg::{Drawing, num};
use maud::Markup;
use std::fmt::Write as _;
use units::{Span, Time};

const WIDTH: f64 = 362.0;
const LEFT: f64 = 34.0;
const RIGHT: f64 = 358.0;
/// Highest and lowest line of the water.
const TOP: f64 = 12.0;
const BOTTOM: f64 = 84.0;
/// Where its air is.
const AIR: f64 = 96.0;
const HEIGHT: f64 = 118.0;
/// At least so many °C from bottom to top: a thousandth more must not look like a flood.
const LEAST: f64 = 1.0;
/// Length of a slot.
const SLOT: Span = Span::minutes(6);

/// Colours of a picture that stands alone; those of the page.
pub(super) const STYLE: &str = "svg{background:#f4efe2;font-family:system-ui,'Noto Sans',sans-serif}\
    .t{font-size:12.5px;fill:#5d5a4b}.tk{font-size:13px;fill:#22241c}.hair{stroke:#cfc7b1;stroke-width:1}\
    .post{stroke:#22241c;stroke-width:2}.c0{fill:#55707c}.c1{fill:#e9a24a}.c2{fill:#8f2f14}\
    .over{stroke:#8f2f14;stroke-width:2.2}.under{stroke:#55707c;stroke-width:2.2}\
    .unread{stroke:#5d5a4b;stroke-width:1.6;stroke-dasharray:1 4;stroke-linecap:round}\
    .stroke{fill:none;stroke:#22241c;stroke-width:1.5;stroke-linecap:round}.flat{stroke:#9b1c10;stroke-width:6}\
    @media (prefers-color-scheme:dark){svg{background:#0f0d09}.t{fill:#a79c82}.tk{fill:#eadfc6}.hair{stroke:#35301f}\
    .post{stroke:#eadfc6}.c0{fill:#7f95a0}.c1{fill:#c9792a}.c2{fill:#ff8a63}.over{stroke:#ff8a63}.under{stroke:#7f95a0}\
    .unread{stroke:#a79c82}.stroke{stroke:#eadfc6}.flat{stroke:#ff9a80}}";

/// The picture as an SVG file of its own.
pub(super) fn file(r: &Review, v: &VesselNight) -> String {
    draw(r, v).file(STYLE, WIDTH, HEIGHT, &label(r, v))
}

/// The picture within a page.
pub(crate) fn inline(r: &Review, v: &VesselNight) -> Markup {
    draw(r, v).finish("wide", WIDTH, HEIGHT, Some(&label(r, v)))
}

/// What the picture shows, in words; the figures stand in the table beneath it.
pub(super) fn label(r: &Review, v: &VesselNight) -> String {
    let water = match (v.water.min.value, v.water.max.value) {
        (Some(low), Some(high)) => format!("water from {low:.1} to {high:.1} °C"),
        _ => "water not read".to_owned(),
    };
    let band = v.band.map(|b| format!(", band {:.1} to {:.1} °C", b.low, b.high)).unwrap_or_default();
    let stood = v.air.as_ref().map_or(0, |a| a.stops.len());
    let air = match stood {
        0 => String::new(),
        1 => ", air stood once".to_owned(),
        n => format!(", air stood {n} times"),
    };
    format!("{} from {}: {water}{band}{air}. The figures stand in the table below.", v.vessel, super::span(r))
}

/// Where things lie.
struct Scale {
    dusk: Time,
    hours: f64,
    low: f64,
    high: f64,
}

impl Scale {
    fn of(r: &Review, v: &VesselNight) -> Self {
        let read = |f: fn(&Slot) -> Option<f64>| v.slots.iter().filter_map(f);
        let ends = v.band.into_iter().flat_map(|b| [b.low, b.high]);
        let all: Vec<f64> = read(|s| s.low).chain(read(|s| s.high)).chain(ends).collect();
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let (low, high) = if low <= high { (low, high) } else { (20.0, 30.0) };
        let (middle, half) = ((low + high) / 2.0, (high - low).max(LEAST) * 0.55);
        let (low, high) = (middle - half, middle + half);
        Self { dusk: r.dusk, hours: r.length.as_hours().max(1.0), low, high }
    }

    fn x(&self, t: Time) -> f64 {
        LEFT + (RIGHT - LEFT) * ((t - self.dusk).as_hours() / self.hours).clamp(0.0, 1.0)
    }

    fn y(&self, celsius: f64) -> f64 {
        BOTTOM - (BOTTOM - TOP) * (celsius - self.low) / (self.high - self.low)
    }
}

fn draw(r: &Review, v: &VesselNight) -> Drawing {
    let (mut d, s) = (Drawing::default(), Scale::of(r, v));
    hours(&mut d, r, &s);
    water(&mut d, v, &s);
    if let Some(band) = v.band {
        for celsius in [band.low, band.high] {
            let y = s.y(celsius);
            d.line("post", (LEFT, y), (RIGHT, y));
            d.text("t", "start", 0.0, y + 4.5, &format!("{celsius:.1}"));
        }
    }
    if v.air.is_some() {
        air(&mut d, v, &s);
    }
    d
}

fn hours(d: &mut Drawing, r: &Review, s: &Scale) {
    let local = Local::of(&r.zone);
    let mut t = r.dusk;
    let mut n = 0;
    while t <= r.dawn && n < 30 {
        let x = s.x(t);
        d.line("hair", (x, 4.0), (x, AIR + 5.0));
        if n % 2 == 0 {
            d.text("t", "middle", x.min(RIGHT - 6.0), HEIGHT - 2.0, &local.hm(t)[..2]);
        }
        t += Span::hours(1);
        n += 1;
    }
}

/// Runs of neighbouring slots that are alike.
fn runs<K: PartialEq>(slots: &[Slot], kind: impl Fn(&Slot) -> K) -> Vec<(K, &[Slot])> {
    let mut out = Vec::new();
    for run in slots.chunk_by(|a, b| kind(a) == kind(b)) {
        out.extend(run.first().map(|first| (kind(first), run)));
    }
    out
}

/// How a slot lies to the band.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Side {
    Under,
    Inside,
    Over,
}

fn side(v: &VesselNight, slot: &Slot) -> Option<Side> {
    let (low, high) = slot.low.zip(slot.high)?;
    Some(match v.band {
        Some(b) if low < b.low => Side::Under,
        Some(b) if high > b.high => Side::Over,
        _ => Side::Inside,
    })
}

fn water(d: &mut Drawing, v: &VesselNight, s: &Scale) {
    for (side, run) in runs(&v.slots, |slot| side(v, slot)) {
        let (Some(first), Some(last)) = (run.first(), run.last()) else { continue };
        let (from, to) = (s.x(first.from), s.x(last.from + SLOT));
        let Some(side) = side else {
            d.line("unread", (from, (TOP + BOTTOM) / 2.0), (to, (TOP + BOTTOM) / 2.0));
            continue;
        };
        let class = match side {
            Side::Under => "c0",
            Side::Inside => "c1",
            Side::Over => "c2",
        };
        d.path(class, &area(run, s));
        match side {
            Side::Under => d.line("under", (from, BOTTOM + 4.0), (to, BOTTOM + 4.0)),
            Side::Over => d.line("over", (from, TOP - 5.0), (to, TOP - 5.0)),
            Side::Inside => {}
        }
    }
}

/// From the highest to the lowest of each slot, at least so thick that it can be seen.
fn area(run: &[Slot], s: &Scale) -> String {
    let mut data = String::new();
    for slot in run {
        if let (Some(low), Some(high)) = (slot.low, slot.high) {
            let (top, bottom) = (s.y(high) - 1.0, s.y(low) + 1.0);
            let (x, right) = (num(s.x(slot.from)), num(s.x(slot.from + SLOT)));
            let _ = write!(data, "M{x} {}H{right}V{}H{x}Z", num(top), num(bottom));
        }
    }
    data
}

fn air(d: &mut Drawing, v: &VesselNight, s: &Scale) {
    d.text("t", "start", 0.0, AIR + 4.5, "air");
    let mut slants = String::new();
    for (letter, run) in runs(&v.slots, |slot| slot.air) {
        let (Some(first), Some(last)) = (run.first(), run.last()) else { continue };
        let (from, to) = (s.x(first.from), s.x(last.from + SLOT));
        match letter {
            's' => d.line("flat", (from, AIR), (to, AIR)),
            't' => {
                for slot in run {
                    let _ = write!(slants, "M{} {}l1.8-7", num(s.x(slot.from)), num(AIR + 3.5));
                }
            }
            _ => d.line("unread", (from, AIR), (to, AIR)),
        }
    }
    d.path("stroke", &slants);
}
