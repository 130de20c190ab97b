//! The unit of `deploy/`, read by systemd itself.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use std::path::PathBuf;
use std::process::Command;

/// The unit in a folder of its own, with our own program.
fn unit(folder: &tempfile::TempDir) -> PathBuf {
    let text = include_str!("../../deploy/hatchwarden.service")
        .replace("/usr/local/bin/hatchwarden", testkit::binary().to_str().unwrap());
    let file = folder.path().join("hatchwarden.service");
    std::fs::write(&file, text).unwrap();
    file
}

fn analyze(args: &[&str], file: &PathBuf) -> (bool, String) {
    let out = Command::new("systemd-analyze").args(args).arg(file).output().unwrap();
    let said = [out.stdout, out.stderr].concat();
    (out.status.success(), String::from_utf8(said).unwrap())
}

/// A key that is not known is a warning only, so whatever is said counts.
#[test]
fn systemd_finds_nothing_to_say_against_the_unit() {
    let folder = tempfile::tempdir().unwrap();
    let (good, said) = analyze(&["verify", "--man=no"], &unit(&folder));
    let ours: Vec<&str> = said.lines().filter(|l| l.contains("hatchwarden")).collect();
    assert!(good && ours.is_empty(), "{said}");
}

/// The exposure level of systemd-analyze, 0 to 10: 2 and less it calls OK.
#[test]
fn the_unit_is_confined() {
    let folder = tempfile::tempdir().unwrap();
    let (good, said) = analyze(&["security", "--offline=true", "--threshold=20"], &unit(&folder));
    assert!(good, "{said}");
}
