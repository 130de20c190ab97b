//! Finding an entry by what people call the fish.

use crate::species::Species;
use crate::table::SpeciesTable;
use std::fmt;

/// No entry of that name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnknownSpecies {
    /// What was asked for.
    pub asked: String,
    /// Keys of the entries whose names are nearest to it, the nearest first.
    pub nearest: Vec<String>,
}

impl fmt::Display for UnknownSpecies {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "no species entry is called {:?}", self.asked)?;
        if !self.nearest.is_empty() {
            write!(f, "; the nearest are {}", self.nearest.join(", "))?;
        }
        f.write_str(
            "; use one of these, or write an entry of your own (config/species.toml shows the form) into a file and name \
             it under [species] file of the room, or with --species-file",
        )
    }
}

impl std::error::Error for UnknownSpecies {}

/// How many names an error suggests.
const SUGGESTED: usize = 3;

impl SpeciesTable {
    /// The entry of that key or name. The name may be the whole of it, the scientific name or the common one; capitals,
    /// spaces, underscores and hyphens make no difference.
    ///
    /// # Errors
    /// [`UnknownSpecies`] with the nearest keys, also where a name fits more than one entry.
    ///
    /// ```
    /// use development::SpeciesTable;
    /// let table = SpeciesTable::shipped();
    /// for name in ["oreochromis-niloticus", "Oreochromis niloticus", "nile_tilapia"] {
    ///     assert_eq!(table.find(name).unwrap().key, "oreochromis-niloticus");
    /// }
    /// let said = table.find("Oreochromis nilotica").unwrap_err().to_string();
    /// assert!(said.contains("the nearest are oreochromis-niloticus"), "{said}");
    /// ```
    pub fn find(&self, name: &str) -> Result<&Species, UnknownSpecies> {
        let asked = plain(name);
        if let Some(entry) = self.iter().find(|s| plain(&s.key) == asked) {
            return Ok(entry);
        }
        let called: Vec<&Species> = self.iter().filter(|s| names(s).contains(&asked)).collect();
        match called[..] {
            [one] => Ok(one),
            _ => Err(UnknownSpecies { asked: name.to_owned(), nearest: self.nearest(&asked) }),
        }
    }

    fn nearest(&self, asked: &str) -> Vec<String> {
        let alike = |s: &Species| {
            let best = names(s).iter().map(|n| strsim::jaro_winkler(n, asked)).fold(0.0, f64::max);
            best.max(strsim::jaro_winkler(&plain(&s.key), asked))
        };
        let mut all: Vec<(f64, &str)> = self.iter().map(|s| (alike(s), s.key.as_str())).collect();
        all.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
        all.into_iter().take(SUGGESTED).map(|(_, key)| key.to_owned()).collect()
    }
}

/// All names of an entry: the whole, and what stands before the bracket and in it.
fn names(s: &Species) -> Vec<String> {
    let (scientific, rest) = s.name.split_once('(').unwrap_or((&s.name, ""));
    let common = rest.split([')', ',']).next().unwrap_or_default();
    [s.name.as_str(), scientific, common].into_iter().map(plain).filter(|n| !n.is_empty()).collect()
}

/// Lower case, single hyphens between the words.
fn plain(name: &str) -> String {
    let lower = name.to_lowercase();
    lower.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect::<Vec<_>>().join("-")
}
