//! File names that every system takes.

use std::collections::HashSet;

use analysis::hand::Side;

/// Longest stem of a code in a file name, characters.
const LONGEST_STEM: usize = 40;

/// File names of a batch: one stem a performer, no two alike even where upper and lower case are
/// the same, made of ASCII letters, digits, `-` and `_`.
#[derive(Debug, Clone)]
pub struct FileNames {
    stems: Vec<String>,
    version: String,
}

impl FileNames {
    /// Names for these codes, in their order.
    #[must_use]
    pub fn new(codes: &[&str], version: &str) -> FileNames {
        let mut taken = HashSet::new();
        let mut stems = Vec::with_capacity(codes.len());
        for code in codes {
            let plain = safe(code, "performer");
            let mut stem = plain.clone();
            let mut number = 2;
            while !taken.insert(stem.to_lowercase()) {
                stem = format!("{plain}-{number}");
                number += 1;
            }
            stems.push(stem);
        }
        FileNames { stems, version: safe(version, "1") }
    }

    /// Name of one file: `<code>-<side>-v<version>.<extension>`.
    #[must_use]
    pub fn file(&self, performer: usize, side: Side, extension: &str) -> String {
        let stem = self.stems.get(performer).map_or("performer", String::as_str);
        format!("{stem}-{}-v{}.{extension}", side.key(), self.version)
    }
}

/// A text as part of a file name.
#[must_use]
pub fn safe(text: &str, when_empty: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || c == '_' {
            out.push(c);
        } else if !out.ends_with('-') {
            out.push('-');
        }
    }
    let out: String = out.trim_matches('-').chars().take(LONGEST_STEM).collect();
    if out.is_empty() { when_empty.to_owned() } else { out }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn hostile_codes_become_plain_names() {
        let codes = ["../../etc", "A/1", "a-1", "A:1", "CON", "", "  ", "Zo\u{eb} 7", "\u{434}"];
        let names = FileNames::new(&codes, "2.1");
        let all: Vec<String> = (0..codes.len()).map(|i| names.file(i, Side::Left, "pdf")).collect();
        assert_eq!(
            all,
            [
                "etc-left-v2-1.pdf",
                "A-1-left-v2-1.pdf",
                "a-1-2-left-v2-1.pdf",
                "A-1-3-left-v2-1.pdf",
                "CON-left-v2-1.pdf",
                "performer-left-v2-1.pdf",
                "performer-2-left-v2-1.pdf",
                "Zo-7-left-v2-1.pdf",
                "performer-3-left-v2-1.pdf",
            ]
        );
    }

    proptest! {
        #[test]
        fn no_two_names_are_alike_and_all_are_plain(
            codes in proptest::collection::vec("\\PC{0,6}", 1..30)
        ) {
            let codes: Vec<&str> = codes.iter().map(String::as_str).collect();
            let names = FileNames::new(&codes, "1");
            let mut seen = HashSet::new();
            for index in 0..codes.len() {
                let name = names.file(index, Side::Right, "svg");
                prop_assert!(name.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c)));
                prop_assert!(seen.insert(name.to_lowercase()));
            }
        }
    }
}
