//! Where the repository, the built command and the survey records are.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// Root of the repository.
#[must_use]
pub fn repository() -> PathBuf {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    tests.parent().unwrap_or(tests).to_path_buf()
}

/// The built `handcall` command: `$HANDCALL_BIN`, or the one built with this test.
///
/// # Panics
/// When it has not been built.
#[must_use]
#[expect(clippy::panic, reason = "a test cannot go on without the command")]
pub fn command() -> PathBuf {
    if let Some(path) = std::env::var_os("HANDCALL_BIN") {
        return PathBuf::from(path);
    }
    let own = std::env::current_exe().unwrap_or_default();
    // Tests lie one folder below the command, programs of this crate beside it.
    let found = own.ancestors().skip(1).take(2).map(|folder| folder.join("handcall"));
    match found.into_iter().find(|path| path.is_file()) {
        Some(path) => path,
        None => panic!("handcall is missing: run tests/run, or cargo build first"),
    }
}

/// A file of survey records, or `None` after saying that the test is skipped.
#[must_use]
pub fn survey(file: &str) -> Option<PathBuf> {
    let path = repository().join("../shared/reference/people").join(file);
    if path.exists() {
        return Some(path);
    }
    eprintln!("SKIPPED: the survey records are absent ({file} in ../shared/reference/people)");
    None
}

/// Every file under a folder, none where there is no folder.
#[must_use]
pub fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let deeper = |path: PathBuf| if path.is_dir() { files(&path) } else { vec![path] };
    entries.flat_map(|entry| deeper(entry.path())).collect()
}

/// A folder of a test's own, removed when dropped.
#[derive(Debug)]
pub struct Scratch(PathBuf);

impl Scratch {
    /// A new, empty folder whose name starts with `name`.
    ///
    /// # Panics
    /// When the temporary folder cannot be written.
    #[must_use]
    #[expect(clippy::expect_used, reason = "a test cannot go on without its folder")]
    pub fn new(name: &str) -> Scratch {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder =
            std::env::temp_dir().join(format!("handcall-{name}-{}-{number}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("the temporary folder can be written");
        Scratch(folder)
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        // A folder left behind harms no later test: names carry the process id.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
