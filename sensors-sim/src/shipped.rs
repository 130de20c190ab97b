//! Plans that come with the program.

/// The plan behind [`crate::Plan::undercroft_cut`].
pub(crate) const UNDERCROFT_CUT: &str = include_str!("../plans/undercroft-cut.toml");

/// A plan that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shipped {
    /// What it is called on the command line.
    pub name: &'static str,
    /// Its TOML.
    pub text: &'static str,
}

const ALL: &[Shipped] = &[
    Shipped { name: "undercroft-cut", text: UNDERCROFT_CUT },
    Shipped { name: "undercroft-trouble", text: include_str!("../plans/undercroft-trouble.toml") },
];

/// The plans that come with the program.
///
/// ```
/// for plan in sensors_sim::shipped() {
///     assert!(sensors_sim::Plan::from_toml(plan.text).is_ok(), "{}", plan.name);
/// }
/// ```
pub fn shipped() -> &'static [Shipped] {
    ALL
}
