//! Entries made from observations: the law, the base temperature, and what may feed them.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::close;
use development::fit::{Fit, ModelKind, Observation, fit};
use development::{FEEDING, Form, Need, Species, SpeciesTable, Spread};
use units::Stage;

fn table(stages: &str) -> String {
    format!("[species.reed-fish]\nname = \"Arundo ludens (reed fish)\"\n{stages}")
}

fn series(stage: &str, what: &str, how: &str) -> String {
    format!("[[species.reed-fish.stage.{stage}.series]]\n{what}\nsource = \"a paper\"\nhow = \"{how}\"\n")
}

fn read(text: &str) -> Species {
    let table = SpeciesTable::from_toml(text).unwrap_or_else(|e| panic!("{e}\n{text}"));
    table.get("reed-fish").unwrap().clone()
}

/// The one fault of a text as `field = value: cure`.
fn said(text: &str) -> String {
    let faults = SpeciesTable::from_toml(text).unwrap_err().faults;
    let [one] = &faults[..] else { panic!("{faults:?}") };
    format!("{} = {}: {}", one.field, one.value, one.cure)
}

fn seen(pairs: &[(f64, f64)]) -> Vec<Observation> {
    pairs.iter().map(|(celsius, days)| Observation { celsius: *celsius, days: *days, sd: None }).collect()
}

fn anchor(s: &Species, stage: Stage) -> (f64, f64) {
    match s.requirement(stage).unwrap().need {
        Need::Anchor { celsius, days } => (celsius, days),
        Need::DegreeDays(k) => panic!("{k}"),
    }
}

/// Days of Atlantic salmon to hatching (Peterson et al. 1977, read (secondary)).
const SALMON: [(f64, f64); 5] = [(2.0, 155.0), (6.0, 84.0), (8.0, 64.0), (10.0, 50.0), (12.0, 38.0)];
const SALMON_DAYS: &str = "days = [[2, 155], [6, 84], [8, 64], [10, 50], [12, 38]]";

fn salmon() -> (Fit, Species) {
    let found = fit(&seen(&SALMON)).unwrap();
    (found, read(&table(&series("hatch", SALMON_DAYS, "read (secondary)"))))
}

#[test]
fn three_temperatures_and_more_choose_the_law_by_what_it_has_not_seen() {
    let (found, fish) = salmon();
    let power = &found.power.as_ref().unwrap().law;
    assert_eq!(fish.law.form, Form::Power { b: power.b, c: power.c });
    let choice = fish.law.choice.as_ref().unwrap();
    assert_eq!((choice.stage, choice.observations, choice.chosen), (Stage::Hatch, (5, 5), ModelKind::Power));
    assert_eq!(choice.percent[0], (ModelKind::Line, found.line.leave_one_out_percent));
    assert_eq!(fish.law.doubt, found.doubt(ModelKind::Power).unwrap());
    // The middle of 2 to 12 °C, and what the law says there.
    let (celsius, days) = anchor(&fish, Stage::Hatch);
    close(celsius, 7.0, 0.0);
    close(days, found.predict_best(7.0).days.unwrap(), 1e-9);
    let (band, error) = (fish.calibrated.unwrap(), found.line.law.standard_errors.as_ref().unwrap().t0);
    assert_eq!((band.low, band.high), (2.0, 12.0));
    close(fish.base.likely, found.line.law.t0, 1e-12);
    close(fish.base.low, found.line.law.t0 - error, 1e-12);
    close(fish.base.high, (found.line.law.t0 + error).min(0.5 * (found.line.law.t0 + 2.0)), 1e-12);
}

#[test]
fn the_choice_its_error_and_the_observations_are_shown() {
    let (_, fish) = salmon();
    let shown = |name: &str| {
        let f = fish.figures.iter().find(|f| f.name == name).unwrap_or_else(|| panic!("{name}"));
        (f.value.clone(), f.how.clone())
    };
    let (law, how) = shown("law");
    assert!(law.starts_with("power chosen from 5 observations of hatch at 5 temperatures"), "{law}");
    assert!(law.contains("line ") && law.contains(" %") && how == "computed", "{law}");
    let (observed, how) = shown("hatch, observed");
    assert!(observed.starts_with("155 d at 2 °C, 84 d at 6 °C") && how == "read (secondary)", "{observed}");
    assert_eq!(fish.figures[0].name, "base temperature");
    assert!(fish.figures.iter().all(|f| !f.source.is_empty() && !f.how.is_empty()));
}

/// Every other stage follows on the law: days times speed, the geometric mean over its observations.
#[test]
fn another_stage_is_moved_to_the_middle_by_the_law() {
    let (found, alone) = salmon();
    let text = table(&series("hatch", SALMON_DAYS, "read (secondary)"))
        + &series("free-swimming", "days = [[2, 238], [12, 64]]", "read (secondary)");
    let fish = read(&text);
    assert_eq!(fish.law, alone.law);
    let at = |t: f64| found.predict_best(t).days.unwrap();
    let moved = |t: f64, days: f64| days / at(t) * at(7.0);
    let (celsius, days) = anchor(&fish, Stage::FreeSwimming);
    close(celsius, 7.0, 0.0);
    close(days, (moved(2.0, 238.0) * moved(12.0, 64.0)).sqrt(), 1e-9);
    // An anchor too, since degree-days above a base are no measure on another law.
    let text = table(&series("hatch", SALMON_DAYS, "read (secondary)"))
        + "[species.reed-fish.stage.release]\nanchor = { celsius = 10, days = 90 }\nsource = 'x'\nhow = 'memory'";
    let (celsius, days) = anchor(&read(&text), Stage::Release);
    close(celsius, 7.0, 0.0);
    close(days, moved(10.0, 90.0), 1e-9);
}

/// Hobby pages, common practice, planning values and computed figures are shown and move nothing; what is read, or
/// seen by the keeper, does.
#[test]
fn what_may_not_feed_a_law_moves_nothing() {
    let (_, alone) = salmon();
    let with = |how: &str| {
        let own = series("hatch", SALMON_DAYS, "read (secondary)");
        read(&table(&(own + &series("hatch", "days = [[4, 20], [14, 19]]", how))))
    };
    for how in ["hobby page", "common practice", "planning value", "computed"] {
        let fish = with(how);
        assert_eq!((&fish.law, fish.base), (&alone.law, alone.base), "{how}");
        assert_eq!((&fish.requirements, fish.calibrated), (&alone.requirements, alone.calibrated), "{how}");
        assert!(!fish.series[1].used && fish.series[0].used);
        let shown = |f: &&development::Figure| f.how == how && f.value.ends_with("shown only");
        assert!(fish.figures.iter().any(|f| shown(&f)), "{how}");
    }
    for how in FEEDING {
        assert_ne!(with(how).requirements, alone.requirements, "{how}");
    }
}

#[test]
fn a_stage_with_nothing_that_may_feed_it_is_refused() {
    let hobby = series("hatch", "days = [[24, 8], [26, 7], [28, 6]]", "hobby page");
    let said = SpeciesTable::from_toml(&table(&hobby)).unwrap_err().faults[0].to_string();
    assert!(said.contains("stage.hatch.series = (hobby page): only what is read, "), "{said}");
    assert!(said.contains("anchor or degree_days"), "{said}");
}

/// Beside a requirement that is given, series are shown only.
#[test]
fn a_given_requirement_stands_over_observations() {
    let base =
        "base = { low = 10, likely = 14, high = 18, source = 'x', how = 'planning value' }\n".to_owned();
    let given = "[species.reed-fish.stage.hatch]\nanchor = { celsius = 26, days = 7 }\nsource = 'x'\nhow = 'hobby page'\n";
    let fish = read(&table(&(base + given + &series("hatch", "days = [[24, 8], [26, 6], [28, 4]]", "read"))));
    assert_eq!(anchor(&fish, Stage::Hatch), (26.0, 7.0));
    assert_eq!((fish.law, fish.series[0].used), (development::Law::default(), false));
}

/// Nile tilapia, hatch to first feeding: 8 d at 24 °C and 4 d at 30 °C (Rana 1990, abstract). Half a day either way:
/// (7.5, 4.5) gives 15.0 °C, (8.5, 3.5) gives 19.8 °C.
#[test]
fn two_temperatures_give_a_line_with_what_their_last_digits_hide() {
    let two = |pairs: &str| table(&series("hatch", pairs, "abstract"));
    let fish = read(&two("days = [[24, 8], [30, 4]]"));
    assert_eq!(fish.law, development::Law::default());
    for (found, wanted) in [(fish.base.low, 15.0), (fish.base.likely, 18.0), (fish.base.high, 19.8)] {
        close(found, wanted, 1e-9);
    }
    let (celsius, days) = anchor(&fish, Stage::Hatch);
    close(celsius, 27.0, 0.0);
    close(days, 48.0 / 9.0, 1e-9);
    // Hours and a decimal hide less.
    let fine = read(&two("hours = [[24, 192.0], [30, 96.0]]"));
    close(fine.base.likely, 18.0, 1e-9);
    assert!(fine.base.low > 17.9 && fine.base.high < 18.1, "{:?}", fine.base);
    // A base that is given stands.
    let base = "base = { low = 12, likely = 17, high = 18, source = 'x', how = 'read' }\n";
    let own = read(&table(&(base.to_owned() + &series("hatch", "days = [[24, 8], [30, 4]]", "abstract"))));
    close(own.base.likely, 17.0, 0.0);
    close(anchor(&own, Stage::Hatch).1, 48.0 / 9.0, 1e-9);
}

#[test]
fn one_temperature_needs_a_base() {
    let one = series("hatch", "hours = [[26, 80], [26, 84]]", "abstract");
    let told = said(&table(&one));
    assert!(told.starts_with("base = (missing): add a table with low, likely, high"), "{told}");
    let base = "base = { low = 10, likely = 14, high = 18, source = 'x', how = 'planning value' }\n";
    let fish = read(&table(&(base.to_owned() + &one)));
    let (celsius, days) = anchor(&fish, Stage::Hatch);
    close(celsius, 26.0, 0.0);
    close(days * 24.0, 82.0, 1e-9);
    assert_eq!(fish.calibrated, None);
}

/// Values that look like a fitted curve lie on a law by their making: that proves nothing.
#[test]
fn smooth_values_do_not_make_a_law_certain() {
    let smooth = "days = [[20, 12], [25, 6], [30, 4]]";
    let honest = read(&table(&series("hatch", smooth, "read")));
    close(honest.law.doubt, 0.02, 0.0);
    let fish = read(&table(&series("hatch", &format!("{smooth}\nsmooth = true"), "read")));
    close(fish.law.doubt, 0.07, 0.0);
    assert_eq!(fish.law.form, honest.law.form);
}

#[test]
fn a_ratio_is_of_another_stage() {
    let ratio = "[species.reed-fish.stage.free-swimming]\nratio = { of = 'hatch', times = 1.7 }\nsource = 'x'\nhow = 'abstract'\n";
    let fish = read(&table(&(series("hatch", SALMON_DAYS, "read") + ratio)));
    let (hatch, swim) = (anchor(&fish, Stage::Hatch), anchor(&fish, Stage::FreeSwimming));
    close(swim.1, 1.7 * hatch.1, 1e-9);
    let told = said(&table(&(series("hatch", SALMON_DAYS, "read") + &ratio.replace("hatch", "eyed"))));
    assert!(told.starts_with("stage.free-swimming.ratio.of = \"eyed\": that stage must stand"), "{told}");
    let after = ratio.replace("ratio =", "after = 'hatch'\nratio =");
    let told = said(&table(&(series("hatch", SALMON_DAYS, "read") + &after)));
    assert!(told.starts_with("stage.free-swimming.after = \"hatch\": a ratio is of whole times"), "{told}");
}

#[test]
fn spreads_have_a_source_of_their_own() {
    let spread = "[species.reed-fish.stage.hatch]\nspread = { percent = [4, 18], source = 'a paper', how = 'abstract' }\n";
    let within = "within = { percent = 20, source = 'a paper', how = 'read' }\n";
    let fish = read(&table(&(within.to_owned() + spread + &series("hatch", SALMON_DAYS, "read"))));
    assert_eq!(fish.requirement(Stage::Hatch).unwrap().spread, Spread { early: 4.0, late: 18.0 });
    assert_eq!(fish.within, Spread { early: 20.0, late: 20.0 });
    let value = |name: &str| fish.figures.iter().find(|f| f.name == name).map(|f| f.value.clone());
    assert_eq!(value("hatch, spread").unwrap(), "−4 % +18 %");
    assert_eq!(value("first and last hatched").unwrap(), "−20 % +20 %");
    assert_eq!(salmon().1.within, Spread::WITHIN);
}

#[test]
fn each_slip_in_a_series_is_named_with_its_cure() {
    for (what, wanted) in [
        (
            "days = [[2, 155], [6, 84]]\nhours = [[2, 3]]",
            "stage.hatch.series[0].days = (days and hours): give either",
        ),
        ("note = 'x'", "stage.hatch.series[0].days = (missing): give either"),
        (
            "days = [[2, 155], [6]]",
            "stage.hatch.series[0].days = [[2, 155], [6]]: write pairs [[celsius, days], …]",
        ),
        ("days = []", "stage.hatch.series[0].days = []: write pairs"),
        (
            "hours = [[2, 15500]]",
            "stage.hatch.series[0].hours = [[2, 15500]]: write pairs [[celsius, hours], …]: celsius from -10 to 45, hours from 0.24 to 9600",
        ),
        ("days = [[60, 5]]", "stage.hatch.series[0].days = [[60, 5]]: write pairs"),
        ("days = [[2, 155]]\ncolour = 3", "stage.hatch.series[0].colour = 3: unknown key"),
        ("days = [[2, 155]]\nsmooth = 'yes'", "stage.hatch.series[0].smooth = \"yes\": write true or false"),
        (
            "days = [[2, 15], [6, 18], [8, 20]]",
            "stage.hatch.series = 15.000 d at 2 °C, 18.000 d at 6 °C, 20.000 d at 8 °C: the days do not fall",
        ),
        (
            "days = [[2, 15], [6, 18]]",
            "stage.hatch.series = 15.000 d at 2 °C, 18.000 d at 6 °C: the days must fall",
        ),
        ("days = [[24, 8], [25, 7]]", "base = (missing): the two times are too near"),
    ] {
        let faults = SpeciesTable::from_toml(&table(&series("hatch", what, "read"))).unwrap_err().to_string();
        assert!(faults.contains(wanted), "{what}: wanted {wanted}\n{faults}");
    }
}

#[test]
fn the_upper_threshold_lies_above_all_else() {
    let upper = |at: f64| {
        format!(
            "upper = {{ celsius = {at}, source = 'x', how = 'read' }}\ncap = {{ celsius = 13, source = 'x', how = 'read' }}\n"
        )
    };
    let text = |at| table(&(upper(at) + &series("hatch", SALMON_DAYS, "read")));
    assert_eq!(read(&text(16.0)).upper, Some(16.0));
    assert!(said(&text(12.5)).starts_with("upper.celsius = 12.5: it must lie above the cap (13)"));
    assert!(
        said(&text(11.0))
            .starts_with("upper.celsius = 11: it must lie above the top of the calibrated range (12)")
    );
}

#[test]
fn an_entry_is_found_by_what_people_call_it() {
    let table = SpeciesTable::from_toml(&table(&series("hatch", SALMON_DAYS, "read"))).unwrap();
    for name in [
        "reed-fish",
        "Reed Fish",
        "REED_FISH",
        "arundo ludens",
        "Arundo ludens (reed fish)",
        " arundo_ludens ",
    ] {
        assert_eq!(table.find(name).unwrap().key, "reed-fish", "{name}");
    }
    let told = table.find("red fish").unwrap_err().to_string();
    assert!(
        told.contains("\"red fish\"; the nearest are reed-fish") && told.contains("[species] file"),
        "{told}"
    );
    assert!(SpeciesTable::default().find("x").unwrap_err().nearest.is_empty());
}
