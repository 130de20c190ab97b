//! What was found, as a table and as JSON.

use serde_json::{Value, json};

/// Everything that was found.
pub(crate) struct Report {
    rows: Vec<Value>,
    goals: Vec<(String, String, bool)>,
}

impl Report {
    /// Nothing yet.
    pub(crate) fn new() -> Self {
        Self { rows: Vec::new(), goals: Vec::new() }
    }

    /// One run; printed at once.
    pub(crate) fn row(&mut self, row: Value) {
        println!("{row}");
        self.rows.push(row);
    }

    /// A goal, what was found, and whether it is met.
    pub(crate) fn goal(&mut self, goal: &str, found: String, met: bool) {
        self.goals.push((goal.to_owned(), found, met));
    }

    /// Whether every goal is met.
    pub(crate) fn all_met(&self) -> bool {
        self.goals.iter().all(|g| g.2)
    }

    /// The table, and JSON in the target folder.
    pub(crate) fn print(&self) {
        println!("\n{:<58} | {:<44} | met", "goal", "found");
        for (goal, found, met) in &self.goals {
            println!("{goal:<58} | {found:<44} | {}", if *met { "yes" } else { "NO" });
        }
        let goals: Vec<Value> =
            self.goals.iter().map(|(g, f, m)| json!({"goal": g, "found": f, "met": m})).collect();
        let file = std::path::Path::new(crate::machine::folder()).join("intake.json");
        let all = json!({"goals": goals, "runs": self.rows});
        std::fs::write(&file, serde_json::to_vec_pretty(&all).unwrap()).unwrap();
        println!("all of it: {}", file.display());
    }
}

/// Three digits are enough.
pub(crate) fn round(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}
