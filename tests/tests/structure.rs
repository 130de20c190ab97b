//! Which crate may use which, read from the resolved dependency graph; and who may read the clock.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use cargo_metadata::{DependencyKind, Metadata, MetadataCommand, PackageId};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// The graph as it is resolved for this machine: crates for other systems need not be here.
fn graph() -> Metadata {
    let asked = std::process::Command::new("rustc").arg("-vV").output().unwrap();
    let text = String::from_utf8(asked.stdout).unwrap();
    let host = text.lines().find_map(|l| l.strip_prefix("host: ")).unwrap();
    let options = ["--offline", "--filter-platform", host].map(str::to_owned);
    MetadataCommand::new().manifest_path(root().join("Cargo.toml")).other_options(options).exec().unwrap()
}

const PURE: [&str; 5] = ["development", "alarms", "ledger", "readings", "units"];
const EDGES: [&str; 5] = ["store", "intake", "frontdoor", "notify", "web"];

/// Our own crates each may use, without the prefix `hatchwarden-`. Pure crates do not know each other, nor do edges.
fn allowed() -> BTreeMap<&'static str, Vec<&'static str>> {
    BTreeMap::from([
        ("units", vec![]),
        ("development", vec!["units"]),
        ("alarms", vec!["units"]),
        ("ledger", vec!["units"]),
        ("readings", vec!["units"]),
        ("store", vec!["units", "ledger"]),
        ("intake", vec!["readings", "units"]),
        ("frontdoor", vec![]),
        ("notify", vec![]),
        ("web", vec!["units", "development", "alarms", "ledger", "readings"]),
        ("sim", vec!["units"]),
        ("hatchwarden", [&PURE[..], &EDGES[..], &["sim"]].concat()),
        ("tests", vec!["units"]),
    ])
}

fn short(name: &str) -> &str {
    name.strip_prefix("hatchwarden-").unwrap_or(name)
}

/// Direct dependencies of each package that go into what is shipped, dev-dependencies left out.
fn uses(graph: &Metadata) -> BTreeMap<PackageId, BTreeSet<PackageId>> {
    let shipped =
        |kinds: &[cargo_metadata::DepKindInfo]| kinds.iter().any(|k| k.kind != DependencyKind::Development);
    let nodes = &graph.resolve.as_ref().unwrap().nodes;
    nodes
        .iter()
        .map(|n| {
            (n.id.clone(), n.deps.iter().filter(|d| shipped(&d.dep_kinds)).map(|d| d.pkg.clone()).collect())
        })
        .collect()
}

#[test]
fn every_arrow_between_our_crates_is_in_the_table() {
    let graph = graph();
    let (table, uses) = (allowed(), uses(&graph));
    let ours: BTreeMap<PackageId, String> =
        graph.workspace_packages().iter().map(|p| (p.id.clone(), short(&p.name).to_owned())).collect();
    assert_eq!(ours.len(), table.len(), "a crate is missing in the table: {ours:?}");
    for (id, name) in &ours {
        let may = table.get(name.as_str()).unwrap_or_else(|| panic!("{name} is not in the table"));
        for used in uses[id].iter().filter_map(|u| ours.get(u)) {
            assert!(may.contains(&used.as_str()), "{name} must not use {used}");
        }
    }
}

/// What would bring a clock, a socket, a file, a runtime or chance into a pure crate.
const IMPURE: [&str; 12] = [
    "tokio",
    "mio",
    "socket2",
    "rusqlite",
    "rumqttc",
    "reqwest",
    "axum",
    "rand",
    "getrandom",
    "tracing",
    "tempfile",
    "libc",
];

#[test]
fn pure_crates_pull_in_nothing_impure() {
    let graph = graph();
    let uses = uses(&graph);
    let names: BTreeMap<PackageId, String> =
        graph.packages.iter().map(|p| (p.id.clone(), p.name.to_string())).collect();
    for package in graph.workspace_packages().into_iter().filter(|p| PURE.contains(&short(&p.name))) {
        let found: Vec<&String> = (reached(&package.id, &uses).iter())
            .map(|id| &names[id])
            .filter(|n| IMPURE.contains(&n.as_str()))
            .collect();
        assert!(found.is_empty(), "{} reaches {found:?}", package.name);
    }
}

/// A package and everything that it uses, directly or not.
fn reached(from: &PackageId, uses: &BTreeMap<PackageId, BTreeSet<PackageId>>) -> BTreeSet<PackageId> {
    let (mut reached, mut next) = (BTreeSet::new(), vec![from.clone()]);
    while let Some(id) = next.pop() {
        if reached.insert(id.clone()) {
            next.extend(uses[&id].iter().cloned());
        }
    }
    reached
}

/// The simulated room must not know how dates and alarms come about, or it would prove nothing of them: not even its
/// tests may reach those crates.
#[test]
fn the_simulator_reaches_neither_development_nor_alarms() {
    let graph = graph();
    let nodes = &graph.resolve.as_ref().unwrap().nodes;
    let all_kinds = nodes.iter().map(|n| (n.id.clone(), n.dependencies.iter().cloned().collect())).collect();
    let id = |name: &str| graph.packages.iter().find(|p| p.name == name).unwrap().id.clone();
    let reached = reached(&id("hatchwarden-sim"), &all_kinds);
    assert!(reached.contains(&id("hatchwarden-units")));
    for name in ["hatchwarden-development", "hatchwarden-alarms"] {
        assert!(!reached.contains(&id(name)), "the simulator reaches {name}");
    }
}

#[test]
fn pure_crates_carry_the_longer_list_of_refused_calls() {
    for name in PURE {
        let list = root().join("services").join(name).join(".clippy.toml");
        let text = std::fs::read_to_string(&list).unwrap();
        assert!(text.contains("std::fs::File") && text.contains("std::net::TcpStream"), "{}", list.display());
    }
}

/// Files that may lift the ban on reading the clock, each with one exception in it.
const CLOCKS: [&str; 2] = ["services/hatchwarden/src/clock.rs", "sensors-sim/src/main.rs"];

#[test]
fn only_the_clocks_read_the_clock() {
    let mut found = BTreeSet::new();
    let mut next = vec![root().join("services"), root().join("sensors-sim")];
    while let Some(path) = next.pop() {
        if path.is_dir() {
            next.extend(std::fs::read_dir(path).unwrap().map(|e| e.unwrap().path()));
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            if ["Utc::now(", "SystemTime::now(", "Local::now("].iter().any(|call| text.contains(call)) {
                found.insert(path.strip_prefix(root()).unwrap().display().to_string());
            }
        }
    }
    for path in &found {
        assert!(CLOCKS.contains(&path.as_str()), "{path} reads the clock");
    }
    assert!(found.contains(CLOCKS[0]), "the list of clocks is out of date: {found:?}");
}
