//! Small values by name.

use rusqlite::{Connection, OptionalExtension};

/// Keeps values; each replaces the one before.
pub(crate) fn set(conn: &Connection, notes: &[(String, String)]) -> rusqlite::Result<()> {
    let mut set = conn.prepare_cached(
        "INSERT INTO notes (name, value) VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
    )?;
    for (name, value) in notes {
        set.execute([name, value])?;
    }
    Ok(())
}

/// The value under a name.
pub(crate) fn get(conn: &Connection, name: &str) -> rusqlite::Result<Option<String>> {
    conn.prepare_cached("SELECT value FROM notes WHERE name = ?1")?.query_row([name], |r| r.get(0)).optional()
}
