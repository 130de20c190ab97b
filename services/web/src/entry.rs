//! What a form sent, read into the keeper's terms. Every fault names the field and the cure.

use crate::access::who;
use crate::keeper::{NewClutch, NewComparison, PlainSpecies, PlainStage, Record, Shelving, Trouble};
use crate::letters;
use crate::local::Local;
use crate::whatif::Change;
use std::collections::BTreeMap;
use std::fmt::Display;
use std::str::FromStr;
use units::{Grade, Stage, Time};

/// The fields of a form by name.
pub(crate) type Values = BTreeMap<String, String>;

/// Who acts when no name is given.
pub(crate) const NOBODY: &str = "someone at the page";

pub(crate) fn refused(field: &str, reason: impl Display) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason: reason.to_string() }
}

fn text<'a>(values: &'a Values, field: &str) -> Option<&'a str> {
    values.get(field).map(|v| v.trim()).filter(|v| !v.is_empty())
}

fn needed<'a>(values: &'a Values, field: &str) -> Result<&'a str, Trouble> {
    text(values, field).ok_or_else(|| refused(field, "this is empty; fill it in"))
}

fn parsed<T: FromStr<Err: Display>>(values: &Values, field: &str) -> Result<T, Trouble> {
    needed(values, field)?.parse().map_err(|e| refused(field, e))
}

fn number(values: &Values, field: &str) -> Result<u32, Trouble> {
    let said = needed(values, field)?;
    said.parse().map_err(|_| refused(field, format!("{said:?} is not a whole number of 0 or more")))
}

/// A number; people write a comma where others write a point.
fn decimal(values: &Values, field: &str) -> Result<f64, Trouble> {
    let said = needed(values, field)?;
    let read = said.replace(',', ".").parse().ok().filter(|x: &f64| x.is_finite());
    read.ok_or_else(|| refused(field, format!("{said:?} is not a number; write one such as 26.4")))
}

/// How long an alarm is to call nobody, and why.
pub(crate) fn shelving(values: &Values) -> Result<Shelving, Trouble> {
    Ok(Shelving { minutes: number(values, "minutes")?, why: words(values, "why")? })
}

fn when(values: &Values, field: &str, local: &Local) -> Result<Time, Trouble> {
    local.read(needed(values, field)?).map_err(|e| refused(field, e))
}

fn words(values: &Values, field: &str) -> Result<String, Trouble> {
    let said = needed(values, field)?;
    let longest = 200;
    if said.chars().count() > longest {
        return Err(refused(field, format!("this is longer than {longest} letters; shorten it")));
    }
    Ok(said.to_owned())
}

/// Who it was: who is signed in, else by the `by` field.
///
/// Every form that changes something asks that, so here it is where the letters of all its fields are looked at.
pub(crate) fn by(values: &Values) -> Result<String, Trouble> {
    values.iter().try_for_each(|(field, text)| letters::straight(field, text))?;
    let typed = if text(values, "by").is_some() { words(values, "by")? } else { NOBODY.to_owned() };
    Ok(who::proved_or(typed))
}

/// Who it was, from a form with no other field.
pub(crate) fn only_by(values: &Values) -> Result<String, Trouble> {
    known(values, &["by"])?;
    by(values)
}

/// Whether a thing is to be broken, by the `broken` field.
pub(crate) fn broken(values: &Values) -> Result<bool, Trouble> {
    known(values, &["broken"])?;
    let said = needed(values, "broken")?;
    said.parse().map_err(|_| refused("broken", format!("{said:?} will not do; write true or false")))
}

/// How many times as fast as real time, by the `pace` field.
pub(crate) fn pace(values: &Values) -> Result<f64, Trouble> {
    known(values, &["pace"])?;
    let said = needed(values, "pace")?;
    said.parse().map_err(|_| refused("pace", format!("{said:?} is not a number; write one such as 180")))
}

fn known(values: &Values, fields: &[&str]) -> Result<(), Trouble> {
    match values.keys().find(|k| !fields.contains(&k.as_str())) {
        Some(odd) => Err(refused(odd, format!("no such field; this form has {}", fields.join(", ")))),
        None => Ok(()),
    }
}

fn grade(values: &Values) -> Result<Grade, Trouble> {
    match needed(values, "day0_grade")? {
        "seen" => Ok(Grade::Seen),
        "window" => Ok(Grade::Window),
        "guess" => Ok(Grade::Guess),
        odd => Err(refused("day0_grade", format!("{odd:?} is not known; use seen, window or guess"))),
    }
}

/// A new clutch from its form.
///
/// # Errors
/// [`Trouble::Refused`] with the field.
pub(crate) fn clutch(values: &Values, local: &Local) -> Result<NewClutch, Trouble> {
    known(
        values,
        &["id", "fish", "species", "mother", "vessel", "day0_earliest", "day0_latest", "day0_grade", "by"],
    )?;
    let (earliest, latest) = day0(values, local)?;
    Ok(NewClutch {
        id: parsed(values, "id")?,
        fish: words(values, "fish")?,
        species: words(values, "species")?,
        mother: text(values, "mother").map(|_| parsed(values, "mother")).transpose()?,
        day0_earliest: earliest,
        day0_latest: latest,
        day0_grade: grade(values)?,
        vessel: parsed(values, "vessel")?,
    })
}

/// A comparison of a probe from its form.
///
/// # Errors
/// [`Trouble::Refused`] with the field.
pub(crate) fn comparison(values: &Values, local: &Local) -> Result<NewComparison, Trouble> {
    known(values, &crate::page::compare::FIELDS)?;
    let given = |field| text(values, field).map(|_| field);
    Ok(NewComparison {
        probe: parsed(values, "probe")?,
        at: given("at").map(|f| when(values, f, local)).transpose()?,
        since: given("since").map(|f| when(values, f, local)).transpose()?,
        read: given("read").map(|f| decimal(values, f)).transpose()?,
        reference: decimal(values, "reference")?,
        against: words(values, "against")?,
        accuracy: given("accuracy").map(|f| decimal(values, f)).transpose()?,
    })
}

/// A species entry from the form of days.
///
/// # Errors
/// [`Trouble::Refused`] with the field.
pub(crate) fn species(values: &Values) -> Result<PlainSpecies, Trouble> {
    known(values, &crate::page::species::FIELDS)?;
    let stages = [
        (Stage::Hatch, "hatch_days", "hatch_celsius"),
        (Stage::FreeSwimming, "free_swimming_days", "free_swimming_celsius"),
        (Stage::Release, "release_days", "release_celsius"),
    ];
    let given =
        stages.iter().filter(|(_, days, celsius)| text(values, days).or(text(values, celsius)).is_some());
    let stage = |(stage, days, celsius): &(Stage, &str, &str)| {
        Ok(PlainStage { stage: *stage, days: decimal(values, days)?, celsius: decimal(values, celsius)? })
    };
    Ok(PlainSpecies {
        key: words(values, "key")?,
        name: words(values, "name")?,
        mouthbrooder: needed(values, "mouthbrooder")? == "true",
        stages: given.map(stage).collect::<Result<_, Trouble>>()?,
        spread_percent: text(values, "spread_percent")
            .map(|_| decimal(values, "spread_percent"))
            .transpose()?,
        base_low: decimal(values, "base_low")?,
        base_likely: decimal(values, "base_likely")?,
        base_high: decimal(values, "base_high")?,
        source: words(values, "source")?,
        how: words(values, "how")?,
    })
}

fn seen(values: &Values, at: Time, local: &Local) -> Result<Record, Trouble> {
    let look = text(values, "not_before").map(|_| when(values, "not_before", local)).transpose()?;
    let (not_before, already) = match (needed(values, "known")?, look) {
        ("watched", None) => (None, false),
        ("already", None) => (None, true),
        ("between", Some(look)) => (Some(look), false),
        ("between", None) => {
            return Err(refused("not_before", "write when you looked before and it was not there yet"));
        }
        ("watched" | "already", Some(_)) => {
            return Err(refused(
                "not_before",
                "this is for between two looks only; leave it empty, or choose that",
            ));
        }
        (odd, _) => {
            return Err(refused("known", format!("{odd:?} is not known; use watched, between or already")));
        }
    };
    Ok(Record::Seen { at, stage: parsed(values, "stage")?, not_before, already })
}

/// The earliest and the latest spawning time.
fn day0(values: &Values, local: &Local) -> Result<(Time, Option<Time>), Trouble> {
    let earliest = when(values, "day0_earliest", local)?;
    let latest = text(values, "day0_latest").map(|_| when(values, "day0_latest", local)).transpose()?;
    if latest.is_some_and(|l| l < earliest) {
        return Err(refused("day0_latest", "this lies before the earliest time; swap the two"));
    }
    Ok((earliest, latest))
}

/// A record from one of the forms of a clutch's page.
///
/// # Errors
/// [`Trouble::Refused`] with the field.
pub(crate) fn record(values: &Values, local: &Local) -> Result<Record, Trouble> {
    let what = needed(values, "what")?;
    let own: &[&str] = match what {
        "strip" => &["vessel", "alive", "dead"],
        "move" => &["vessel"],
        "loss" => &["count", "reason"],
        "seen" => &["stage", "known", "not_before"],
        "withdraw" => &["entry"],
        "day0" => &["day0_grade", "day0_earliest", "day0_latest"],
        odd => return Err(refused("what", format!("{odd:?} cannot be recorded here"))),
    };
    known(values, &[&["what", "at", "by"], own].concat())?;
    match what {
        "withdraw" => return Ok(Record::Withdraw { entry: number(values, "entry")?.into() }),
        "day0" => {
            let (earliest, latest) = day0(values, local)?;
            return Ok(Record::Day0 { earliest, latest, grade: grade(values)? });
        }
        _ => {}
    }
    let at = when(values, "at", local)?;
    Ok(match what {
        "strip" => Record::Strip {
            at,
            vessel: parsed(values, "vessel")?,
            alive: number(values, "alive")?,
            dead: number(values, "dead")?,
        },
        "move" => Record::Move { at, vessel: parsed(values, "vessel")? },
        "loss" => Record::Loss { at, count: number(values, "count")?, reason: words(values, "reason")? },
        _ => seen(values, at, local)?,
    })
}

/// Other water to try, from `celsius` and perhaps `life`, or from `stage` and `at`, which is read by `time`.
///
/// # Errors
/// [`Trouble::Refused`] with the field.
pub(crate) fn change(
    values: &Values,
    time: impl Fn(&str) -> Result<Time, String>,
) -> Result<Change, Trouble> {
    if values.contains_key("stage") || values.contains_key("at") {
        known(values, &["stage", "at"])?;
        let at = time(needed(values, "at")?).map_err(|e| refused("at", e))?;
        return Ok(Change::Put { stage: parsed(values, "stage")?, at });
    }
    known(values, &["celsius", "life"])?;
    let celsius = decimal(values, "celsius")?;
    match text(values, "life") {
        None | Some("rest") => Ok(Change::FromNow(celsius)),
        Some("whole") => Ok(Change::Always(celsius)),
        Some(odd) => Err(refused("life", format!("{odd:?} is not known; use rest or whole"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn values(pairs: &[(&str, &str)]) -> Values {
        pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    fn field(r: Result<impl std::fmt::Debug, Trouble>) -> String {
        match r.unwrap_err() {
            Trouble::Refused { field, .. } => field,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_record_is_read_in_the_rooms_zone() {
        let berlin = Local::of("Europe/Berlin");
        let v = values(&[
            ("what", "strip"),
            ("at", "2026-11-25T02:00"),
            ("vessel", "TU1"),
            ("alive", "27"),
            ("dead", "0"),
        ]);
        let Record::Strip { at, alive, .. } = record(&v, &berlin).unwrap() else { panic!("not a strip") };
        assert_eq!((at.to_string().as_str(), alive), ("2026-11-25T01:00:00Z", 27));
    }

    #[test]
    fn each_fault_names_its_field() {
        let l = Local::of("Europe/Berlin");
        assert_eq!(field(record(&values(&[("what", "cull")]), &l)), "what");
        assert_eq!(field(record(&values(&[("what", "loss"), ("at", "2026-03-29T02:30")]), &l)), "at");
        let ok = [("what", "loss"), ("at", "2026-11-25T02:00"), ("count", "-1"), ("reason", "white")];
        assert_eq!(field(record(&values(&ok), &l)), "count");
        assert_eq!(field(record(&values(&[("what", "seen"), ("colour", "x")]), &l)), "colour");
        let swapped = [("day0_earliest", "2026-11-25T02:00"), ("day0_latest", "2026-11-24T02:00")];
        assert_eq!(field(clutch(&values(&swapped), &l)), "day0_latest");
        assert_eq!(field(by(&values(&[("by", &"x".repeat(201))]))), "by");
        assert_eq!(by(&values(&[])).unwrap(), NOBODY);
        assert_eq!(field(broken(&values(&[("broken", "perhaps")]))), "broken");
        assert_eq!(field(pace(&values(&[("pace", "fast")]))), "pace");
        assert_eq!(field(pace(&values(&[("pace", "180"), ("hush", "1")]))), "hush");
    }
}
