//! Tables of figures that a test makes again on every run and compares with the file beside this
//! one, so that a printed figure cannot drift away from the code.

use std::path::PathBuf;

/// Compares a table with `figures/NAME.md`. After a change that is meant, run the test with
/// `FIGURES=write` and read the difference before committing it.
pub fn hold(name: &str, table: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/figures/{name}.md"));
    if std::env::var("FIGURES").is_ok_and(|value| value == "write") {
        assert!(std::fs::write(&path, table).is_ok(), "{} cannot be written", path.display());
        return;
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(kept, table, "tests/figures/{name}.md differs; see figures::hold");
}
