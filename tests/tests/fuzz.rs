//! Whatever arrives: the targets of `handcall_tests::fuzzing` on their kept corpora, on what a few
//! random changes make of those, and on tables and facts built to be trouble. Longer:
//! `PROPTEST_CASES=100000 cargo test -p handcall-tests --test fuzz`, or guided by coverage, with
//! nightly and cargo-fuzz, `cargo +nightly fuzz run TARGET --sanitizer none` in `tests/`.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use analysis::dimension::Dimension;
use handcall_tests::fuzzing::{self, TARGETS, Target};
use handcall_tests::place::repository;
use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use uuid::Uuid;

/// Cells that people and machines put into rosters, good and bad.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => "[0-9]{1,4}([.,][0-9]{1,3})?( ?(mm|cm|in|ft|\"))?",
        2 => "[A-Za-z0-9 -]{0,12}",
        1 => "\\PC{0,20}",
        1 => prop_oneof![Just("=1+1"), Just("\"\""), Just("\u{feff}"), Just("1e999"), Just("-0")]
            .prop_map(str::to_owned),
    ]
}

fn header() -> impl Strategy<Value = String> {
    let known: Vec<String> = Dimension::ALL
        .into_iter()
        .flat_map(|d| [d.key().to_owned(), format!("left {} (cm)", d.name())])
        .chain(["code", "name", "reference", "fabric", "age", "note"].map(str::to_owned))
        .collect();
    prop_oneof![5 => proptest::sample::select(known), 1 => "\\PC{0,12}"]
}

fn table() -> impl Strategy<Value = String> {
    let headers = proptest::collection::vec(header(), 1..8);
    let lines = proptest::collection::vec(proptest::collection::vec(cell(), 0..9), 0..8);
    let separators = proptest::sample::select(vec![",", ";", "\t"]);
    (headers, lines, separators, any::<bool>()).prop_map(|(headers, lines, separator, has_code)| {
        let mut out = if has_code { format!("code{separator}") } else { String::new() };
        out += &headers.join(separator);
        for (at, line) in lines.iter().enumerate() {
            let start = if has_code { format!("P{at}{separator}") } else { String::new() };
            out += &format!("\n{start}{}", line.join(separator));
        }
        out
    })
}

fn fact() -> impl Strategy<Value = serde_json::Value> {
    let key =
        proptest::sample::select(vec!["id", "performer", "side", "dimension", "value", "unit"]);
    (key, cell(), 0..6_u8).prop_map(|(key, text, kind)| {
        let mut fact = serde_json::json!({
            "fact": "reading", "id": Uuid::now_v7(), "performer": "PERFORMER", "side": "right",
            "dimension": "hand_length", "value": "181", "unit": "mm", "taken_ms": -1,
        });
        fact[key] = match kind {
            0 => serde_json::Value::Null,
            1 => serde_json::json!(1e300),
            2 => serde_json::json!([text]),
            _ => serde_json::json!(text),
        };
        fact
    })
}

fn corpus(target: &str) -> Vec<Vec<u8>> {
    let folder = repository().join("tests/fuzz/corpus").join(target);
    let mut files: Vec<_> =
        std::fs::read_dir(folder).expect("a corpus").flatten().map(|entry| entry.path()).collect();
    files.sort();
    files.iter().map(|file| std::fs::read(file).expect("read")).collect()
}

/// One change of some bytes: a byte set, a stretch taken out, doubled or put in.
#[derive(Debug, Clone)]
enum Change {
    Set(prop::sample::Index, u8),
    Cut(prop::sample::Index, usize),
    Double(prop::sample::Index, usize),
    Insert(prop::sample::Index, Vec<u8>),
}

fn change() -> impl Strategy<Value = Change> {
    let at = any::<prop::sample::Index>;
    prop_oneof![
        (at(), any::<u8>()).prop_map(|(at, byte)| Change::Set(at, byte)),
        (at(), 1..20_usize).prop_map(|(at, length)| Change::Cut(at, length)),
        (at(), 1..60_usize).prop_map(|(at, length)| Change::Double(at, length)),
        (at(), prop::collection::vec(any::<u8>(), 1..9))
            .prop_map(|(at, bytes)| Change::Insert(at, bytes)),
    ]
}

fn changed(mut bytes: Vec<u8>, changes: &[Change]) -> Vec<u8> {
    for change in changes {
        let at = |index: &prop::sample::Index| index.index(bytes.len() + 1);
        match change {
            Change::Set(index, byte) => {
                let at = at(index);
                if let Some(place) = bytes.get_mut(at) {
                    *place = *byte;
                }
            }
            Change::Cut(index, length) => {
                let at = at(index);
                bytes.drain(at..(at + length).min(bytes.len()));
            }
            Change::Double(index, length) => {
                let at = at(index);
                let again = bytes[at..(at + length).min(bytes.len())].to_vec();
                bytes.splice(at..at, again);
            }
            Change::Insert(index, more) => {
                let at = at(index);
                bytes.splice(at..at, more.iter().copied());
            }
        }
    }
    bytes
}

/// The kept corpus as it stands, then changed and mixed with bytes out of nowhere.
fn feed(name: &str, target: Target) {
    let corpus = corpus(name);
    assert!(!corpus.is_empty(), "{name} has no corpus");
    corpus.iter().for_each(|bytes| target(bytes));
    let kept = (prop::sample::select(corpus), prop::collection::vec(change(), 0..6))
        .prop_map(|(bytes, changes)| changed(bytes, &changes));
    let any = prop::collection::vec(any::<u8>(), 0..600);
    let input = prop_oneof![3 => kept, 1 => any];
    let fed = TestRunner::default().run(&input, |bytes| {
        target(&bytes);
        Ok(())
    });
    fed.expect("no finding");
}

#[test]
fn no_input_near_a_kept_one_or_out_of_nowhere_is_a_finding() {
    for (name, target) in TARGETS {
        feed(name, target);
    }
}

proptest! {
    #[test]
    fn any_roster_is_read_or_refused_and_what_is_read_is_within_bounds(
        text in table(),
        unit in 0..3_u8,
    ) {
        fuzzing::roster(&[&[unit], text.as_bytes()].concat());
    }

    #[test]
    fn any_facts_are_kept_or_refused_one_by_one(facts in prop::collection::vec(fact(), 1..8)) {
        fuzzing::facts(serde_json::json!(facts).to_string().as_bytes());
    }
}
