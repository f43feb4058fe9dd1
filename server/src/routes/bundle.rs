//! The phone's checks as one file: their modules beside each other cost a phone on a slow line more in
//! headers than some of them hold. The modules stay apart in the source, where each follows a file of
//! `analysis`.

use std::collections::BTreeSet;

use super::assets::Files;

/// Address of the bundle below `/static/`.
pub(super) const NAME: &str = "model.js";
/// The module that is asked for; what it imports comes before it.
const ENTRY: &str = "checks";
/// A module that the page needs earlier, on its own.
const APART: &str = "words";

/// Whether a file goes out as a part of the bundle alone.
pub(super) fn holds(name: &str) -> bool {
    let module = name.strip_prefix("model/").and_then(|name| name.strip_suffix(".js"));
    module.is_some_and(|module| module != APART)
}

/// The modules in the order they need each other, without their imports and exports.
pub(super) fn text() -> String {
    let (mut seen, mut imports, mut out) = (BTreeSet::new(), BTreeSet::new(), String::new());
    add(ENTRY, &mut seen, &mut imports, &mut out);
    let imports: String = imports.into_iter().collect();
    imports + &out + "export { load };\n"
}

fn add(
    module: &str,
    seen: &mut BTreeSet<String>,
    imports: &mut BTreeSet<String>,
    out: &mut String,
) {
    if !seen.insert(module.to_owned()) {
        return;
    }
    let file = Files::get(&format!("model/{module}.js"));
    let text =
        file.map(|file| String::from_utf8_lossy(&file.data).into_owned()).unwrap_or_default();
    for line in text.lines() {
        match imported(line) {
            Some(APART) => {
                imports.insert(line.replace("./", "./model/") + "\n");
            }
            Some(other) => add(other, seen, imports, out),
            None => {}
        }
    }
    for line in text.lines().filter(|line| imported(line).is_none()) {
        out.push_str(line.strip_prefix("export ").unwrap_or(line));
        out.push('\n');
    }
}

/// The module that a line imports from.
fn imported(line: &str) -> Option<&str> {
    let from = line.strip_prefix("import ")?.split_once(" from \"./")?.1;
    from.strip_suffix(".js\";")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_module_of_the_checks_is_in_once_and_no_name_is_taken_twice() {
        let text = text();
        let modules = Files::iter().filter(|name| holds(name)).count();
        assert!(modules > 10);
        let mut names = BTreeSet::new();
        for line in text.lines() {
            let mut words = line.split(|c: char| !(c.is_alphanumeric() || c == '_'));
            if let (Some("function" | "const" | "let" | "class"), Some(name)) =
                (words.next(), words.next())
            {
                assert!(names.insert(name.to_owned()), "{name} is declared twice");
            }
        }
        for name in ["Checks", "Flagging", "Evidence", "plan", "parseLength", "load"] {
            assert!(names.contains(name), "{name}");
        }
        let left: Vec<&str> = text.lines().filter(|line| line.starts_with("import ")).collect();
        assert_eq!(left, ["import { tenth } from \"./model/words.js\";"]);
        assert_eq!(text.lines().filter(|line| line.starts_with("export ")).count(), 1);
    }
}
