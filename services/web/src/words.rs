//! The sentences of the page, made from the room.

use crate::local::Local;
use crate::view::{AlarmView, ClutchView, RoomView, TankView, TumblerView, Turning, Water, Window};
use units::{Span, Stage, Time};

/// Slower than this the water counts as steady, °C per hour (a planning value).
const STEADY: f64 = 0.2;
/// A room worked out longer ago than this is said to be old.
pub(crate) const OLD: Span = Span::minutes(2);

/// Small counts in letters, as a sentence wants them.
pub(crate) fn count(n: usize) -> String {
    const WORDS: [&str; 13] = [
        "none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
        "twelve",
    ];
    WORDS.get(n).map_or_else(|| n.to_string(), |w| (*w).to_owned())
}

/// The first letter large.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// `free swimming`
pub(crate) fn stage(stage: Stage) -> String {
    stage.word().replace('-', " ")
}

fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [start @ .., last] => format!("{} and {last}", start.join(", ")),
    }
}

/// Whether the water leaves its course.
pub(crate) fn drifts(w: &Water) -> bool {
    w.celsius.is_some() && w.per_hour.is_some_and(|k| k.abs() >= STEADY)
}

/// "too cold" or "too warm" when outside the band.
pub(crate) fn off_band(w: &Water) -> Option<&'static str> {
    let (c, b) = (w.celsius?, w.band?);
    if c < b.low {
        Some("too cold")
    } else if c > b.high {
        Some("too warm")
    } else {
        None
    }
}

/// How the water is, in one or two words; `None` when it is not heard.
pub(crate) fn water_state(w: &Water) -> Option<String> {
    w.celsius?;
    let course = match w.per_hour {
        Some(k) if k <= -STEADY => "cooling",
        Some(k) if k >= STEADY => "warming",
        Some(_) => "steady",
        None => "",
    };
    Some(match (off_band(w), course) {
        (Some(off), "" | "steady") => off.to_owned(),
        (Some(off), course) => format!("{off}, {course}"),
        (None, course) => course.to_owned(),
    })
}

/// Since when a tumbler has not been heard, from its strokes.
pub(crate) fn unheard_since(t: &TumblerView, dusk: Time) -> Option<Time> {
    let heard = t.strokes.chars().rev().position(|c| c != '.')?;
    let slots = t.strokes.chars().count() - heard;
    Some(dusk + Span::from_millis(crate::svg::strip::SLOT.millis() * slots as i64))
}

/// What the flask says about turning.
pub(crate) fn turning(t: &TumblerView, room: &RoomView, now: Time, local: &Local) -> String {
    match t.turning {
        Turning::Turning => "turning".into(),
        Turning::Still => match t.still_since {
            Some(since) => format!("still {}", now - since),
            None => "still".into(),
        },
        Turning::Unheard => match unheard_since(t, room.night.dusk) {
            Some(since) if since < now - Span::minutes(6) => {
                format!("not heard since about {}", local.hm(since))
            }
            Some(_) => "not heard just now".into(),
            None => "not heard tonight".into(),
        },
        Turning::NoProbe => "no probe of its air".into(),
    }
}

/// "27 eggs", "1 egg", "20 wrigglers"; of young in hand that nobody has counted yet, "uncounted eggs".
pub(crate) fn young(n: u32, stage: Stage) -> String {
    let many = stage.young();
    match (n, stage) {
        (0, _) => format!("uncounted {many}"),
        (1, Stage::Egg | Stage::Eyed | Stage::Hatch) => format!("1 {}", many.trim_end_matches('s')),
        _ => format!("{n} {many}"),
    }
}

/// How long a stage that nobody has recorded is waited for once its window is over.
const OVERDUE: Span = Span::days(2);

/// The stage that comes next for a clutch, hatch before free swimming, with its window: one that is likely there already is
/// waited for until it is recorded, or its window is long over.
pub(crate) fn next_stage(c: &ClutchView, now: Time) -> Option<(Stage, Window)> {
    let open = |stage, w: &Window| w.seen.is_none() && (c.stage < stage || now < w.latest + OVERDUE);
    let swims = c.free_swimming;
    let hatches = c.hatch.filter(|w| open(Stage::Hatch, w) && swims.is_none_or(|s| s.seen.is_none()));
    hatches
        .map(|w| (Stage::Hatch, w))
        .or_else(|| swims.filter(|w| open(Stage::FreeSwimming, w)).map(|w| (Stage::FreeSwimming, w)))
}

/// "hatches", "swims free".
pub(crate) fn verb(stage: Stage) -> &'static str {
    if stage == Stage::Hatch { "hatches" } else { "swims free" }
}

/// To the nearest half hour: windows are hours wide, and minutes would claim too much.
fn rounded(t: Time) -> Time {
    let half = Span::minutes(30).millis();
    Time::from_millis((t.millis() + half / 2).div_euclid(half) * half)
}

/// "today about 14:00".
pub(crate) fn about(t: Time, now: Time, local: &Local) -> String {
    let t = rounded(t);
    format!("{} about {}", local.day(t, now), local.hm(t))
}

/// Half the width of a window, the wider side, in whole hours or days: "7 h", "3 d".
pub(crate) fn give_or_take(w: &Window) -> String {
    let side = (w.likeliest - w.earliest).max(w.latest - w.likeliest);
    let hours = side.as_hours().ceil().max(1.0);
    if hours <= 72.0 { format!("{hours} h") } else { format!("{} d", (hours / 24.0).ceil()) }
}

/// What comes next for a clutch, without its name: "hatches today about 14:00, give or take 7 h".
pub(crate) fn coming(c: &ClutchView, now: Time, local: &Local) -> String {
    match next_stage(c, now) {
        Some((stage, w)) if w.latest < now => {
            let what = if stage == Stage::Hatch { "hatch" } else { "free swimming" };
            format!("{what} was due by {} {}, not recorded yet", local.day(w.latest, now), local.hm(w.latest))
        }
        Some((stage, w)) => {
            format!("{} {}, give or take {}", verb(stage), about(w.likeliest, now, local), give_or_take(&w))
        }
        None if c.stage >= Stage::FreeSwimming => "swims free".into(),
        None => "no date can be projected yet".into(),
    }
}

/// The clutches with a stage ahead, the soonest first.
pub(crate) fn upcoming(room: &RoomView) -> Vec<(&ClutchView, Stage, Window)> {
    let mut all: Vec<_> = room
        .clutches
        .iter()
        .filter_map(|c| next_stage(c, room.now).map(|(stage, w)| (c, stage, w)))
        .collect();
    all.sort_by_key(|(_, _, w)| w.likeliest);
    all
}

/// One part of the first sentence; `strong` parts need a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Part {
    /// Underlined.
    pub strong: String,
    /// Plain, after it.
    pub plain: String,
}

fn plain(text: impl Into<String>) -> Part {
    Part { strong: String::new(), plain: text.into() }
}

fn standing(alarms: &[AlarmView]) -> Vec<&AlarmView> {
    alarms.iter().filter(|a| a.standing).collect()
}

fn alarm_parts(alarms: &[&AlarmView], now: Time, local: &Local) -> Vec<Part> {
    let mut parts: Vec<Part> = alarms
        .iter()
        .take(2)
        .map(|a| Part {
            strong: capital(a.subject.trim_end_matches('.')),
            plain: format!(" since {}.", local.since(a.since, now)),
        })
        .collect();
    match alarms.len().saturating_sub(2) {
        0 => {}
        1 => parts.push(plain("One more alarm stands below.")),
        n => parts.push(plain(format!("{} more alarms stand below.", capital(&count(n))))),
    }
    parts
}

fn names(tumblers: &[&TumblerView]) -> Vec<String> {
    tumblers.iter().map(|t| t.vessel.to_string()).collect()
}

/// Whether the tumblers that hold a clutch turn. What is not known is named, never left out.
fn turning_parts(tumblers: &[TumblerView]) -> Vec<Part> {
    let held: Vec<&TumblerView> = tumblers.iter().filter(|t| t.clutch.is_some()).collect();
    let of =
        |kind: Turning| -> Vec<&TumblerView> { held.iter().copied().filter(|t| t.turning == kind).collect() };
    let turn = of(Turning::Turning).len();
    let mut parts = vec![match (turn, held.len()) {
        (_, 0) => plain("No tumbler holds a clutch."),
        (1, 1) => plain("The one tumbler in use turns."),
        (2, 2) => plain("Both turn."),
        (a, b) if a == b && b < tumblers.len() => plain(format!("All {} in use turn.", count(b))),
        (a, b) if a == b => plain(format!("All {} turn.", count(b))),
        (0, _) => plain("No tumbler is known to turn."),
        (a, b) => plain(format!("{} of {} turn.", capital(&count(a)), count(b))),
    }];
    for (kind, one, many) in [
        (Turning::Still, " lies still.", " lie still."),
        (Turning::Unheard, " is not heard.", " are not heard."),
        (Turning::NoProbe, " has no probe of its air.", " have no probe of their air."),
    ] {
        let who = of(kind);
        if !who.is_empty() {
            let words = if who.len() == 1 { one } else { many };
            parts.push(Part { strong: listed(&names(&who)), plain: words.into() });
        }
    }
    parts
}

fn water_parts(tanks: &[TankView]) -> Vec<Part> {
    let odd: Vec<Part> = tanks
        .iter()
        .filter_map(|t| match water_state(&t.water) {
            // A tank that never had a probe, and no young, is none to speak of first.
            None if t.water.at.is_none() && t.clutches.is_empty() => None,
            None => Some(Part { strong: t.vessel.to_string(), plain: "'s temperature is not heard.".into() }),
            Some(state) if drifts(&t.water) || off_band(&t.water).is_some() => {
                Some(Part { strong: format!("{} is {state}", t.vessel), plain: ".".into() })
            }
            Some(_) => None,
        })
        .collect();
    match (odd.is_empty(), tanks.is_empty()) {
        (true, true) => vec![],
        (true, false) if tanks.iter().any(|t| t.water.per_hour.is_some()) => vec![plain("Water steady.")],
        (true, false) => vec![plain("Water heard, its course not known yet.")],
        (false, _) => odd,
    }
}

/// The first sentence of the page.
pub(crate) fn say(room: &RoomView, now: Time, local: &Local) -> Vec<Part> {
    let alarms = standing(&room.alarms);
    if !alarms.is_empty() {
        return alarm_parts(&alarms, now, local);
    }
    if room.heard.probes == 0 {
        return vec![Part { strong: "No probe has been heard yet".into(), plain: ".".into() }];
    }
    let mut parts = turning_parts(&room.tumblers);
    parts.extend(water_parts(&room.tanks));
    if let Some((c, stage, w)) = upcoming(room).first() {
        parts.push(plain(if w.latest < now {
            format!("{}: {}.", c.id, coming(c, now, local))
        } else {
            format!(
                "{} {} {}.",
                c.id,
                verb(*stage),
                about(w.likeliest, now, local).replacen(" about", ", about", 1)
            )
        }));
    }
    parts
}

/// The second line: the next stage of all, or the one after it when the sentence has said the first.
pub(crate) fn next_line(room: &RoomView, now: Time, local: &Local) -> Option<String> {
    let alarm = room.alarms.iter().any(|a| a.standing) || room.heard.probes == 0;
    let all = upcoming(room);
    let (c, stage, w) = all.get(usize::from(!alarm))?;
    if w.latest < now {
        return Some(format!("{}: {}.", c.id, coming(c, now, local)));
    }
    let when = format!("{} ± {}", about(w.likeliest, now, local), give_or_take(w));
    Some(match (alarm, *stage) {
        (true, Stage::Hatch) => format!("Next hatch: {}, {when}.", c.id),
        (true, _) => format!("Next to swim free: {}, {when}.", c.id),
        (false, stage) => format!("Then {} {} {when}.", c.id, verb(stage)),
    })
}

/// Who has been heard, for the corner.
pub(crate) fn heard(room: &RoomView, now: Time) -> String {
    let ago = room.heard.newest.map(|t| format!("newest {} ago", (now - t).max_zero()));
    let who = match (room.heard.probes, room.heard.silent.len()) {
        (0, _) => return "no probe heard yet".into(),
        (_, 0) => "all probes heard".to_owned(),
        (_, 1) => format!("{} silent", room.heard.silent[0]),
        (all, n) => format!("{n} of {all} probes silent"),
    };
    ago.map_or(who.clone(), |a| format!("{who}, {a}"))
}

/// A span that is never negative: a device's clock may be a little ahead.
trait MaxZero {
    fn max_zero(self) -> Span;
}
impl MaxZero for Span {
    fn max_zero(self) -> Span {
        self.max(Span::ZERO)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn water(celsius: Option<f64>, per_hour: Option<f64>) -> Water {
        Water { celsius, at: None, per_hour, band: units::Band::new(26.0, 28.0) }
    }

    #[test]
    fn water_is_said_and_never_guessed() {
        assert_eq!(water_state(&water(Some(27.0), Some(0.02))).unwrap(), "steady");
        assert_eq!(water_state(&water(Some(25.0), Some(-0.2))).unwrap(), "too cold, cooling");
        assert_eq!(water_state(&water(Some(28.5), Some(0.0))).unwrap(), "too warm");
        assert_eq!(water_state(&water(Some(27.0), Some(0.3))).unwrap(), "warming");
        assert_eq!(water_state(&water(Some(27.0), None)).unwrap(), "");
        assert_eq!(water_state(&water(None, Some(0.0))), None);
    }

    #[test]
    fn counts_and_spans_read_as_people_say_them() {
        assert_eq!(count(6), "six");
        assert_eq!(count(40), "40");
        assert_eq!(young(1, Stage::Egg), "1 egg");
        assert_eq!(young(27, Stage::Eyed), "27 eyed eggs");
        assert_eq!(young(1, Stage::FreeSwimming), "1 fry");
        assert_eq!(young(0, Stage::Egg), "uncounted eggs");
        let t = Time::from_millis(0);
        let w = |side: i64| Window {
            earliest: t,
            likeliest: t + Span::minutes(side),
            latest: t + Span::minutes(side * 2),
            required: 1.0,
            so_far: 0.0,
            seen: None,
            first: None,
            last: None,
        };
        assert_eq!(give_or_take(&w(10)), "1 h");
        assert_eq!(give_or_take(&w(6 * 60 + 1)), "7 h");
        assert_eq!(give_or_take(&w(80 * 60)), "4 d");
    }

    #[test]
    fn about_is_the_nearest_half_hour_even_over_midnight() {
        let at = |s: &str| Time::parse_rfc3339(s).unwrap();
        let (now, utc) = (at("2026-11-25T10:00:00Z"), Local::of("UTC"));
        assert_eq!(about(at("2026-11-25T14:14:00Z"), now, &utc), "today about 14:00");
        assert_eq!(about(at("2026-11-25T14:16:00Z"), now, &utc), "today about 14:30");
        assert_eq!(about(at("2026-11-25T23:50:00Z"), now, &utc), "tomorrow about 00:00");
    }
}
