//! Loss: the server is killed (SIGKILL, so that nothing is flushed and no handler runs) at seeded
//! moments while phones post readings. After each start every acknowledged reading is there once,
//! and none that was not sent.

use std::collections::{BTreeSet, HashSet};
use std::time::{Duration, Instant};

use handcall::store::check;
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::seeded::Seeded;
use handcall_tests::workshop::{Sent, Workshop};
use uuid::Uuid;

/// Kills in one run; `HANDCALL_KILLS` asks for another number.
const KILLS: usize = 200;

/// Phones posting at the same time.
const PHONES: usize = 4;

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

#[test]
fn every_acknowledged_reading_survives_a_kill_at_any_moment_and_no_other_appears() {
    let kills = std::env::var("HANDCALL_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(KILLS);
    let folder = Scratch::new("faults");
    let mut moments = Seeded::new(7);
    let mut acknowledged_in_all = 0;
    let mut expected: Option<(String, Ledger)> = None;
    let mut production = None;
    let started = Instant::now();
    for kill in 0..=kills {
        let server = Running::start(folder.path()).expect("it starts after every kill");
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
        if kill == kills {
            break;
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
    eprintln!(
        "{kills} kills, {acknowledged_in_all} acknowledged readings, {:?}",
        started.elapsed()
    );
}
