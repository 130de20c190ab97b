//! `hatchwarden check`: every fault of a configuration, with its line and cure.

use crate::config::{self, Config, ConfigError, Fault};
use std::path::Path;
use std::process::ExitCode;

/// Reads a configuration file from disk.
///
/// # Errors
/// [`ConfigError`] with every fault; a file that cannot be read is one.
pub fn load(path: &Path) -> Result<Config, ConfigError> {
    let file = path.display().to_string();
    let text = std::fs::read_to_string(path).map_err(|e| ConfigError {
        file: file.clone(),
        faults: vec![Fault {
            line: 0,
            field: "file".to_owned(),
            problem: format!("cannot be read: {e}"),
            cure: "give the path of a configuration; config/room.toml is a commented example".to_owned(),
        }],
    })?;
    config::read(&text, &file, path.parent().unwrap_or(Path::new("")))
}

/// Prints what is wrong. Exit 0 when nothing is, 1 otherwise.
pub fn run(path: &Path, json: bool) -> ExitCode {
    match load(path) {
        Ok(config) => {
            if json {
                println!("[]");
            } else {
                println!("{}: good; room {}, {} vessels", path.display(), config.room, config.vessels.len());
            }
            ExitCode::SUCCESS
        }
        Err(e) => {
            if json {
                println!("{}", as_json(&e));
            } else {
                eprintln!("{e}");
            }
            ExitCode::FAILURE
        }
    }
}

fn as_json(e: &ConfigError) -> serde_json::Value {
    e.faults
        .iter()
        .map(|f| serde_json::json!({"line": f.line, "field": f.field, "problem": f.problem, "cure": f.cure}))
        .collect()
}
