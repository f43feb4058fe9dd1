use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::Population;
use uuid::Uuid;

use super::performer::NewPerformer;
use super::reading::Reading;
use super::{Store, StoreError, performer, production, reading};

pub(super) struct Folder(std::path::PathBuf);

impl Folder {
    pub(super) fn new() -> Folder {
        Folder(std::env::temp_dir().join(format!("handcall-store-{}", Uuid::now_v7())))
    }

    pub(super) fn path(&self) -> &std::path::Path {
        &self.0
    }

    pub(super) fn open(&self) -> Store {
        Store::open(&self.0.join("handcall.sqlite")).expect("a new store opens")
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn somebody(code: &str) -> NewPerformer {
    NewPerformer {
        code: code.to_owned(),
        name: "Ada".to_owned(),
        population: Population::Women,
        fabric: None,
        call: String::new(),
        note: String::new(),
    }
}

pub(super) fn reading_of(performer: Uuid, mm: f64) -> Reading {
    Reading {
        id: Uuid::now_v7(),
        performer,
        side: Side::Left,
        dimension: Dimension::HandLength,
        typed: mm.to_string(),
        unit: "mm".to_owned(),
        mm,
        instrument: "ruler".to_owned(),
        origin: "form".to_owned(),
        measurer: "M".to_owned(),
        device: "phone".to_owned(),
        taken_ms: 1,
    }
}

pub(super) fn performer_in(store: &Store) -> Uuid {
    store
        .write_now(|c| {
            let production = production::add(c, "The Tin Orchard")?;
            performer::add(c, production, &somebody("A1"))
        })
        .expect("a performer is added")
}

#[test]
fn a_reading_sent_twice_is_stored_once_and_a_withdrawn_one_is_out_of_use() {
    let folder = Folder::new();
    let store = folder.open();
    let performer = performer_in(&store);
    let fact = reading_of(performer, 181.0);
    let again = fact.clone();
    assert!(store.write_now(move |c| reading::add(c, &fact)).expect("stored"));
    let id = again.id;
    assert!(!store.write_now(move |c| reading::add(c, &again)).expect("known"));
    let count = |store: &Store| {
        store.read_now(|c| reading::of_performer(c, performer)).expect("readings").len()
    };
    assert_eq!(count(&store), 1);
    for _ in 0..2 {
        store.write_now(move |c| reading::withdraw(c, id, "slip", "M")).expect("withdrawn");
    }
    assert_eq!(count(&store), 0);
    assert_eq!(store.read_now(|c| reading::get(c, id)).expect("still a fact").mm, 181.0);
}

#[test]
fn a_refused_write_keeps_nothing_of_itself() {
    let folder = Folder::new();
    let store = folder.open();
    let result: Result<Uuid, StoreError> = store.write_now(|c| {
        production::add(c, "Half a production")?;
        production::add(c, "half a PRODUCTION")
    });
    assert!(matches!(result, Err(StoreError::Refused { code: "production_name_taken", .. })));
    assert!(store.read_now(production::list).expect("list").is_empty());
}

#[test]
fn a_reading_of_nobody_is_not_found() {
    let folder = Folder::new();
    let store = folder.open();
    let fact = reading_of(Uuid::now_v7(), 181.0);
    assert!(matches!(store.write_now(move |c| reading::add(c, &fact)), Err(StoreError::NotFound)));
}

#[test]
fn what_is_written_is_there_when_the_file_is_opened_again() {
    let folder = Folder::new();
    let performer = {
        let store = folder.open();
        let performer = performer_in(&store);
        let fact = reading_of(performer, 90.5);
        store.write_now(move |c| reading::add(c, &fact)).expect("stored");
        performer
    };
    let readings = folder.open().read_now(|c| reading::of_performer(c, performer)).expect("read");
    assert_eq!(readings.iter().map(|r| r.mm).collect::<Vec<_>>(), [90.5]);
}

#[test]
fn a_file_of_a_newer_version_is_refused() {
    let folder = Folder::new();
    let path = folder.open().path().to_owned();
    let connection = rusqlite::Connection::open(&path).expect("opens");
    connection.pragma_update(None, "user_version", 999).expect("set");
    drop(connection);
    assert!(matches!(Store::open(&path), Err(StoreError::Newer { found: 999, .. })));
}

#[test]
fn fifty_writers_at_once_lose_nothing() {
    let folder = Folder::new();
    let store = folder.open();
    let performer = performer_in(&store);
    std::thread::scope(|scope| {
        for phone in 0..50 {
            let store = store.clone();
            scope.spawn(move || {
                for turn in 0..4 {
                    let fact = reading_of(performer, f64::from(100 + phone * 4 + turn));
                    store.write_now(move |c| reading::add(c, &fact)).expect("stored");
                }
            });
        }
    });
    let mut values: Vec<_> = store
        .read_now(|c| reading::of_performer(c, performer))
        .expect("read")
        .iter()
        .map(|r| r.mm)
        .collect();
    values.sort_by(f64::total_cmp);
    assert_eq!(values, (100..300).map(f64::from).collect::<Vec<_>>());
}

#[test]
fn a_write_that_finds_the_database_locked_is_refused_and_keeps_nothing() {
    let folder = Folder::new();
    let store = folder.open();
    let other = rusqlite::Connection::open(store.path()).expect("a second program");
    other.execute_batch("BEGIN EXCLUSIVE").expect("locked");
    let result = store.write_now(|c| production::add(c, "Never acknowledged"));
    assert!(matches!(result, Err(StoreError::Sqlite(_))), "{result:?}");
    other.execute_batch("ROLLBACK").expect("unlocked");
    assert!(store.read_now(production::list).expect("list").is_empty());
    store.write_now(|c| production::add(c, "Acknowledged")).expect("goes on");
}
