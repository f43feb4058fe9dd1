//! File names that every system takes.

use std::collections::HashSet;

use analysis::hand::Side;

/// Longest stem of a code in a file name, characters.
const LONGEST_STEM: usize = 40;

/// Starts of file names for these codes, in their order: no two alike even where upper and lower
/// case are the same, made of ASCII letters, digits, `-` and `_`.
#[must_use]
pub fn stems(codes: &[&str]) -> Vec<String> {
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
    stems
}

/// Name of one file: `<stem>-<side>-v<version>.<extension>`.
#[must_use]
pub fn file_name(stem: &str, side: Side, version: &str, extension: &str) -> String {
    format!("{stem}-{}-v{}.{extension}", side.key(), safe(version, "1"))
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
        let all: Vec<String> =
            stems(&codes).iter().map(|stem| file_name(stem, Side::Left, "2.1", "pdf")).collect();
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
            let mut seen = HashSet::new();
            for stem in stems(&codes) {
                let name = file_name(&stem, Side::Right, "1", "svg");
                prop_assert!(name.chars().all(|c| c.is_ascii_alphanumeric() || "-_.".contains(c)));
                prop_assert!(seen.insert(name.to_lowercase()));
            }
        }
    }
}
