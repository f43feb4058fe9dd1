//! The files of a batch as other programs see them: the ZIP through Info-ZIP (`unzip -t`), the
//! SVG through Python's XML parser, the lists through a CSV reader.

use std::process::Command;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use analysis::dimension::Dimension;
use analysis::draft::{GirthReduction, GloveOptions};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use handcall::batch::{BatchError, BatchOrder, BatchPerformer, Sink, ZipSink, run};
use handcall::export::pdf::Paper;
use handcall_tests::place::Scratch;

fn performer(code: &str) -> BatchPerformer {
    let readings = [(Side::Right, Dimension::HandLength, 181.0)];
    BatchPerformer {
        kept_flags: Vec::new(),
        code: code.to_owned(),
        population: Population::Women,
        hands: Hands::from_readings(&readings),
        call: "@SUM(A1)".to_owned(),
        fabric: "=HYPERLINK(\"http://example.invalid\")".to_owned(),
        cloth: None,
        options: GloveOptions::default(),
        master: None,
    }
}

fn order(codes: &[&str]) -> BatchOrder {
    let performers = codes.iter().map(|code| performer(code)).collect();
    let production = "<Sel> & \u{c9}cume \u{0}\u{7}";
    BatchOrder::of_one_version(production, ("2", "2026-03-14"), Paper::A4, performers)
}

/// Keeps files in memory; fails once it holds `room` of them.
struct Shelf {
    files: Vec<(String, Vec<u8>)>,
    room: usize,
}

impl Sink for Shelf {
    fn file(&mut self, name: &str, bytes: &[u8]) -> std::io::Result<()> {
        if self.files.len() == self.room {
            return Err(std::io::Error::from(std::io::ErrorKind::StorageFull));
        }
        self.files.push((name.to_owned(), bytes.to_vec()));
        Ok(())
    }
}

fn shelf() -> Shelf {
    Shelf { files: Vec::new(), room: usize::MAX }
}

#[test]
fn the_zip_opens_elsewhere_and_is_the_same_twice() {
    let model = HandModel::published();
    let zipped = || {
        let mut sink = ZipSink::new(Vec::new());
        let order = order(&["A/1", "a-1", "Zo\u{eb}", "../../up"]);
        run(&model, &order, &mut sink, &|_, _| {}, &AtomicBool::new(false)).expect("a batch");
        sink.finish().expect("a ZIP")
    };
    let bytes = zipped();
    assert_eq!(bytes, zipped());
    let folder = Scratch::new("batch-zip");
    let path = folder.path().join("batch.zip");
    std::fs::write(&path, &bytes).expect("written");
    let tested = Command::new("unzip").arg("-t").arg(&path).output().expect("unzip");
    let words = String::from_utf8_lossy(&tested.stdout).into_owned();
    assert!(tested.status.success() && words.contains("No errors"), "{words}");
    let out = folder.path().join("out");
    let unpacked =
        Command::new("unzip").args(["-q", "-d"]).arg(&out).arg(&path).output().expect("unzip");
    assert!(unpacked.status.success());
    let mut names: Vec<String> = std::fs::read_dir(&out)
        .expect("unpacked")
        .map(|f| f.expect("a file").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    assert_eq!(names.len(), 4 * 6 + 7, "{names:?}");
    for name in names.iter().filter(|name| name.ends_with(".svg")) {
        let parsed = Command::new("python3")
            .args(["-c", "import sys, xml.etree.ElementTree as t; t.parse(sys.argv[1])"])
            .arg(out.join(name))
            .output()
            .expect("python3");
        assert!(parsed.status.success(), "{}", String::from_utf8_lossy(&parsed.stderr));
    }
}

#[test]
fn lists_carry_no_formula_and_name_whoever_has_few_readings() {
    let mut shelf = shelf();
    let order = order(&["=1+1", "B2"]);
    run(&HandModel::published(), &order, &mut shelf, &|_, _| {}, &AtomicBool::new(false))
        .expect("a batch");
    let list = |name: &str| -> Vec<csv::StringRecord> {
        let (_, bytes) = shelf.files.iter().find(|(n, _)| n == name).expect("listed");
        csv::Reader::from_reader(bytes.as_slice()).records().map(|r| r.expect("a row")).collect()
    };
    for record in
        list("cut-list.csv").iter().chain(&list("attention.csv")).chain(&list("call-sheet.csv"))
    {
        for cell in record {
            assert!(!cell.starts_with(['=', '+', '-', '@']), "{cell}");
        }
    }
    let few: Vec<_> =
        list("attention.csv").into_iter().filter(|r| &r[2] == "few_readings").collect();
    assert_eq!(few.len(), 2);
    let pieces = list("cut-list.csv").iter().filter(|r| &r[0] == "B2").count();
    assert_eq!(pieces, 4, "two pieces a glove, two gloves");
}

#[test]
fn somebody_who_cannot_be_drafted_does_not_stop_the_rest() {
    let mut order = order(&["A", "B", "C"]);
    let impossible = GirthReduction { palm: 0.99, wrist: 0.99, fingers: 0.99, thumb: 0.99 };
    order.items[1].performer.options.reduction = impossible;
    let mut shelf = shelf();
    let report =
        run(&HandModel::published(), &order, &mut shelf, &|_, _| {}, &AtomicBool::new(false))
            .expect("a batch");
    let drafted: Vec<bool> =
        report.results.iter().map(|r| r.gloves.iter().all(|g| g.outcome.is_ok())).collect();
    assert_eq!(drafted, [true, false, true]);
    let (_, attention) = shelf.files.iter().find(|(n, _)| n == "attention.csv").expect("the list");
    assert!(String::from_utf8_lossy(attention).contains("B,left,not_drafted"));
}

#[test]
fn progress_rises_to_the_whole_and_cancelling_ends_it() {
    let codes: Vec<String> = (0..40).map(|i| format!("P{i}")).collect();
    let codes: Vec<&str> = codes.iter().map(String::as_str).collect();
    let heard = Mutex::new(Vec::new());
    let model = HandModel::published();
    let never = AtomicBool::new(false);
    let listen = |done, total| heard.lock().expect("heard").push((done, total));
    run(&model, &order(&codes), &mut shelf(), &listen, &never).expect("a batch");
    let mut counts: Vec<usize> =
        heard.into_inner().expect("heard").into_iter().map(|(done, _)| done).collect();
    counts.sort_unstable();
    assert_eq!(counts, (0..=40).collect::<Vec<_>>());

    let cancel = AtomicBool::new(false);
    let stop_at_five = |done, _| cancel.store(done >= 5, Ordering::Relaxed);
    let ended = run(&model, &order(&codes), &mut shelf(), &stop_at_five, &cancel);
    assert!(matches!(ended, Err(BatchError::Cancelled)));
}

#[test]
fn a_full_disk_is_said_in_plain_words() {
    let mut full = Shelf { files: Vec::new(), room: 3 };
    let ended = run(
        &HandModel::published(),
        &order(&["A", "B"]),
        &mut full,
        &|_, _| {},
        &AtomicBool::new(false),
    );
    let words = ended.expect_err("no room").to_string();
    assert!(words.contains("Free some space") && words.contains("no reading is lost"), "{words}");
    assert!(matches!(
        run(&HandModel::published(), &order(&[]), &mut full, &|_, _| {}, &AtomicBool::new(false)),
        Err(BatchError::Nobody)
    ));
}
