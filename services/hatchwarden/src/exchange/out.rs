//! Where a file is written to: never half of it under its own name.

use std::fs;
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Where rows go.
pub(crate) enum Target {
    /// A file, written beside its place and put there when it is whole.
    File {
        /// What is being written.
        part: NamedTempFile,
        /// Where it goes.
        to: PathBuf,
    },
    /// Standard output.
    Standard,
}

impl Target {
    /// A target; `kept` are files that nobody means to write over.
    ///
    /// # Errors
    /// What cannot be written, and the cure.
    pub(crate) fn of(file: Option<&Path>, kept: &[&Path]) -> Result<Self, String> {
        let Some(to) = file else { return Ok(Self::Standard) };
        let name = to.display();
        let real = fs::canonicalize(to).ok();
        if real.is_some() && kept.iter().any(|k| fs::canonicalize(k).ok() == real) {
            return Err(format!("--out {name}: that file is the room's own; name another one"));
        }
        if to.is_dir() || to.file_name().is_none() {
            return Err(format!("--out {name}: that is a folder; name a file in it"));
        }
        let folder = to.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let prefix = format!("{}.", to.file_name().unwrap_or_default().to_string_lossy());
        let mut builder = tempfile::Builder::new();
        builder.prefix(&prefix).suffix(".part");
        permit(&mut builder);
        let part = builder.tempfile_in(folder).map_err(|e| {
            format!(
                "--out {name}: cannot be written: {e}; make its folder, or name one that you may write in"
            )
        })?;
        Ok(Self::File { part, to: to.to_owned() })
    }

    /// Whether it is a screen.
    pub(crate) fn is_screen(&self) -> bool {
        matches!(self, Self::Standard) && io::stdout().is_terminal()
    }

    /// What is written to.
    pub(crate) fn writer(&mut self) -> Box<dyn Write + Send + '_> {
        match self {
            Self::File { part, .. } => Box::new(BufWriter::new(part.as_file_mut())),
            Self::Standard => Box::new(BufWriter::new(io::stdout())),
        }
    }

    /// Puts the whole file in its place.
    ///
    /// # Errors
    /// What the disk says; then nothing stands under its name that did not before.
    pub(crate) fn finish(self) -> io::Result<()> {
        match self {
            Self::File { part, to } => {
                part.as_file().sync_all()?;
                part.persist(to).map(|_| ()).map_err(|e| e.error)
            }
            Self::Standard => Ok(()),
        }
    }
}

/// As any other new file: what the umask leaves of it.
#[cfg(unix)]
fn permit(builder: &mut tempfile::Builder<'_, '_>) {
    use std::os::unix::fs::PermissionsExt;
    builder.permissions(fs::Permissions::from_mode(0o666));
}

#[cfg(not(unix))]
fn permit(_: &mut tempfile::Builder<'_, '_>) {}
