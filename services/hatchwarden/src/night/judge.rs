//! Whether a vessel's night was good, and why not. What is not known is never called good.

use units::{Band, Span, Time};
use web::review::{AirNight, AlarmRaised, Stop, Stretch, Verdict, WaterNight};

/// Longest silence of its air after which a night can still be called good. A planning value: losses of Wi-Fi up to a quarter of an
/// hour are common, and nobody is woken for them.
const LONGEST_SILENCE: Span = Span::minutes(15);

/// The verdict and its reasons.
pub(super) struct Judged {
    pub(super) verdict: Verdict,
    pub(super) remarks: Vec<String>,
}

impl Judged {
    fn say(&mut self, verdict: Verdict, why: String) {
        self.verdict = self.verdict.max(verdict);
        self.remarks.push(why);
    }
}

/// What is judged.
pub(super) struct Case<'a> {
    pub(super) band: Option<Band>,
    pub(super) water: &'a WaterNight,
    /// Whether its water is its own, or a clutch was in it: the water of an empty tumbler is told of its tank.
    pub(super) counts: bool,
    pub(super) air: Option<&'a AirNight>,
    /// Alarms of the vessel.
    pub(super) alarms: &'a [&'a AlarmRaised],
    /// Hour and minute on the room's clock.
    pub(super) clock: &'a dyn Fn(Time) -> String,
}

/// Judges a vessel's night.
pub(super) fn judge(case: &Case<'_>) -> Judged {
    let mut judged = Judged { verdict: Verdict::Good, remarks: Vec::new() };
    if case.counts {
        water(case, &mut judged);
    }
    if let Some(air) = case.air.filter(|a| a.needed) {
        moving(air, case, &mut judged);
    }
    match case.alarms {
        [] => {}
        [one] => judged.say(Verdict::NotRight, format!("An alarm was raised at {}.", (case.clock)(one.at))),
        [first, ..] => {
            let (n, at) = (case.alarms.len(), (case.clock)(first.at));
            judged.say(Verdict::NotRight, format!("{n} alarms were raised, the first at {at}."));
        }
    }
    judged
}

fn water(case: &Case<'_>, judged: &mut Judged) {
    let w = case.water;
    if w.read == Span::ZERO {
        return judged.say(Verdict::NotKnown, "Its water was not read at all.".to_owned());
    }
    if let (Some(band), Some(below), Some(above)) = (case.band, w.below, w.above) {
        for (long, word, end) in [(below, "under", band.low), (above, "over", band.high)] {
            if long > Span::ZERO {
                judged.say(Verdict::NotRight, format!("Its water was {word} {end:.1} °C for {long}."));
            }
        }
    }
    if !w.enough {
        judged.say(Verdict::NotKnown, format!("Its water was read for {} only.", w.read));
    } else if !w.gaps.is_empty() {
        judged.say(
            Verdict::NotRight,
            format!("Its water was not read for {}.", whole(w.gaps.iter().map(Stretch::length))),
        );
    }
}

fn moving(air: &AirNight, case: &Case<'_>, judged: &mut Judged) {
    if !air.heard {
        return judged
            .say(Verdict::NotKnown, "Nothing was heard that tells whether its eggs moved.".to_owned());
    }
    let stood = whole(air.stops.iter().map(Stop::length));
    match air.stops.as_slice() {
        [] => {}
        [one] => {
            judged
                .say(Verdict::NotRight, format!("Its air stood for {stood} at {}.", (case.clock)(one.from)));
        }
        all => {
            judged.say(Verdict::NotRight, format!("Its air stood {} times, for {stood} in all.", all.len()));
        }
    }
    let silent = whole(air.gaps.iter().map(Stretch::length));
    if !air.enough {
        judged.say(Verdict::NotKnown, format!("Its air was heard for {} only.", air.read));
    } else if air.gaps.iter().any(|g| g.length() > LONGEST_SILENCE) {
        judged.say(Verdict::NotRight, format!("Its air was not heard for {silent}."));
    }
}

fn whole(parts: impl Iterator<Item = Span>) -> Span {
    parts.fold(Span::ZERO, |sum, part| sum + part)
}

#[cfg(test)]
mod tests {
    use super::*;
    use web::review::Figure;

    fn at(minutes: i64) -> Time {
        Time::from_millis(0) + Span::minutes(minutes)
    }

    fn water(below: Span, enough: bool) -> WaterNight {
        let figure = Figure { value: Some(26.0), usual: None };
        WaterNight {
            read: Span::hours(11),
            enough,
            min: figure,
            max: figure,
            mean: figure,
            below: Some(below),
            above: Some(Span::ZERO),
            outside_hours: figure,
            gaps: Vec::new(),
            usual_nights: 0,
        }
    }

    fn air(silent: i64, enough: bool, heard: bool) -> AirNight {
        let gaps = vec![Stretch { from: at(0), to: at(silent) }];
        AirNight {
            needed: true,
            heard,
            read: Span::hours(1),
            enough,
            stops: Vec::new(),
            still_minutes: Figure::default(),
            gaps,
            usual_nights: 0,
        }
    }

    fn judged(water: &WaterNight, air: Option<&AirNight>, counts: bool, alarms: &[&AlarmRaised]) -> Verdict {
        let (band, clock) = (Band::new(25.0, 27.0), |t: Time| t.to_string());
        let judged = judge(&Case { band, water, counts, air, alarms, clock: &clock });
        assert_eq!(
            judged.verdict == Verdict::Good,
            judged.remarks.is_empty(),
            "whatever is not good says why"
        );
        judged.verdict
    }

    #[test]
    fn a_night_is_good_only_if_all_is_known_and_nothing_was_wrong() {
        let (good, cold, thin) =
            (water(Span::ZERO, true), water(Span::minutes(1), true), water(Span::ZERO, false));
        let alarm = AlarmRaised { id: "V1.drifting".to_owned(), at: at(5), text: "It drifts.".to_owned() };
        assert_eq!(judged(&good, None, true, &[]), Verdict::Good);
        assert_eq!(judged(&cold, None, true, &[]), Verdict::NotRight);
        assert_eq!(judged(&cold, None, false, &[]), Verdict::Good, "told of its tank");
        assert_eq!(judged(&thin, None, true, &[]), Verdict::NotKnown);
        assert_eq!(judged(&good, None, true, &[&alarm]), Verdict::NotRight);
        assert_eq!(judged(&good, Some(&air(15, true, true)), true, &[]), Verdict::Good);
        assert_eq!(judged(&good, Some(&air(16, true, true)), true, &[]), Verdict::NotRight);
        assert_eq!(judged(&good, Some(&air(16, false, true)), true, &[]), Verdict::NotKnown);
        assert_eq!(judged(&good, Some(&air(660, false, false)), true, &[]), Verdict::NotKnown);
        assert_eq!(
            judged(&cold, Some(&air(660, false, false)), true, &[]),
            Verdict::NotRight,
            "the worse one"
        );
    }
}
