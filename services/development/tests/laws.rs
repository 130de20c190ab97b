//! Laws against published ones.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

#[path = "common/rows.rs"]
mod rows;

mod common;

use development::fit::{ModelKind, Observation, fit, straight_line};
use development::{Form, Need, Species, SpeciesTable};
use rows::rows;
use units::Stage;

fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: {got} is not {want} ± {tolerance}");
}

/// Least squares of 1/D on T in plain Python (computed), from the rows of one source: T0 in °C, K in °C·d.
const LINES: [(&str, &str, &str, f64, f64); 23] = [
    ("Alosa sapidissima", "fert>hatch", "[R53]", 9.714, 42.857),
    ("Carassius carassius", "fert>hatch", "[R48]", 6.75, 57.75),
    ("Chondrostoma nasus", "fert>hatch", "[R45]", 9.369, 44.28),
    ("Clarias gariepinus", "fert>hatch", "[R55]", 13.854, 12.919),
    ("Jordanella floridae", "fert>first_feeding", "[R46]", 7.326, 109.923),
    ("Misgurnus fossilis", "fert>hatch", "[R44]", 9.585, 26.71),
    ("Oncorhynchus mykiss", "fert>hatch", "[R16]", 1.0, 278.865),
    ("Oncorhynchus mykiss", "fert>hatch_50", "[R10]", 0.949, 290.958),
    ("Oncorhynchus mykiss", "fert>hatch_50", "[R12]", -0.577, 397.065),
    ("Oncorhynchus tshawytscha", "fert>hatch", "[R17]", 0.976, 487.409),
    ("Oreochromis niloticus", "hatch>first_feeding", "[R2]", 18.0, 48.0),
    ("Phoxinus phoxinus", "fert>hatch", "[R50]", 8.658, 42.246),
    ("Polypterus senegalus", "fert>hatch", "[R52]", 17.696, 24.043),
    ("Romanogobio albipinnatus", "fert>hatch", "[R47]", 6.681, 68.887),
    ("Salmo salar", "fert>hatch", "[R22]", -0.677, 515.397),
    ("Salmo salar", "fert>yolk_absorbed", "[R22]", -1.678, 875.402),
    ("Salmo trutta", "fert>hatch", "[R16]", -1.121, 479.286),
    ("Salmo trutta", "fert>hatch_50", "[R26]", 0.038, 406.184),
    ("Salvelinus fontinalis", "fert>hatch", "[R16]", -0.976, 500.856),
    ("Salvelinus namaycush", "fert>hatch", "[R16]", -1.817, 601.428),
    ("Sander lucioperca", "fert>hatch", "[R49]", 6.641, 47.805),
    ("Squalius cephalus", "fert>hatch", "[R51]", 14.75, 19.125),
    ("Thymallus thymallus", "fert>hatch", "[R28]", 1.807, 166.985),
];

#[test]
fn lines_are_those_of_least_squares_elsewhere() {
    let all = rows();
    for (species, label, tag, t0, k) in LINES {
        let these = all.iter().filter(|r| r.species == species && r.label == label && r.tag == tag);
        let seen: Vec<Observation> = these.map(|r| r.observation).collect();
        let line = straight_line(&seen).unwrap();
        near(line.t0, t0, 1e-3, species);
        near(line.k, k, 1e-3, species);
    }
}

/// Beacham & Murray 1990, Trans. Am. Fish. Soc. 119:927-945: days of chinook from fertilisation to the heaviest alevin
/// that their model gives (read (secondary)); a model's values, so they feed no entry.
const CHINOOK: [(f64, f64); 10] = [
    (2.0, 327.0),
    (4.0, 222.0),
    (5.0, 187.0),
    (6.0, 160.0),
    (8.0, 121.0),
    (9.0, 106.0),
    (10.0, 94.0),
    (12.0, 76.0),
    (13.0, 68.0),
    (14.0, 62.0),
];

/// The coefficients (memory) give the printed days, and a fit to the printed days gives the coefficients back as far as
/// whole days allow.
#[test]
fn the_power_law_of_chinook_and_its_printed_days_agree() {
    let seen: Vec<Observation> = CHINOOK
        .iter()
        .map(|(celsius, days)| Observation { celsius: *celsius, days: *days, sd: None })
        .collect();
    let found = fit(&seen).unwrap();
    assert_eq!((found.chosen, found.left_out.len()), (ModelKind::Power, 0));
    let power = &found.power.as_ref().unwrap().law;
    near(power.b, -2.043, 0.1, "b");
    near(power.c, -7.575, 0.6, "c");
    for (celsius, days) in CHINOOK {
        let published = (10.404 - 2.043 * f64::ln(celsius + 7.575)).exp();
        near(published, days, 0.75, "published");
        near(power.days(celsius).unwrap(), days, 0.6, "fitted");
    }
}

/// Days from day 0 to a stage in water that stands at one temperature, as projected by the shipped entry.
fn days(s: &Species, stage: Stage, celsius: f64) -> f64 {
    let course = common::constant(s, celsius, 24.0);
    common::since(common::projected(s, &course, &[]).stage(stage).unwrap().likeliest) / 24.0
}

/// Along a straight slope a law is summed as its days say: numbers from a midpoint sum of 200,000 steps.
#[test]
fn power_laws_and_curves_are_summed_along_a_slope() {
    let table = SpeciesTable::shipped();
    for s in table.iter().filter(|s| s.law.form != Form::Line && s.cap.is_none() && s.upper.is_none()) {
        let band = s.calibrated.unwrap();
        let stage = s.law.choice.as_ref().unwrap().stage;
        // Two readings 20 min apart, from end to end of the range: no water does that, but a sum must.
        let mut course = development::Course::new(s, common::start());
        course.insert(common::start(), band.low);
        course.insert(common::hours(1.0 / 3.0), band.high);
        let had = course.degree_days(common::start(), common::hours(1.0 / 3.0)).likely;
        let n = 200_000;
        let at = |i: i32| band.low + (band.high - band.low) * (f64::from(i) + 0.5) / f64::from(n);
        let Need::Anchor { celsius, days } = s.requirement(stage).unwrap().need else { panic!("{}", s.key) };
        let rate = |t: f64| match &s.law.form {
            Form::Power { b, c } => (t - c).max(0.0).powf(-b),
            Form::Curve(curve) => curve.rate(t),
            Form::Line => unreachable!(),
        };
        let share = (0..n).map(|i| rate(at(i))).sum::<f64>() / f64::from(n) / rate(celsius) / days / 72.0;
        let need = s.required(stage, s.base.likely).unwrap();
        near(had / need / share, 1.0, 1e-7, &s.key);
    }
}

/// Crisp 1981, Freshwater Biol. 11:361-368 (memory): log10 D = b log10(T − α) + log a, to half hatched. He says of other
/// work that it lies within some tenth of it; so must the shipped laws, made from other observations, where both are
/// known.
#[test]
fn salmon_and_trout_hatch_near_the_equations_of_crisp() {
    let table = SpeciesTable::shipped();
    for (key, b, alpha, log_a) in [
        ("salmo-salar", -2.6562, -11.0, 5.1908),
        ("salmo-trutta", -13.9306, -80.0, 28.8392),
        ("oncorhynchus-mykiss", -2.0961, -6.0, 4.0313),
    ] {
        for celsius in [3.0, 5.0, 7.0, 9.0] {
            let crisp = 10.0_f64.powf(b * f64::log10(celsius - alpha) + log_a);
            let ours = days(table.get(key).unwrap(), Stage::Hatch, celsius);
            println!("{key} {celsius} °C: Crisp {crisp:.1} d, here {ours:.1} d");
            near(ours / crisp, 1.0, 0.15, key);
        }
    }
}
