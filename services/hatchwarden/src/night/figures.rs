//! The figures of a vessel's night, and what they usually are.

use super::air::{self, Air, Piece, Said};
use super::trace::Trace;
use crate::config::{Tuning, Vessel};
use crate::room::{Night, Stay};
use alarms::Settings;
use alarms::statistics::median;
use development::{Course, GAP_AFTER, Species};
use units::{Band, Span, Time, VesselId};
use web::review::{AirNight, Figure, Stretch, WaterNight};

/// The share of a night of which something must be known before anything is said of the whole. A planning value: what is missing of
/// eleven hours is two at most.
pub(super) const ENOUGH: f64 = 0.8;

/// Whether so much of a length is enough.
pub(super) fn enough(read: Span, of: Span) -> bool {
    read.millis() as f64 >= ENOUGH * of.millis() as f64
}

/// A night's water, and that of the nights before.
pub(super) struct Waters<'a> {
    pub(super) nights: &'a [Night],
    pub(super) points: &'a [Vec<(Time, f64)>],
}

impl Waters<'_> {
    fn traces(&self) -> impl Iterator<Item = (&Night, Trace)> {
        self.nights.iter().zip(self.points).map(|(n, points)| (n, Trace::of(points, n.dusk, n.dawn)))
    }

    /// The water of the night itself.
    pub(super) fn this(&self) -> Trace {
        let whole = self.traces().next().map(|(_, trace)| trace);
        whole.unwrap_or_else(|| Trace::of(&[], Time::from_millis(0), Time::from_millis(0)))
    }

    /// Nights before of which enough is known.
    fn usable(&self) -> Vec<Trace> {
        self.traces()
            .skip(1)
            .filter(|(n, trace)| enough(trace.read(), n.length()))
            .map(|(_, trace)| trace)
            .collect()
    }

    /// The figures of the night.
    pub(super) fn figures(&self, band: Option<Band>) -> WaterNight {
        let (trace, usable) = (self.this(), self.usable());
        let length = self.nights.first().map_or(Span::ZERO, Night::length);
        let usual = |of: &dyn Fn(&Trace) -> Option<f64>| median(usable.iter().filter_map(of));
        let figure = |of: fn(&Trace) -> Option<f64>| Figure { value: of(&trace), usual: usual(&of) };
        let outside = band.filter(|_| trace.read() > Span::ZERO).map(|b| trace.outside(b));
        let hours = |t: &Trace| band.map(|b| t.outside(b)).map(|(below, above)| (below + above).as_hours());
        WaterNight {
            read: trace.read(),
            enough: enough(trace.read(), length),
            min: figure(Trace::min),
            max: figure(Trace::max),
            mean: figure(Trace::mean),
            below: outside.map(|(below, _)| below),
            above: outside.map(|(_, above)| above),
            outside_hours: Figure { value: outside.map(|(b, a)| (b + a).as_hours()), usual: usual(&hours) },
            gaps: trace.gaps().into_iter().filter(|g| g.length() > GAP_AFTER).collect(),
            usual_nights: usable.len(),
        }
    }

    /// Degree-days (°C·d) above the likely base of an entry between two times of the night, gaps filled as the dates of a clutch fill
    /// them; usually for as long a time in the same water, by as many nights.
    pub(super) fn gained(&self, species: &Species, (from, to): (Time, Time)) -> (Figure, usize) {
        let of = |points: &[(Time, f64)], from: Time, to: Time| {
            let mut course = Course::new(species, from);
            course.extend(points.iter().copied());
            course.degree_days(from, to).likely
        };
        let read = self.this().part(from, to).read() > Span::ZERO;
        let value = self.points.first().filter(|_| read).map(|points| of(points, from, to));
        let days = (to - from).as_days();
        let before = self.nights.iter().zip(self.points).skip(1);
        let usable =
            before.filter(|(n, points)| enough(Trace::of(points, n.dusk, n.dawn).read(), n.length()));
        // Nights on which the clocks change are an hour longer or shorter: it is the pace that is compared.
        let paces: Vec<f64> =
            usable.map(|(n, points)| of(points, n.dusk, n.dawn) / n.length().as_days()).collect();
        let nights = paces.len();
        (Figure { value, usual: median(paces).map(|pace| pace * days) }, nights)
    }
}

/// A night's air, and that of the nights before.
pub(super) struct Airs<'a> {
    pub(super) vessel: &'a Vessel,
    /// Each night with where clutches were in it.
    pub(super) nights: Vec<(Night, Vec<Stay>)>,
    pub(super) said: &'a [Vec<Said>],
}

/// Minutes of stillness, and how much of the time was heard.
struct Heard {
    still: Span,
    read: Span,
    of: Span,
}

/// When there were clutches in a vessel.
pub(super) fn stays_in(vessel: &VesselId, stays: &[Stay]) -> Vec<(Time, Time)> {
    stays.iter().filter(|s| s.vessel == *vessel).map(|s| (s.from, s.to)).collect()
}

impl Airs<'_> {
    /// Least length of an interruption: what an alarm waits for.
    fn least(&self) -> Span {
        let tuning: Tuning = self.vessel.tuning;
        tuning.still(Settings::air_stopped(self.vessel.still_at)).on_delay
    }

    /// What was said of the air of the night itself.
    pub(super) fn this(&self) -> Vec<Piece> {
        self.pieces(0)
    }

    fn pieces(&self, night: usize) -> Vec<Piece> {
        let (Some((n, _)), Some(said)) = (self.nights.get(night), self.said.get(night)) else {
            return Vec::new();
        };
        air::pieces(said, n.dusk, n.dawn)
    }

    fn stays(&self, night: usize) -> Vec<(Time, Time)> {
        self.nights.get(night).map(|(_, stays)| stays_in(&self.vessel.id, stays)).unwrap_or_default()
    }

    fn heard(&self, night: usize) -> Heard {
        let (pieces, stays) = (self.pieces(night), self.stays(night));
        let Some((n, _)) = self.nights.get(night) else {
            return Heard { still: Span::ZERO, read: Span::ZERO, of: Span::ZERO };
        };
        let within = air::joined(&stays);
        let sum = |of: &dyn Fn(&Piece) -> bool| {
            let parts = pieces.iter().filter(|p| of(p)).flat_map(|p| {
                within.iter().filter_map(|(from, to)| p.cut((*from).max(n.dusk), (*to).min(n.dawn)))
            });
            parts.fold(Span::ZERO, |sum, p| sum + p.length())
        };
        let stops = air::stops(&pieces, (n.dusk, n.dawn), self.least(), &stays);
        Heard {
            still: stops.iter().fold(Span::ZERO, |sum, s| sum + s.length()),
            read: sum(&|p| p.air != Air::Unheard),
            of: within.iter().fold(Span::ZERO, |sum, (from, to)| sum + (*to - *from)),
        }
    }

    /// The figures of the night.
    pub(super) fn figures(&self) -> AirNight {
        let (pieces, stays, heard) = (self.pieces(0), self.stays(0), self.heard(0));
        let night = self
            .nights
            .first()
            .map_or((Time::from_millis(0), Time::from_millis(0)), |(n, _)| (n.dusk, n.dawn));
        let needed = !stays.is_empty();
        let any = pieces.iter().filter_map(|p| p.cut(night.0, night.1)).any(|p| p.air != Air::Unheard);
        let before: Vec<Heard> = (1..self.nights.len()).map(|n| self.heard(n)).collect();
        let usable = || before.iter().filter(|h| h.of > Span::ZERO && enough(h.read, h.of));
        let minutes = needed.then(|| heard.still.as_minutes()).filter(|_| any);
        AirNight {
            needed,
            heard: any,
            read: heard.read,
            enough: needed && enough(heard.read, heard.of),
            stops: air::stops(&pieces, night, self.least(), &stays),
            still_minutes: Figure { value: minutes, usual: median(usable().map(|h| h.still.as_minutes())) },
            gaps: worth_telling(air::gaps(&pieces, night, &stays)),
            usual_nights: usable().count(),
        }
    }
}

/// Shorter silences are not told one by one: a reading that came late. A planning value.
const TRIFLE: Span = Span::minutes(1);

fn worth_telling(gaps: Vec<Stretch>) -> Vec<Stretch> {
    gaps.into_iter().filter(|g| g.length() >= TRIFLE).collect()
}
