//! The shipped entries against the published rows that they were made from.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

#[path = "common/rows.rs"]
mod rows;

use development::{Need, Species, SpeciesTable};
use rows::{Row, rows};
use units::Stage;

/// A figure of the table: species key, stage, after, °C, days, how.
type Shown = (String, Stage, Option<Stage>, f64, f64, String);

/// Every observation and every anchor of the entry.
fn shown(s: &Species) -> Vec<Shown> {
    let key = || s.key.clone();
    let mut all: Vec<Shown> = s
        .series
        .iter()
        .flat_map(|q| {
            q.observations.iter().map(move |o| (key(), q.stage, q.after, o.celsius, o.days, q.how.clone()))
        })
        .collect();
    for q in &s.requirements {
        let figure = s.figures.iter().find(|f| f.name == q.stage.word()).unwrap();
        if let Need::Anchor { celsius, days } = q.need
            && figure.how != "computed"
        {
            all.push((s.key.clone(), q.stage, q.after, celsius, days, figure.how.clone()));
        }
    }
    all
}

fn key(row: &Row) -> String {
    match row.species.as_str() {
        "Carassius auratus subsp." => "carassius-auratus-green".to_owned(),
        name => name.to_lowercase().replace(' ', "-"),
    }
}

/// Days in the table may be rounded to the third decimal.
fn is(row: &Row, f: &Shown) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() <= 5.1e-4;
    let (o, same) = (&row.observation, f.0 == key(row) && f.1 == row.stage && f.2 == row.after);
    same && near(f.3, o.celsius) && near(f.4, o.days) && f.5 == row.how
}

#[test]
fn every_published_row_stands_in_the_table_with_how_it_was_got() {
    let all: Vec<Shown> = SpeciesTable::shipped().iter().flat_map(shown).collect();
    for row in rows() {
        assert!(all.iter().any(|f| is(&row, f)), "{row:?}");
    }
}

/// What is no published row is said to be memory, common practice, a page of keepers, or planned, and stands in one
/// of these entries; or it is one of three figures of abstracts that name no temperature or are read off a law.
#[test]
fn everything_else_in_the_table_says_what_it_is() {
    let published = rows();
    let own = [
        ("astatotilapia-burtoni", "memory"),
        ("astatotilapia-burtoni", "planning value"),
        ("generic-mouthbrooder", "common practice"),
        ("labidochromis-caeruleus", "common practice"),
        ("labidochromis-caeruleus", "abstract"), // 13 d after hatch; its temperature is a planning value
        ("malawi-rock-dweller", "hobby page"),
        ("oreochromis-mossambicus", "planning value"),
        ("pseudocrenilabrus-philander", "memory"),
        ("pseudocrenilabrus-philander", "planning value"),
        ("tanganyika-mouthbrooder", "hobby page"),
        ("tanganyika-mouthbrooder", "memory"),
        ("tilapia", "planning value"),
        ("victoria-haplochromine", "hobby page"),
        ("victoria-haplochromine", "memory"),
        ("victoria-haplochromine", "planning value"),
        ("danio-rerio", "read"), // Kimmel et al.: tests/published.rs
    ];
    let table = SpeciesTable::shipped();
    for f in table.iter().flat_map(shown).filter(|f| !published.iter().any(|row| is(row, f))) {
        let ratio = f.5 == "abstract"
            && table
                .get(&f.0)
                .unwrap()
                .figures
                .iter()
                .any(|g| g.name == f.1.word() && g.value.contains(" times the way to "));
        assert!(ratio || own.contains(&(f.0.as_str(), f.5.as_str())), "{f:?}");
    }
}

/// What a keeper of a tumbler waits for has a date for every mouthbrooder, if need be a planned one. Of chambo nothing
/// read says when it swims, and its eggs are so large that no neighbour's figure will do.
#[test]
fn mouthbrooders_have_dates_for_hatch_and_free_swimming() {
    let table = SpeciesTable::shipped();
    for key in [
        "generic-mouthbrooder",
        "malawi-rock-dweller",
        "victoria-haplochromine",
        "tanganyika-mouthbrooder",
        "tilapia",
        "astatotilapia-burtoni",
        "labidochromis-caeruleus",
        "pseudocrenilabrus-philander",
        "oreochromis-niloticus",
        "oreochromis-mossambicus",
    ] {
        let entry = table.get(key).unwrap();
        for stage in [Stage::Hatch, Stage::FreeSwimming] {
            assert!(entry.requirements.iter().any(|r| r.stage == stage), "{key} has no {stage:?}");
        }
    }
}

/// Hobby pages, and figures that nothing published stands behind, feed no law.
#[test]
fn no_shipped_law_rests_on_a_page_of_keepers() {
    let table = SpeciesTable::shipped();
    let fed: Vec<_> = table.iter().flat_map(|s| &s.series).filter(|q| q.used).collect();
    assert!(fed.len() > 20);
    for q in fed {
        assert!(["read", "read (secondary)", "abstract", "memory"].contains(&q.how.as_str()), "{q:?}");
    }
    let unfed = |s: &&Species| s.figures.iter().any(|f| f.how == "hobby page") && s.law.choice.is_some();
    assert_eq!(table.iter().find(unfed), None);
}

#[test]
fn every_entry_says_where_each_figure_comes_from_and_where_it_holds() {
    let table = SpeciesTable::shipped();
    assert!(table.len() >= 45, "{}", table.len());
    for s in table.iter() {
        assert!(s.calibrated.is_some() && !s.requirements.is_empty(), "{}", s.key);
        assert!(s.figures.iter().all(|f| !f.source.is_empty() && !f.how.is_empty()), "{}", s.key);
        assert!(s.figures.iter().any(|f| f.name == "base temperature"), "{}", s.key);
        let scientific = s.name.split(" (").next().unwrap();
        assert_eq!(table.find(&s.name).unwrap().key, s.key);
        assert_eq!(table.find(&scientific.to_uppercase()).unwrap().key, s.key);
    }
    for generic in ["malawi-rock-dweller", "victoria-haplochromine", "tanganyika-mouthbrooder", "tilapia"] {
        let base = table.get(generic).unwrap().base;
        assert_eq!((base.low, base.high), (10.0, 18.0), "{generic}");
    }
}
