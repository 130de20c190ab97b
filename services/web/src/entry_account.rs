//! What can be written into the account through a form, and how a form becomes an event.

use crate::entry::{Values, refused};
use crate::keeper::Trouble;
use crate::local::Local;
use ledger::Event;
use serde_json::{Map, Value, json};

/// What a field of such a form is.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Ask {
    /// A moment of the room's clock.
    When,
    /// A whole number.
    Count,
    /// A number with decimals.
    Decimal,
    /// Words.
    Text,
    /// Names of clutches with commas between.
    Names,
    /// A vessel of the room.
    Vessel,
    /// One of these: value and words.
    Choice(&'static [(&'static str, &'static str)]),
}

/// A field: its name, its label, what it is, whether it must be filled in.
pub(crate) type Asked = (&'static str, &'static str, Ask, bool);

/// One kind of thing that can be written down.
#[derive(Debug)]
pub(crate) struct Doing {
    /// The event's word.
    pub what: &'static str,
    /// Words of the button.
    pub words: &'static str,
    /// Its fields beside who did it.
    pub fields: &'static [Asked],
}

const AT: Asked = ("at", "When", Ask::When, true);
const FROM: Asked = ("from", "From where, if they are in several vessels", Ask::Vessel, false);
const COUNT: Asked = ("count", "How many", Ask::Count, true);
const REASON: Asked = ("reason", "Why, in your words", Ask::Text, true);
const REMARK: Asked = ("reason", "How, in your words", Ask::Text, false);
const NOTE: Asked = ("note", "What else", Ask::Text, false);

/// What can be written down of a clutch or a group.
pub(crate) const OF_CLUTCH: &[Doing] = &[
    Doing {
        what: "looked-at",
        words: "Looked at, dead picked out",
        fields: &[
            AT,
            ("dead", "Dead eggs picked out", Ask::Count, true),
            (
                "roll",
                "How they turn",
                Ask::Choice(&[
                    ("", "not looked at"),
                    ("even", "evenly"),
                    ("uneven", "unevenly"),
                    ("still", "they lie still"),
                ]),
                false,
            ),
            FROM,
            NOTE,
        ],
    },
    Doing {
        what: "path-chosen",
        words: "Path chosen",
        fields: &[
            AT,
            (
                "path",
                "What is to become of them",
                Ask::Choice(&[
                    ("left-with-her", "left with mother"),
                    ("isolated", "isolated with them in a quiet tank"),
                    ("taken-late", "taken late, as fry"),
                    ("taken-early", "taken early, into a tumbler"),
                ]),
                true,
            ),
        ],
    },
    Doing {
        what: "hold-ended",
        words: "She holds no more, nothing taken",
        fields: &[
            AT,
            (
                "how",
                "How",
                Ask::Choice(&[
                    ("swallowed", "swallowed"),
                    ("spat", "spat, none saved"),
                    ("released", "released, uncounted"),
                ]),
                true,
            ),
        ],
    },
    Doing {
        what: "moved",
        words: "Moved and counted, or those of one vessel",
        fields: &[
            AT,
            ("from", "From where; all there are if not said", Ask::Vessel, false),
            ("vessel", "Into", Ask::Vessel, true),
            ("counted", "Counted on the way; what differs is unexplained", Ask::Count, false),
        ],
    },
    Doing { what: "lost", words: "Lost in one of several vessels", fields: &[AT, FROM, COUNT, REASON] },
    Doing {
        what: "recounted",
        words: "Counted again",
        fields: &[AT, ("vessel", "In", Ask::Vessel, true), COUNT],
    },
    Doing {
        what: "split",
        words: "Some moved, the others stay",
        fields: &[AT, FROM, ("vessel", "Into", Ask::Vessel, true), COUNT, REMARK],
    },
    Doing {
        what: "escaped",
        words: "Escaped",
        fields: &[AT, FROM, COUNT, ("caught", "Of those caught and put back", Ask::Count, false), REMARK],
    },
    Doing {
        what: "found",
        words: "Found again",
        fields: &[AT, ("vessel", "In", Ask::Vessel, true), COUNT, REMARK],
    },
    Doing {
        what: "graded",
        words: "Graded",
        fields: &[
            AT,
            FROM,
            ("runts", "Runts", Ask::Count, true),
            ("faulty", "With a bent spine or another fault", Ask::Count, false),
            ("vessel", "Runts moved to", Ask::Vessel, false),
            NOTE,
        ],
    },
    Doing {
        what: "measured",
        words: "Measured",
        fields: &[
            AT,
            ("millimetres", "Mean length, mm", Ask::Decimal, true),
            ("count", "How many were measured", Ask::Count, true),
        ],
    },
    Doing { what: "culled", words: "Culled", fields: &[AT, FROM, COUNT, REASON] },
    Doing {
        what: "held-back",
        words: "Held back as breeders",
        fields: &[AT, FROM, COUNT, ("vessel", "In which vessel from now on", Ask::Vessel, false)],
    },
    Doing {
        what: "handed-on",
        words: "Handed on",
        fields: &[
            AT,
            FROM,
            COUNT,
            ("to", "To whom, as a code", Ask::Text, true),
            ("told", "What they were told: species, origin, generation, treatment", Ask::Text, false),
        ],
    },
    Doing {
        what: "separated",
        words: "Some known as one clutch of the group",
        fields: &[
            AT,
            FROM,
            ("member", "Which clutch they are of", Ask::Text, true),
            ("vessel", "Into", Ask::Vessel, true),
            COUNT,
        ],
    },
    Doing { what: "noted", words: "Note", fields: &[AT, ("text", "What is to be kept", Ask::Text, true)] },
    Doing { what: "closed", words: "Closed: nothing is left of it", fields: &[AT] },
];

/// What can be written down of a vessel.
pub(crate) const OF_VESSEL: &[Doing] = &[
    Doing { what: "fed", words: "Fed", fields: &[AT, ("food", "What", Ask::Text, true)] },
    Doing {
        what: "water-tested",
        words: "Water tested",
        fields: &[
            AT,
            (
                "tested",
                "What",
                Ask::Choice(&[
                    ("ammonia", "total ammonia, mg/L as nitrogen"),
                    ("nitrite", "nitrite, mg/L"),
                    ("nitrate", "nitrate, mg/L"),
                    ("ph", "pH"),
                    ("carbonate-hardness", "carbonate hardness, dKH"),
                    ("general-hardness", "general hardness, dGH"),
                    ("oxygen", "oxygen, mg/L"),
                    ("temperature", "temperature, °C"),
                ]),
                true,
            ),
            ("value", "Result", Ask::Decimal, true),
        ],
    },
    Doing {
        what: "water-changed",
        words: "Water changed",
        fields: &[AT, ("percent", "How much of it, percent", Ask::Count, true)],
    },
    Doing {
        what: "merged",
        words: "Clutches put together here",
        fields: &[
            AT,
            ("clutch", "Name of the group, new or known", Ask::Text, true),
            ("members", "Which clutches, with commas between", Ask::Names, true),
        ],
    },
    Doing {
        what: "treated",
        words: "Treated",
        fields: &[
            AT,
            ("what", "What was used", Ask::Text, true),
            ("strength", "How strong", Ask::Decimal, true),
            ("unit", "Unit of that, e.g. mg/L", Ask::Text, true),
            ("minutes", "For how many minutes; empty if it was left in", Ask::Count, false),
        ],
    },
    Doing {
        what: "tool-used",
        words: "Net, jug or filter used here",
        fields: &[AT, ("tool", "Which, e.g. net-Q1", Ask::Text, true)],
    },
    Doing {
        what: "quarantined",
        words: "Quarantine begun",
        fields: &[AT, ("until", "Until", Ask::When, true), REASON],
    },
    Doing { what: "quarantine-ended", words: "Quarantine ended early", fields: &[AT] },
    Doing { what: "noted", words: "Note", fields: &[AT, ("text", "What is to be kept", Ask::Text, true)] },
];

/// What can be written down of the room.
pub(crate) const OF_ROOM: &[Doing] = &[
    Doing {
        what: "installed",
        words: "Equipment put into use",
        fields: &[
            AT,
            ("name", "Its name, e.g. P1", Ask::Text, true),
            ("kind", "What it is, e.g. air pump", Ask::Text, true),
            ("vessel", "Where, if it belongs to one vessel", Ask::Vessel, false),
            ("days", "Days after which it is due to be looked at", Ask::Count, false),
        ],
    },
    Doing {
        what: "retired",
        words: "Equipment taken out of use",
        fields: &[AT, ("name", "Its name", Ask::Text, true)],
    },
    Doing {
        what: "tool-cleaned",
        words: "Net, jug or filter disinfected",
        fields: &[AT, ("tool", "Which", Ask::Text, true)],
    },
    Doing {
        what: "drilled",
        words: "Drill",
        fields: &[AT, ("text", "What was done and what came of it", Ask::Text, true)],
    },
];

/// What can be written down of a mother.
pub(crate) const OF_MOTHER: &[Doing] =
    &[Doing { what: "noted", words: "Note", fields: &[AT, ("text", "What is to be kept", Ask::Text, true)] }];

/// An entry was a mistake; a button beside it says so.
pub(crate) const WITHDRAWN: Doing = Doing {
    what: "withdrawn",
    words: "This was a mistake",
    fields: &[AT, ("entry", "Number of the entry", Ask::Count, true)],
};

/// Longest text of one field, letters.
const LONGEST: usize = 500;

fn value(text: &str, name: &str, ask: Ask, local: &Local) -> Result<Value, Trouble> {
    Ok(match ask {
        Ask::When => json!(local.read(text).map_err(|e| refused(name, e))?),
        Ask::Count => {
            let count: Result<u32, _> = text.parse();
            json!(count.map_err(|_| refused(name, format!("{text:?} is not a whole number of 0 or more")))?)
        }
        Ask::Decimal => {
            let read: Option<f64> = text.replace(',', ".").parse().ok().filter(|x: &f64| x.is_finite());
            json!(
                read.ok_or_else(|| refused(
                    name,
                    format!("{text:?} is not a number; write one such as 8.2")
                ))?
            )
        }
        Ask::Names => json!(text.split(',').map(str::trim).filter(|n| !n.is_empty()).collect::<Vec<_>>()),
        Ask::Text if text.chars().count() > LONGEST => {
            return Err(refused(name, format!("this is longer than {LONGEST} letters; shorten it")));
        }
        Ask::Choice(all) if all.iter().all(|(v, _)| *v != text) => {
            let words: Vec<&str> = all.iter().map(|(v, _)| *v).collect();
            return Err(refused(name, format!("{text:?} is not known; use one of {}", words.join(", "))));
        }
        Ask::Text | Ask::Vessel | Ask::Choice(_) => json!(text),
    })
}

/// The event of a form: one of `doings`, about `subject`, whose field and name are given.
///
/// # Errors
/// [`Trouble::Refused`] with the field.
pub(crate) fn event(
    values: &Values,
    doings: &[Doing],
    subject: Option<(&str, &str)>,
    local: &Local,
) -> Result<Event, Trouble> {
    let what = values.get("doing").map(String::as_str).unwrap_or_default();
    let doing = doings.iter().chain([&WITHDRAWN]).find(|d| d.what == what);
    let doing = doing.ok_or_else(|| refused("doing", format!("{what:?} cannot be written down here")))?;
    let mut object = Map::from_iter([("event".to_owned(), json!(what))]);
    if let Some((field, name)) = subject.filter(|_| what != WITHDRAWN.what) {
        object.insert(field.to_owned(), json!(name));
    }
    let own = |k: &&String| ["doing", "by"].contains(&k.as_str()) || doing.fields.iter().any(|f| f.0 == **k);
    if let Some(odd) = values.keys().find(|k| !own(k)) {
        return Err(refused(odd, "no such field in this form"));
    }
    for (name, _, ask, needed) in doing.fields {
        match values.get(*name).map(|v| v.trim()).filter(|v| !v.is_empty()) {
            Some(text) => drop(object.insert((*name).to_owned(), value(text, name, *ask, local)?)),
            None if *needed => return Err(refused(name, "this is empty; fill it in")),
            None => {}
        }
    }
    read(&object)
}

/// An event out of its JSON; a field that will not do is named.
pub(crate) fn read(object: &Map<String, Value>) -> Result<Event, Trouble> {
    crate::strict::tagged("event", object)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(ask: Ask) -> &'static str {
        match ask {
            Ask::When => "2026-11-25T02:00",
            Ask::Count => "3",
            Ask::Decimal => "2,5",
            Ask::Text => "C01",
            Ask::Names => "C01, C02",
            Ask::Vessel => "TU1",
            Ask::Choice(all) => all.last().map_or("", |(v, _)| v),
        }
    }

    #[test]
    fn every_form_filled_in_to_the_last_field_is_an_event() {
        let local = Local::of("Europe/Berlin");
        let all = [
            (OF_CLUTCH, Some(("clutch", "C06"))),
            (OF_VESSEL, Some(("vessel", "TU1"))),
            (OF_ROOM, None),
            (OF_MOTHER, Some(("mother", "bur-03"))),
        ];
        for (doings, subject) in all {
            for doing in doings.iter().chain([&WITHDRAWN]) {
                let fields = doing.fields.iter().map(|f| (f.0.to_owned(), filled(f.2).to_owned()));
                let values: Values = fields.chain([("doing".to_owned(), doing.what.to_owned())]).collect();
                assert_eq!(values.len(), doing.fields.len() + 1, "{}: two fields of one name", doing.what);
                let event = event(&values, doings, subject, &local).unwrap();
                assert_eq!(serde_json::to_value(&event).unwrap()["event"], doing.what);
            }
        }
    }
}
