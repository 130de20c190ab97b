//! A disk that can run full.

use std::io::Write;
use std::path::PathBuf;
use tempfile::TempDir;
use tokio::process::Command;

/// A file system of 3 MB in memory.
pub struct SmallDisk(TempDir);

impl SmallDisk {
    /// Mounts one; `None` where this user may not.
    pub async fn new() -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=3m", "tmpfs"])
            .arg(folder.path())
            .output()
            .await
            .unwrap();
        mount.status.success().then_some(Self(folder))
    }

    /// A file on it.
    pub fn file(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Writes until it has no byte left.
    pub fn fill(&self) {
        let mut file = std::fs::File::create(self.file("ballast")).unwrap();
        for size in [64 * 1024, 4096, 1] {
            while file.write_all(&vec![0_u8; size]).is_ok() {}
        }
    }

    /// Makes room again.
    pub fn clear(&self) {
        std::fs::remove_file(self.file("ballast")).unwrap();
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        // Best effort: a mount left behind goes with the machine.
        let _ = std::process::Command::new("umount").arg("-l").arg(self.0.path()).status();
    }
}
