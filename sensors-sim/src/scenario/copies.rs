//! `copies = 50`: one member of a list stands for many.

use toml::{Table, Value};

const KEY: &str = "copies";
/// Nobody needs more.
const MOST: i64 = 10_000;

/// Whether any list has such a member.
pub(super) fn are_in(table: &Table) -> bool {
    let list = |v: &Value| v.as_array().is_some_and(|all| all.iter().any(|m| m.get(KEY).is_some()));
    table.values().any(list)
}

/// Puts the copies in the place of the member. A number of copies that makes no sense stays, so that it is refused as
/// an unknown key.
pub(super) fn expand(mut table: Table) -> Table {
    for (_, value) in &mut table {
        if let Value::Array(members) = value {
            *members = members.drain(..).flat_map(copied).collect();
        }
    }
    table
}

fn copied(member: Value) -> Vec<Value> {
    let Some(n) = member.get(KEY).and_then(Value::as_integer).filter(|n| (1..=MOST).contains(n)) else {
        return vec![member];
    };
    let width = n.to_string().len();
    (1..=n).map(|i| numbered(&member, &format!("{i:0width$}"))).collect()
}

/// The same with `{n}` replaced in every text.
fn numbered(value: &Value, n: &str) -> Value {
    match value {
        Value::String(text) => Value::String(text.replace("{n}", n)),
        Value::Array(all) => Value::Array(all.iter().map(|v| numbered(v, n)).collect()),
        Value::Table(all) => {
            let rest = all.iter().filter(|(key, _)| *key != KEY);
            Value::Table(rest.map(|(k, v)| (k.clone(), numbered(v, n))).collect())
        }
        other => other.clone(),
    }
}

#[cfg(test)]
mod tests {
    use crate::Scenario;

    #[test]
    fn fifty_jars_are_written_once() {
        let text = "room = 'h'\n[[tank]]\nvessel = 'S'\nlitres = 900\n[[jar_loop]]\nname = 'A'\n\
                    [[jar]]\nvessel = 'A{n}'\ncopies = 50\n[[device]]\nname = 'a{n}'\ncopies = 2\n\
                    probes = ['A0{n}/water-flow']\n";
        let scenario = Scenario::from_toml(text).unwrap();
        assert_eq!((scenario.jars[0].vessel.as_str(), scenario.jars[49].vessel.as_str()), ("A01", "A50"));
        assert_eq!(scenario.devices[1].probes[0].probe.to_string(), "A02/water-flow");
        let said = Scenario::from_toml(&text.replace("= 50", "= -1")).unwrap_err().to_string();
        assert!(said.contains("copies"), "{said}");
    }
}
