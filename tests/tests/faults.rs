//! Loss: the server is killed (SIGKILL, so that nothing is flushed and no handler runs) at seeded
//! moments while phones post readings, batches run and backups are made. After each start every
//! acknowledged reading is there once, and none that was not sent; every backup that bears its name
//! is sound; and in the end every batch that was acknowledged is whole.

#![expect(clippy::expect_used, clippy::panic, reason = "a test stops at what it did not expect")]

use std::collections::{BTreeSet, HashSet};
use std::path::Path;
use std::time::{Duration, Instant};

use handcall::store::check;
use handcall_tests::page::{forms, links};
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::seeded::Seeded;
use handcall_tests::workshop::{Sent, Workshop, expect};
use uuid::Uuid;

/// Kills in one run; `HANDCALL_KILLS` asks for another number.
const KILLS: usize = 200;

/// Phones posting at the same time.
const PHONES: usize = 4;

/// A batch is started before every such kill: it goes on after the next start.
const KILLS_A_BATCH: usize = 12;

/// From one backup to the next, hours: a tenth of a second, so that most kills meet one.
const BACKUP_HOURS: &str = "0.00003";

/// Readings in one request: some phones send one, some what they kept without signal.
const BATCHES: [usize; 3] = [1, 1, 7];

const SIDES: [&str; 2] = ["left", "right"];
const DIMENSIONS: [&str; 4] = ["hand_length", "hand_girth", "middle_length", "wrist_girth"];

#[derive(Default)]
struct Ledger {
    sent: HashSet<Uuid>,
    acknowledged: HashSet<Uuid>,
    faults: Vec<String>,
}

/// Posts until the server is gone; what was answered with 200 is acknowledged.
fn post_until_it_dies(mut phone: Workshop, performer: &str, turn: usize) -> Ledger {
    let mut ledger = Ledger::default();
    for round in 0.. {
        let count = BATCHES[(turn + round) % BATCHES.len()];
        let readings: Vec<Sent> = (0..count)
            .map(|at| Sent {
                id: Uuid::now_v7(),
                side: SIDES[at % 2],
                dimension: DIMENSIONS[(round + at) % 4],
                value: format!("{}", 60 + (round * 7 + at) % 200),
            })
            .collect();
        ledger.sent.extend(readings.iter().map(|r| r.id));
        match phone.post_readings(performer, &readings) {
            Ok(answer) if answer.status == 200 => {
                let answer = answer.json();
                let results = answer["results"].as_array().cloned().unwrap_or_default();
                ledger.acknowledged.extend(
                    results
                        .iter()
                        .filter(|result| result["state"] == "kept")
                        .filter_map(|result| result["id"].as_str()?.parse::<Uuid>().ok()),
                );
            }
            // The store holds 500 readings of one performer: no more are taken.
            Ok(answer) if answer.status < 500 => break,
            Ok(answer) => ledger.faults.push(format!("{}: {}", answer.status, answer.text())),
            Err(_) => break,
        }
    }
    ledger
}

/// A production with somebody measured, so that batches have something to make.
fn measured(desk: &mut Workshop) -> String {
    let production = desk.add_production("Batches").expect("added");
    let performer = desk.add_performer(&production, "B1").expect("added");
    let readings = [("hand_length", "181"), ("hand_girth", "186"), ("middle_length", "77")].map(
        |(dimension, value)| Sent {
            id: Uuid::now_v7(),
            side: "right",
            dimension,
            value: value.to_owned(),
        },
    );
    desk.post_readings(&performer, &readings).and_then(|a| expect(a, 200)).expect("posted");
    production
}

/// Starts a batch of everybody who is measured.
fn start_batch(desk: &mut Workshop, production: &str) {
    let path = format!("/productions/{production}/batches");
    let page = desk.client.get(&path).expect("the page").text();
    let form = forms(&page).into_iter().find(|form| form.action == path).expect("the form");
    let started = desk.client.post_form(&path, &form.with("", "")).expect("started");
    assert_eq!(started.status, 303, "{}", started.text());
}

/// Waits until no batch runs, then opens every ZIP: the index at its end says that it is whole.
fn finished_batches(desk: &mut Workshop, production: &str) -> usize {
    let path = format!("/productions/{production}/batches");
    for _ in 0..1200 {
        let page = desk.client.get(&path).expect("the page").text();
        let all = links(&page, "/batches/");
        if all.iter().any(|link| link.ends_with("/cancel")) {
            std::thread::sleep(Duration::from_millis(50));
            continue;
        }
        let zips: Vec<_> = all.iter().filter(|link| link.ends_with("gloves.zip")).collect();
        for zip in &zips {
            let body = desk.client.get(zip).expect("downloaded").body;
            let is_whole = body.len() > 22 && body[body.len() - 22..].starts_with(b"PK\x05\x06");
            assert!(body.starts_with(b"PK") && is_whole, "{zip} is not a whole ZIP");
        }
        return zips.len();
    }
    panic!("a batch never ended");
}

/// How many backups there are; each that bears its name is sound.
fn sound_backups(folder: &Path) -> usize {
    let files = std::fs::read_dir(folder).expect("listed").flatten().map(|entry| entry.path());
    let finished = files.filter(|path| !path.to_string_lossy().contains("unfinished"));
    let mut count = 0;
    for file in finished.filter(|path| path.extension().is_some_and(|end| end == "sqlite")) {
        let report = check::file(&file).expect("checked");
        assert!(report.is_sound(), "{}: {report:?}", file.display());
        count += 1;
    }
    count
}

#[test]
fn every_acknowledged_reading_survives_a_kill_at_any_moment_and_no_other_appears() {
    let kills = std::env::var("HANDCALL_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(KILLS);
    let folder = Scratch::new("faults");
    let mut moments = Seeded::new(7);
    let mut acknowledged_in_all = 0;
    let mut expected: Option<(String, Ledger)> = None;
    let mut production = None;
    let backups = Scratch::new("faults-backups");
    let words = [
        "--backups",
        &*backups.path().to_string_lossy(),
        "--backup-hours",
        BACKUP_HOURS,
        "--backups-kept",
        "3",
    ];
    let (mut measured_in, mut batches, mut seen_backups) = (None, 0, 0);
    let started = Instant::now();
    for kill in 0..=kills {
        // Before the start: the next server removes the oldest.
        seen_backups += sound_backups(backups.path());
        let server =
            Running::start_with(folder.path(), &words).expect("it starts after every kill");
        let mut desk = Workshop::open(&server).expect("signed in");
        if let Some((performer, ledger)) = expected.take() {
            let held = desk.reading_ids(&performer).expect("exported");
            let once: BTreeSet<_> = held.iter().copied().collect();
            assert_eq!(once.len(), held.len(), "kill {kill}: a reading is there twice");
            let lost: Vec<_> = ledger.acknowledged.iter().filter(|id| !once.contains(id)).collect();
            assert!(lost.is_empty(), "kill {kill}: acknowledged and lost: {lost:?}");
            let unsent: Vec<_> = once.iter().filter(|id| !ledger.sent.contains(id)).collect();
            assert!(unsent.is_empty(), "kill {kill}: never sent: {unsent:?}");
            acknowledged_in_all += ledger.acknowledged.len();
        }
        let production_of_batches = measured_in.get_or_insert_with(|| measured(&mut desk)).clone();
        if kill == kills {
            assert_eq!(finished_batches(&mut desk, &production_of_batches), batches);
            break;
        }
        if kill % KILLS_A_BATCH == 0 {
            start_batch(&mut desk, &production_of_batches);
            batches += 1;
        }
        let home = production.get_or_insert_with(|| desk.add_production("Kill").expect("added"));
        let performer = desk.add_performer(home, &format!("K{kill:03}")).expect("added");
        let moment = Duration::from_micros(moments.between(500, 60_000));
        let mut ledger = Ledger::default();
        std::thread::scope(|scope| {
            let phones: Vec<_> = (0..PHONES)
                .map(|turn| {
                    let (phone, performer) = (desk.twin(), performer.as_str());
                    scope.spawn(move || post_until_it_dies(phone, performer, turn))
                })
                .collect();
            std::thread::sleep(moment);
            server.kill().expect("killed");
            for phone in phones {
                let part = phone.join().expect("a phone ends");
                ledger.sent.extend(part.sent);
                ledger.acknowledged.extend(part.acknowledged);
                ledger.faults.extend(part.faults);
            }
        });
        assert!(ledger.faults.is_empty(), "{:?}", ledger.faults);
        expected = Some((performer, ledger));
    }
    let report = check::file(&folder.path().join("handcall.sqlite")).expect("checked");
    assert!(report.is_sound(), "{report:?}");
    assert!(acknowledged_in_all >= kills, "the load was too thin to prove anything");
    assert!(seen_backups >= kills, "{seen_backups} backups are too few to prove anything");
    eprintln!(
        "{kills} kills, {acknowledged_in_all} acknowledged readings, {batches} batches, \
         {seen_backups} backups looked at, {:?}",
        started.elapsed()
    );
}
