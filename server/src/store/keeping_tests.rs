//! Nothing lost, nothing left: the audit chain, backup and restore, erasure.

use std::path::Path;

use uuid::Uuid;

use super::audit::{self, Action};
use super::reading;
use super::tests::{Folder, performer_in, reading_of};
use super::{Store, StoreError, backup, check, subject};

fn with_reading(folder: &Folder, mm: f64) -> (Store, Uuid) {
    let store = folder.open();
    let performer = performer_in(&store);
    let fact = reading_of(performer, mm);
    store
        .write_now(move |c| {
            reading::add(c, &fact)?;
            audit::add(c, "ada", Action::PerformerAdded, Some(performer))
        })
        .expect("stored");
    (store, performer)
}

fn readings(path: &Path, performer: Uuid) -> Vec<f64> {
    let store = Store::open(path).expect("opens");
    let read = store.read_now(|c| reading::of_performer(c, performer)).expect("read");
    read.iter().map(|r| r.mm).collect()
}

#[test]
fn every_action_has_its_own_key() {
    let keys: std::collections::HashSet<_> = Action::ALL.iter().map(|a| a.key()).collect();
    assert_eq!(keys.len(), Action::ALL.len());
}

#[test]
fn the_audit_trail_cannot_be_changed_or_shortened_by_sql() {
    let folder = Folder::new();
    let (store, _) = with_reading(&folder, 181.0);
    let connection = rusqlite::Connection::open(store.path()).expect("opens");
    for sql in ["UPDATE audit SET actor = 'eve'", "DELETE FROM audit"] {
        let error = connection.execute(sql, []).expect_err(sql).to_string();
        assert!(error.contains("append-only"), "{error}");
    }
}

#[test]
fn a_trail_that_was_tampered_with_is_found_at_its_first_false_entry() {
    let folder = Folder::new();
    let store = folder.open();
    for actor in ["ada", "bo", "cy", "di"] {
        store.write_now(move |c| audit::add(c, actor, Action::SignedIn, None)).expect("added");
    }
    let chain = |store: &Store| store.read_now(audit::verify).expect("walked");
    assert_eq!((chain(&store).entries, chain(&store).broken_at), (4, None));
    let tamper = |sql: &str| {
        let connection = rusqlite::Connection::open(store.path()).expect("opens");
        connection
            .execute_batch(
                "DROP TRIGGER audit_is_never_changed; DROP TRIGGER audit_is_never_shortened",
            )
            .ok();
        connection.execute(sql, []).expect("a forger with the file can do that");
    };
    tamper("UPDATE audit SET actor = 'eve' WHERE number = 3");
    assert_eq!(chain(&store).broken_at, Some(3));
    tamper("UPDATE audit SET actor = 'cy' WHERE number = 3");
    assert_eq!(chain(&store).broken_at, None);
    tamper("DELETE FROM audit WHERE number = 2");
    assert_eq!(chain(&store).broken_at, Some(3));
}

#[test]
fn a_backup_made_while_readings_arrive_is_sound_and_holds_every_acknowledged_one() {
    let folder = Folder::new();
    let (store, performer) = with_reading(&folder, 50.0);
    let target = folder.path().join("copy.sqlite");
    let acknowledged = std::thread::scope(|scope| {
        let writer = scope.spawn(|| {
            for turn in 0..200 {
                let fact = reading_of(performer, f64::from(100 + turn));
                store.write_now(move |c| reading::add(c, &fact)).expect("stored");
            }
        });
        while store.read_now(|c| reading::of_performer(c, performer)).expect("read").len() < 20 {}
        let before = store.read_now(|c| reading::of_performer(c, performer)).expect("read").len();
        let report = backup::make(store.path(), &target).expect("a backup while in use");
        assert!(report.is_sound(), "{report:?}");
        writer.join().expect("the writer ends");
        before
    });
    let held = readings(&target, performer);
    assert!(held.len() >= acknowledged, "{} of {acknowledged}", held.len());
    // A state of one moment: the readings in the order they were sent, without a hole.
    let expected = std::iter::once(50.0).chain((100..300).map(f64::from));
    assert!(expected.take(held.len()).eq(held.iter().copied()));
    assert!(matches!(
        backup::make(store.path(), &target),
        Err(StoreError::Refused { code: "backup_exists", .. })
    ));
}

#[test]
fn a_restored_backup_gives_the_same_answers_and_keeps_what_it_replaced() {
    let (here, there) = (Folder::new(), Folder::new());
    let (store, performer) = with_reading(&here, 181.0);
    let copy = here.path().join("copy.sqlite");
    backup::make(store.path(), &copy).expect("made");
    let (other, lost) = with_reading(&there, 99.0);
    let path = other.path().to_owned();
    assert!(matches!(
        backup::restore(&copy, &path),
        Err(StoreError::Refused { code: "database_in_use", .. })
    ));
    assert_eq!(readings(&path, lost), [99.0]);
    drop(other);
    let kept = restore_once_closed(&copy, &path).expect("something was replaced");
    assert_eq!(readings(&path, performer), [181.0]);
    assert_eq!(readings(&kept, lost), [99.0]);
    assert!(check::file(&path).expect("checked").is_sound());
}

/// A dropped store closes its file when its writing thread ends, a moment later.
fn restore_once_closed(copy: &Path, path: &Path) -> Option<std::path::PathBuf> {
    for _ in 0..200 {
        match backup::restore(copy, path) {
            Err(StoreError::Refused { code: "database_in_use", .. }) => {
                std::thread::sleep(std::time::Duration::from_millis(10));
            }
            result => return result.expect("restored"),
        }
    }
    panic!("the database was never let go");
}

#[test]
fn a_damaged_or_foreign_backup_is_refused_and_changes_nothing() {
    let folder = Folder::new();
    let (store, performer) = with_reading(&folder, 181.0);
    let path = store.path().to_owned();
    let copy = folder.path().join("copy.sqlite");
    backup::make(&path, &copy).expect("made");
    drop(store);
    let whole = std::fs::read(&copy).expect("read");
    let cut = whole.get(..whole.len() / 2).expect("half").to_vec();
    let foreign = b"SQLite format 3\0 but not really a database".repeat(100);
    for bytes in [cut, foreign, Vec::new()] {
        let bad = folder.path().join("bad.sqlite");
        std::fs::write(&bad, bytes).expect("written");
        assert!(backup::restore(&bad, &path).is_err());
    }
    assert!(backup::restore(&folder.path().join("missing.sqlite"), &path).is_err());
    assert_eq!(readings(&path, performer), [181.0]);
}

#[test]
fn a_file_of_the_first_version_is_brought_forward_with_a_copy_kept() {
    let folder = Folder::new();
    std::fs::create_dir_all(folder.path()).expect("made");
    let path = folder.path().join("handcall.sqlite");
    let old = rusqlite::Connection::open(&path).expect("opens");
    old.execute_batch(include_str!("schema_1.sql")).expect("the first schema");
    old.execute_batch("PRAGMA user_version = 1").expect("its version");
    drop(old);
    let store = Store::open(&path).expect("brought forward");
    store
        .write_now(|c| audit::add(c, "ada", Action::SignedIn, None))
        .expect("the new table is there");
    assert_eq!(super::migrations::copies(&path).expect("listed").len(), 1);
}

#[test]
fn after_erasure_nothing_of_the_performer_is_found_in_the_data_folder() {
    let folder = Folder::new();
    let marker = 1_234.567_891;
    let (store, performer) = with_reading(&folder, marker);
    // Also a performer whose rows must stay, and a copy such as a migration keeps.
    std::fs::copy(store.path(), store.path().with_extension("before-2.sqlite")).expect("copied");
    let needles: [Vec<u8>; 4] = [
        b"QXZERASE".to_vec(),
        b"Wilhelmina Unmistakable".to_vec(),
        marker.to_be_bytes().to_vec(),
        marker.to_string().into_bytes(),
    ];
    let renamed = performer;
    store
        .write_now(move |c| {
            c.execute(
                "UPDATE performer SET code = 'QXZERASE', name = 'Wilhelmina Unmistakable' WHERE id = ?1",
                [renamed],
            )?;
            Ok(())
        })
        .expect("named");
    let found = |needle: &[u8]| {
        std::fs::read_dir(folder.path()).expect("listed").flatten().any(|file| {
            let bytes = std::fs::read(file.path()).expect("read");
            bytes.windows(needle.len()).any(|window| window == needle)
        })
    };
    for needle in &needles {
        assert!(found(needle), "the search must be able to find {needle:?} before");
    }
    store
        .write_now(move |c| {
            subject::erase(c, performer)?;
            audit::add(c, "ada", Action::PerformerErased, Some(performer))
        })
        .expect("erased");
    store.forget().expect("forgotten");
    for needle in &needles {
        assert!(!found(needle), "{needle:?} is still there");
    }
    assert!(matches!(
        store.read_now(|c| subject::everything(c, performer)),
        Err(StoreError::NotFound)
    ));
    let report = store.read_now(check::connection_report).expect("checked");
    assert!(report.is_sound(), "{report:?}");
}

#[test]
fn everything_about_a_performer_holds_their_withdrawn_readings_too() {
    let folder = Folder::new();
    let (store, performer) = with_reading(&folder, 181.0);
    let second = reading_of(performer, 118.0);
    let id = second.id;
    store
        .write_now(move |c| {
            reading::add(c, &second)?;
            reading::withdraw(c, id, "digits swapped", "ada")
        })
        .expect("stored");
    let held = store.read_now(|c| subject::everything(c, performer)).expect("read");
    assert_eq!(held.readings.iter().map(|r| r.mm).collect::<Vec<_>>(), [181.0]);
    assert_eq!(held.withdrawn.iter().map(|w| w.reading.mm).collect::<Vec<_>>(), [118.0]);
    assert_eq!(held.withdrawn.first().map(|w| w.reason.as_str()), Some("digits swapped"));
}

/// Tables that hold nobody who is measured, or all of it by way of a production.
const OF_NOBODY: [&str; 17] = [
    "account",
    "audit",
    "batch",
    "consent_text",
    "erased",
    "exercise",
    "fabric",
    "fabric_beginning",
    "fabric_version",
    "half_sign_in",
    "lay",
    "production",
    "recovery_code",
    "second_factor",
    "session",
    "sign_in_link",
    "workshop_model",
];

#[test]
fn every_table_is_erased_with_a_performer_or_is_known_to_hold_nobody() {
    let folder = Folder::new();
    let store = folder.open();
    let (tables, references) = store
        .read_now(|c| {
            let mut statement = c.prepare(
                "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'",
            )?;
            let tables =
                statement.query_map([], |row| row.get(0))?.collect::<Result<Vec<String>, _>>()?;
            let mut references: Vec<(String, String)> = Vec::new();
            for table in &tables {
                let mut keys = c.prepare(
                    "SELECT \"table\" FROM pragma_foreign_key_list(?1) WHERE on_delete = 'CASCADE'",
                )?;
                for to in keys.query_map([table], |row| row.get(0))? {
                    references.push((table.clone(), to?));
                }
            }
            Ok((tables, references))
        })
        .expect("read");
    let mut erased = vec!["performer".to_owned()];
    let mut at = 0;
    while let Some(parent) = erased.get(at).cloned() {
        for (table, to) in &references {
            if *to == parent && !erased.contains(table) {
                erased.push(table.clone());
            }
        }
        at += 1;
    }
    for table in &tables {
        let is_known = erased.contains(table) != OF_NOBODY.contains(&table.as_str());
        assert!(
            is_known,
            "{table}: let it go with the performer (ON DELETE CASCADE), or say that it holds nobody"
        );
    }
}
