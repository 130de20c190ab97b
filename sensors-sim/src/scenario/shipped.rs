//! Scenarios that come with the program.

use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "../config/scenarios"]
struct Folder;

/// A scenario that comes with the program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shipped {
    /// What it is called on the command line.
    pub name: String,
    /// Its TOML.
    pub text: String,
}

impl Shipped {
    /// The scenarios that come with the program, by name.
    ///
    /// ```
    /// use sensors_sim::{Scenario, Shipped};
    /// for known in Shipped::all() {
    ///     assert!(Scenario::from_toml(&known.text).is_ok(), "{}", known.name);
    /// }
    /// ```
    pub fn all() -> Vec<Self> {
        let mut all: Vec<Self> =
            Folder::iter().filter_map(|file| shipped(file.strip_suffix(".toml")?)).collect();
        all.sort_by(|a, b| a.name.cmp(&b.name));
        all
    }
}

/// The shipped scenario of that name.
pub fn shipped(name: &str) -> Option<Shipped> {
    let file = Folder::get(&format!("{name}.toml"))?;
    let text = String::from_utf8_lossy(&file.data).into_owned();
    Some(Shipped { name: name.to_owned(), text })
}
