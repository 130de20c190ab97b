//! What each type looks like as JSON, for the description of the API.

use crate::{
    Band, ClutchId, Day0, Grade, MotherId, ProbeKey, Quantity, Sign, Span, Stage, Time, Unit, VesselId,
    VesselKind,
};
use std::borrow::Cow;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{KnownFormat, ObjectBuilder, Schema, SchemaFormat, Type};
use utoipa::{PartialSchema, ToSchema};

fn text(says: &str) -> ObjectBuilder {
    ObjectBuilder::new().schema_type(Type::String).description(Some(says))
}

fn words<T: Into<String>>(says: &str, all: impl IntoIterator<Item = T>) -> ObjectBuilder {
    text(says).enum_values(Some(all.into_iter().map(Into::into).collect::<Vec<String>>()))
}

/// Letters of a name, as a JSON Schema pattern: those of [`crate::IdError`].
const NAME: &str = "^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$";

fn name(says: &str) -> ObjectBuilder {
    text(says).pattern(Some(NAME)).max_length(Some(40))
}

fn grade() -> ObjectBuilder {
    words("How day 0 is known.", GRADES.map(|g| g.to_string()))
}

fn day0() -> ObjectBuilder {
    let when = |says| text(says).format(Some(SchemaFormat::KnownFormat(KnownFormat::DateTime)));
    ObjectBuilder::new()
        .description(Some("Day 0: the spawning time, between two times, with a grade."))
        .property("earliest", when("Earliest time at which she can have spawned."))
        .property("latest", when("Latest; the same when the hour was seen."))
        .property("grade", grade())
        .required("earliest")
        .required("latest")
        .required("grade")
}

fn band() -> ObjectBuilder {
    let end = |says: &str| ObjectBuilder::new().schema_type(Type::Number).description(Some(says));
    ObjectBuilder::new()
        .description(Some("The wanted values, in the unit of what is measured."))
        .property("low", end("Lowest wanted value."))
        .property("high", end("Highest wanted value."))
        .required("low")
        .required("high")
}

macro_rules! shown {
    ($($name:ident: $schema:expr),* $(,)?) => {$(
        impl PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                $schema.build().into()
            }
        }
        impl ToSchema for $name {
            fn name() -> Cow<'static, str> {
                Cow::Borrowed(stringify!($name))
            }
        }
    )*};
}

const KINDS: [VesselKind; 3] = [VesselKind::Tank, VesselKind::Tumbler, VesselKind::Jar];
const GRADES: [Grade; 3] = [Grade::Seen, Grade::Window, Grade::Guess];

shown! {
    Time: text("A moment: RFC 3339 with a zone; answers are in UTC.")
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::DateTime))),
    Span: ObjectBuilder::new().schema_type(Type::Integer).description(Some("A length of time, milliseconds.")),
    ClutchId: name("Name of a clutch or a group."),
    VesselId: name("Name of a tank, a tumbler or a jar."),
    MotherId: name("Code of a mother."),
    ProbeKey: text("A probe: vessel/quantity, or vessel/quantity/mark where a vessel has several.")
        .examples(["V1/temperature"]),
    Quantity: words("What is measured.", Quantity::ALL.map(Quantity::word)),
    Stage: words("How far young have come.", Stage::ALL.map(Stage::word)),
    Sign: words(
        "What was seen: a stage, or that half of the yolk is gone.",
        Stage::ALL.map(Sign::Stage).into_iter().chain([Sign::YolkHalfGone]),
    ),
    Grade: grade(),
    VesselKind: words("What kind of vessel.", KINDS.map(|k| k.to_string())),
    Unit: text("A unit as it is written: °C, L/min, mg/L.").examples(["°C"]),
    Day0: day0(),
    Band: band(),
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// The words that a schema lists.
    fn listed<T: PartialSchema>() -> Vec<String> {
        let schema = serde_json::to_value(T::schema()).unwrap();
        schema["enum"].as_array().unwrap().iter().map(|w| w.as_str().unwrap().to_owned()).collect()
    }

    fn written<T: serde::Serialize>(all: impl IntoIterator<Item = T>) -> Vec<String> {
        all.into_iter().map(|w| serde_json::to_value(w).unwrap().as_str().unwrap().to_owned()).collect()
    }

    #[test]
    fn listed_words_are_those_that_are_written() {
        assert_eq!(listed::<VesselKind>(), written(KINDS));
        assert_eq!(listed::<Grade>(), written(GRADES));
        assert_eq!(listed::<Quantity>(), written(Quantity::ALL));
        assert_eq!(listed::<Stage>(), written(Stage::ALL));
        let signs = Stage::ALL.map(Sign::Stage).into_iter().chain([Sign::YolkHalfGone]);
        assert_eq!(listed::<Sign>(), written(signs));
    }

    #[test]
    fn day0_is_written_with_the_fields_that_are_described() {
        let described = serde_json::to_value(Day0::schema()).unwrap();
        let written = serde_json::to_value(Day0::seen(Time::from_millis(0))).unwrap();
        let fields: BTreeSet<_> = described["properties"].as_object().unwrap().keys().collect();
        assert_eq!(fields, written.as_object().unwrap().keys().collect::<BTreeSet<_>>());
    }
}
