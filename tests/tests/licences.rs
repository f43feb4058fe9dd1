//! Every crate that goes into the program has a licence under which it may.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use handcall_tests::place::repository;
use serde_json::Value;

/// Licences (SPDX) that ask for no more than their notice, so that they go with MIT.
const FINE: [&str; 12] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Zlib",
];

/// Whether an expression is met by licences that are fine: every term of AND, one of OR. A slash is
/// the old way of writing OR. No expression here nests deeper than one pair of brackets.
fn is_fine(expression: &str) -> bool {
    let expression = expression.replace('/', " OR ");
    let mut flat = String::new();
    let mut rest = expression.as_str();
    while let Some((before, (inside, after))) =
        rest.split_once('(').and_then(|(before, tail)| Some((before, tail.split_once(')')?)))
    {
        flat += before;
        flat += if is_fine(inside) { "MIT" } else { "no" };
        rest = after;
    }
    flat += rest;
    flat.split(" AND ").all(|all| all.split(" OR ").any(|one| FINE.contains(&one.trim())))
}

#[test]
fn expressions_are_read_as_spdx_means_them() {
    for fine in ["MIT", "MIT OR GPL-3.0", "MIT/Apache-2.0", "(MIT OR GPL-3.0) AND ISC"] {
        assert!(is_fine(fine), "{fine}");
    }
    for not in ["GPL-3.0", "MIT AND GPL-3.0", "(GPL-2.0 OR GPL-3.0) AND MIT", ""] {
        assert!(!is_fine(not), "{not}");
    }
}

#[test]
fn every_crate_of_the_program_has_a_licence_that_goes_with_ours() {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let output = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(repository())
        .output()
        .expect("cargo runs");
    let metadata: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let packages: BTreeMap<String, Value> = list(&metadata["packages"])
        .into_iter()
        .map(|package| (package["id"].as_str().unwrap_or_default().to_owned(), package))
        .collect();
    let needs: BTreeMap<String, Vec<String>> = list(&metadata["resolve"]["nodes"])
        .iter()
        .map(|node| {
            let goes_in =
                |dep: &Value| list(&dep["dep_kinds"]).iter().any(|kind| kind["kind"].is_null());
            let needed = list(&node["deps"]).into_iter().filter(goes_in);
            let ids = needed.filter_map(|dep| dep["pkg"].as_str().map(str::to_owned)).collect();
            (node["id"].as_str().unwrap_or_default().to_owned(), ids)
        })
        .collect();
    let program = packages.iter().find(|(_, package)| package["name"] == "handcall");
    let mut open = vec![program.expect("the program").0.clone()];
    let (mut seen, mut counts) = (BTreeSet::new(), BTreeMap::<String, usize>::new());
    while let Some(id) = open.pop() {
        if !seen.insert(id.clone()) {
            continue;
        }
        let package = &packages[&id];
        let licence = package["license"].as_str().unwrap_or_default();
        assert!(is_fine(licence), "{} is under \"{licence}\"", package["name"]);
        *counts.entry(licence.to_owned()).or_default() += 1;
        open.extend(needs.get(&id).cloned().unwrap_or_default());
    }
    assert!(seen.len() > 100, "{} crates are too few to be all", seen.len());
    for (licence, count) in counts {
        eprintln!("| {licence} | {count} |");
    }
}
