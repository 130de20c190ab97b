//! What is wrong with a configuration file: every fault at once, each with its line and cure.

use std::fmt;

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Line in the file, counted from 1; 0 when the whole file is meant.
    pub line: usize,
    /// The field, e.g. `vessel "TU1".host`.
    pub field: String,
    /// What is wrong, naming the value.
    pub problem: String,
    /// What to write instead.
    pub cure: String,
}

/// All faults of one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConfigError {
    /// Name of the file as the user gave it.
    pub file: String,
    /// At least one fault, in the order of the file.
    pub faults: Vec<Fault>,
}

impl fmt::Display for ConfigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.faults.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{}", self.file)?;
            if fault.line > 0 {
                write!(f, ":{}", fault.line)?;
            }
            write!(f, ": {}: {}; {}", fault.field, fault.problem, fault.cure)?;
        }
        Ok(())
    }
}

impl std::error::Error for ConfigError {}
