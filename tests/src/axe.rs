//! axe-core, the checker of pages by the rules of WCAG, as it lies under target/.

use crate::Browser;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// What is checked: WCAG 2.2 to level AA, and what its makers hold to be good practice.
const RULES: &str = "['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa','best-practice']";

/// axe-core, put into pages through the driver: the pages' own policy lets no foreign script in.
pub struct Axe {
    script: String,
}

impl Axe {
    /// Reads what `tests/run` has installed.
    ///
    /// # Panics
    /// When it is missing.
    pub fn installed() -> Self {
        let file = folder().join("node_modules/axe-core/axe.min.js");
        let script = std::fs::read_to_string(&file)
            .unwrap_or_else(|e| panic!("{}: {e}; tests/run installs what is missing", file.display()));
        Self { script }
    }

    /// What is wrong with the page that the browser shows, one line for each rule that is broken.
    ///
    /// # Panics
    /// When axe cannot run, or finds nothing that it could check.
    pub async fn faults(&self, browser: &Browser) -> Vec<String> {
        let ask = format!(
            "const done = arguments[arguments.length - 1];\
             if (!window.axe) {{ {} }}\
             axe.run(document, {{runOnly: {RULES}, resultTypes: ['violations'], elementRef: false}}).then(r => done({{passed: r.passes.length,\
               said: r.violations.map(v => `${{v.id}}: ${{v.help}}: ` + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + ' ' + (n.any[0]?.message ?? '')).join(' | '))}}),\
               e => done({{failed: String(e)}}));",
            self.script
        );
        let answer = browser.driver.execute_async(ask, vec![]).await.unwrap();
        let said: Value = answer.json().clone();
        assert!(said["passed"].as_u64() > Some(10), "axe has checked next to nothing: {said}");
        serde_json::from_value(said["said"].clone()).unwrap()
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/tests-node")
}
