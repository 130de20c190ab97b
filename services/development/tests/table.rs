//! The species table refuses what it cannot vouch for, and says all of it at once.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use development::{Fault, SpeciesTable};

/// A sound entry; tests spoil it.
const SOUND: &str = r#"
[species.reed-fish]
name = "Reed fish"
base = { low = 12.0, likely = 14.0, high = 16.0, source = "a book", how = "read" }
calibrated = { low = 24, high = 28, source = "a book", how = "read" }
cap = { celsius = 31.5, source = "a guess with a reason", how = "planning value" }
[species.reed-fish.stage.hatch]
degree_days = 70.0
spread_percent = [5, 15]
source = "a book"
how = "read"
[species.reed-fish.stage.free-swimming]
after = "hatch"
anchor = { celsius = 26.0, days = 6.0 }
source = "a paper"
how = "abstract"
"#;

fn faults(text: &str) -> Vec<Fault> {
    SpeciesTable::from_toml(text).unwrap_err().faults
}

/// The one fault that a change of the sound entry makes.
fn fault(from: &str, to: &str) -> Fault {
    assert!(SOUND.contains(from), "{from}");
    let found = faults(&SOUND.replacen(from, to, 1));
    let [one] = &found[..] else { panic!("{found:?}") };
    assert_eq!(one.entry, "reed-fish");
    one.clone()
}

#[test]
fn a_sound_entry_reads_with_every_figure() {
    let table = SpeciesTable::from_toml(SOUND).unwrap();
    let fish = table.get("reed-fish").unwrap();
    let figures: Vec<(&str, &str)> =
        fish.figures.iter().map(|f| (f.name.as_str(), f.value.as_str())).collect();
    assert_eq!(
        figures,
        [
            ("base temperature", "14 °C (12 to 16 °C)"),
            ("free-swimming", "6 d at 26 °C after hatch, −10 % +12 %"),
            ("hatch", "70 °C·d from fertilisation, −5 % +15 %"),
            ("calibrated range", "24 to 28 °C"),
            ("cap", "31.5 °C"),
        ]
    );
    assert!(fish.figures.iter().all(|f| !f.source.is_empty() && !f.how.is_empty()));
    // Degree-days of a range of bases keep the days at the middle of the calibrated range: 70 / 12 d at 26 °C.
    let hatch = |t0| fish.required(units::Stage::Hatch, t0).unwrap();
    common::close(hatch(14.0), 70.0, 1e-12);
    common::close(hatch(12.0) / 14.0, 70.0 / 12.0, 1e-12);
    // Free swimming counts from hatch: 6 d of 12 °C above the base more.
    common::close(fish.required(units::Stage::FreeSwimming, 14.0).unwrap(), 142.0, 1e-12);
}

#[test]
fn each_slip_is_named_with_its_cure() {
    for (from, to, field, cure) in [
        ("name = \"Reed fish\"", "name = \" \"", "name", "write a text"),
        ("likely = 14.0", "likely = 17.0", "base.likely", "between low (12) and high (16)"),
        ("low = 12.0", "low = \"cold\"", "base.low", "number from -10 to 45"),
        ("low = 12.0", "low = nan", "base.low", "number from -10 to 45"),
        ("how = \"read\" }\ncal", "how = \"rumour\" }\ncal", "base.how", "use one of read, "),
        ("low = 24, high = 28", "low = 28, high = 24", "calibrated.high", "above low (28)"),
        ("low = 24, high = 28", "low = 15, high = 28", "calibrated.low", "above the highest base"),
        ("celsius = 31.5", "celsius = 15.5", "cap.celsius", "above the highest base"),
        ("celsius = 26.0", "celsius = 16.0", "stage.free-swimming.anchor.celsius", "above the highest base"),
        ("days = 6.0", "days = 0", "stage.free-swimming.anchor.days", "number from 0.01"),
        ("[5, 15]", "[5, 15, 25]", "stage.hatch.spread_percent", "a percentage"),
        (
            "after = \"hatch\"",
            "after = \"release\"",
            "stage.free-swimming.after",
            "comes before free-swimming",
        ),
        ("after = \"hatch\"", "after = \"eyed\"", "stage.free-swimming.after", "add [….stage.eyed]"),
        ("after = \"hatch\"\nanchor", "anchor_", "stage.free-swimming.anchor_", "unknown key"),
        ("stage.hatch]", "stage.hatched]", "stage.hatched", "unknown stage; use one of eyed, hatch"),
        ("cap = {", "cap = { slope = 1,", "cap.slope", "unknown key; known keys here are celsius"),
    ] {
        let found = faults(&SOUND.replacen(from, to, 1));
        assert!(
            found.iter().any(|f| f.field == field && f.cure.contains(cure)),
            "{from} -> {to}: wanted {field}: {cure}; found {found:?}"
        );
    }
}

#[test]
fn one_slip_makes_one_fault() {
    let f = fault("likely = 14.0", "likely = 17.0");
    assert_eq!(f.value, "17");
    let f = fault("spread_percent = [5, 15]", "spread = 5");
    assert_eq!((f.field.as_str(), f.value.as_str()), ("stage.hatch.spread", "5"));
    let f = fault("degree_days = 70.0", "degree_days = 70.0\nanchor = { celsius = 26.0, days = 6.0 }");
    assert!(f.cure.starts_with("give either degree_days or anchor"));
}

#[test]
fn degree_days_with_a_range_of_bases_need_the_calibrated_range() {
    let f = fault("calibrated = { low = 24, high = 28, source = \"a book\", how = \"read\" }\n", "");
    assert_eq!(f.field, "stage.hatch.degree_days");
}

#[test]
fn a_later_stage_cannot_need_less() {
    let f = fault(
        "after = \"hatch\"\nanchor = { celsius = 26.0, days = 6.0 }",
        "anchor = { celsius = 26.0, days = 3.0 }",
    );
    assert_eq!((f.field.as_str(), f.value.as_str()), ("stage.free-swimming", "36.0 °C·d"));
}

#[test]
fn all_faults_of_all_entries_are_told() {
    let text = "title = 'x'\n[species.Bad_Key]\nname = 7\n[species.other]\nname = 'Other'\nbase = 4";
    let error = SpeciesTable::from_toml(text).unwrap_err();
    let said = error.to_string();
    for part in
        ["title", "\"Bad_Key\"", "name = 7", "base = (missing)", "stage = (missing)", "\"other\", base = 4"]
    {
        assert!(said.contains(part), "{part}:\n{said}");
    }
    assert!(faults("[species").first().unwrap().cure.starts_with("correct the TOML"));
}

#[test]
fn entries_of_ones_own_take_the_place_of_shipped_ones() {
    let own = SOUND.replace("reed-fish", "danio-rerio");
    let table = SpeciesTable::shipped().with(SpeciesTable::from_toml(&own).unwrap());
    assert_eq!(table.len(), SpeciesTable::shipped().len());
    assert_eq!(table.get("danio-rerio").unwrap().name, "Reed fish");
    assert!(!table.is_empty() && table.get("reed-fish").is_none());
}
