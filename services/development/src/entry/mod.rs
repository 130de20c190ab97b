//! One entry of the species table.

mod basis;
mod check;
mod made;
mod need;
mod series;
mod single;
mod stage;

use crate::parse::{Fault, Reader};
use crate::species::{Species, Spread};
use single::{band, base, celsius, spread_table};

type Faults = Vec<Fault>;

/// Coldest and warmest water that a figure may speak of, °C; a base temperature may lie below zero.
const WATER: (f64, f64) = (-10.0, 45.0);

/// Reads one entry; `None` when something that everything else needs is missing. Faults go into the list.
pub(crate) fn read(r: &Reader<'_>, faults: &mut Faults) -> Option<Species> {
    r.only(
        &["name", "mouthbrooder", "base", "calibrated", "tolerated", "cap", "upper", "within", "stage"],
        faults,
    );
    let mut figures = Vec::new();
    let name = r.text("name", faults).map(str::to_owned);
    let mouthbrooder = r.flag("mouthbrooder", faults);
    let given = base(r, &mut figures, faults);
    let stages = stage::read(r, faults);
    let mut rest = Vec::new();
    let calibrated = band(r, "calibrated", &mut rest, faults);
    let tolerated = band(r, "tolerated", &mut rest, faults);
    let cap = celsius(r, "cap", &mut rest, faults);
    let upper = celsius(r, "upper", &mut rest, faults);
    let within = spread_table(r, "within", "first and last hatched", &mut rest, faults);
    let basis = basis::of(r, &stages, given, calibrated, faults)?;
    let requirements = need::requirements(r, &stages, &basis, &mut figures, faults);
    figures.splice(0..0, basis.base_figure.clone());
    figures.extend(rest);
    figures.extend(basis.figures.clone());
    let species = Species {
        key: r.entry.to_owned(),
        name: name?,
        mouthbrooder,
        base: basis.base,
        requirements,
        calibrated: basis.calibrated,
        tolerated,
        cap,
        upper,
        law: basis.law,
        within: within.unwrap_or(Spread::WITHIN),
        series: stages.into_iter().flat_map(|s| s.series).map(|s| s.series).collect(),
        figures,
    };
    faults.extend(check::together(r, &species));
    Some(species)
}
