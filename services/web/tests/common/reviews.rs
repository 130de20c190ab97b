//! An invented night: one tank that was too cold, one tumbler whose air stood, one that nobody has heard.

use chrono::NaiveDate;
use units::*;
use web::review::*;

fn figure(value: f64, usual: f64) -> Figure {
    Figure { value: Some(value), usual: Some(usual) }
}

fn water(below: Span) -> WaterNight {
    WaterNight {
        read: Span::hours(11),
        enough: true,
        min: figure(25.25, 26.6),
        max: figure(26.9, 27.0),
        mean: figure(26.5, 26.8),
        below: Some(below),
        above: Some(Span::ZERO),
        outside_hours: figure(below.as_hours(), 0.0),
        gaps: Vec::new(),
        usual_nights: 14,
    }
}

fn slots(dusk: Time, cold: bool, air: bool) -> Vec<Slot> {
    let slot = |n: i64| {
        let dip = if cold && (40..60).contains(&n) { 0.09 * (10 - (n - 50).abs()) as f64 } else { 0.0 };
        let read = !(80..86).contains(&n);
        let letter = if !air {
            '.'
        } else if (62..69).contains(&n) {
            's'
        } else {
            't'
        };
        let from = dusk + Span::minutes(6 * n);
        Slot { from, low: read.then_some(26.3 - dip), high: read.then_some(26.45 - dip), air: letter }
    };
    (0..110).map(slot).collect()
}

fn vessel(name: &str, kind: VesselKind, dusk: Time, verdict: Verdict, remark: &str) -> VesselNight {
    let cold = kind == VesselKind::Tank;
    VesselNight {
        vessel: name.parse().unwrap(),
        kind,
        water_of: "V1".parse().unwrap(),
        band: Band::new(25.5, 28.5),
        verdict,
        remarks: vec![remark.to_owned()],
        water: water(if cold { Span::minutes(78) } else { Span::ZERO }),
        air: None,
        clutches: Vec::new(),
        refusals: Vec::new(),
        slots: slots(dusk, cold, !cold),
    }
}

fn air(stops: Vec<Stop>, heard: bool) -> AirNight {
    let read = if heard { Span::hours(11) } else { Span::ZERO };
    let still_minutes = Figure { value: heard.then_some(40.0), usual: Some(0.0) };
    AirNight {
        needed: true,
        heard,
        read,
        enough: heard,
        stops,
        still_minutes,
        gaps: Vec::new(),
        usual_nights: 14,
    }
}

fn c11(dusk: Time, dawn: Time) -> ClutchNight {
    let before = dawn + Span::hours(60);
    ClutchNight {
        clutch: "C11".parse().unwrap(),
        fish: "Astatotilapia burtoni".to_owned(),
        from: dusk,
        to: dawn,
        base: Some(14.2),
        gained: figure(5.64, 5.78),
        usual_nights: 14,
        shifts: vec![StageShift {
            stage: Stage::FreeSwimming,
            before,
            after: before + Span::minutes(32),
            later: Span::minutes(32),
            causes: vec!["25.4 °C instead of 26.8".to_owned()],
        }],
        no_shift: None,
    }
}

/// The night of that evening in Berlin.
pub fn review(date: NaiveDate) -> Review {
    let dusk = super::t(&format!("{date}T19:00:00Z"));
    let dawn = dusk + Span::hours(11);
    let from = dusk + Span::minutes(377);
    let stop = Stop { from, to: from + Span::minutes(40), before: false, after: false, unheard_after: false };
    let mut tumbler =
        vessel("TU2", VesselKind::Tumbler, dusk, Verdict::NotRight, "Its air stood for 40 min at 02:17.");
    (tumbler.air, tumbler.clutches) = (Some(air(vec![stop], true)), vec![c11(dusk, dawn)]);
    let why = "Nothing was heard that tells whether its eggs moved.";
    let mut unheard = vessel("TU3", VesselKind::Tumbler, dusk, Verdict::NotKnown, why);
    unheard.air = Some(air(Vec::new(), false));
    unheard.slots = slots(dusk, false, false);
    Review {
        room: "undercroft".to_owned(),
        zone: "Europe/Berlin".to_owned(),
        date,
        dusk,
        dawn,
        length: dawn - dusk,
        verdict: Verdict::NotRight,
        compared_with: 14,
        vessels: vec![
            vessel(
                "V1",
                VesselKind::Tank,
                dusk,
                Verdict::NotRight,
                "Its water was under 25.5 °C for 1 h 18 min.",
            ),
            tumbler,
            unheard,
        ],
        alarms: vec![AlarmRaised {
            id: "TU2.air-stopped".to_owned(),
            at: from,
            text: "TU2 lies still since 02:17. <b>Air</b> flow 0.00 L/min.".to_owned(),
        }],
        refusals: vec![Refused {
            place: "cellar/x".to_owned(),
            reason: "unmapped-topic".to_owned(),
            count: 3,
        }],
        more_refusals: false,
    }
}
