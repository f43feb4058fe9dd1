use analysis::fabric::{Direction, FabricFacts, Latex, Load, Material, StretchTest};
use uuid::Uuid;

use super::fabric::{self, NewFabric};
use super::tests::{Folder, performer_in};
use super::{StoreError, migrations, performer, production};

fn kelp() -> NewFabric {
    let test = StretchTest {
        direction: Direction::Greatest,
        load: Load::Mass { mass_g: 500.0, strip_width_mm: 50.0 },
        before_mm: 100.0,
        loaded_mm: 128.0,
        released_mm: 102.0,
    };
    let facts = FabricFacts { latex: Latex::No, tests: vec![test], ..FabricFacts::default() };
    NewFabric { name: "Kelp".to_owned(), note: "bolt 3".to_owned(), facts }
}

#[test]
fn a_changed_fabric_is_a_new_version_and_the_old_one_stays() {
    let folder = Folder::new();
    let store = folder.open();
    let home = store.write_now(|c| production::add(c, "The Tin Orchard")).expect("added");
    let id = store.write_now(move |c| fabric::add(c, home, &kelp(), "Ada")).expect("added");
    let leather = NewFabric {
        name: "Kelp leather".to_owned(),
        facts: FabricFacts { material: Material::Leather, ..kelp().facts },
        ..kelp()
    };
    let changed = leather.clone();
    let number = store.write_now(move |c| fabric::change(c, id, &changed, "Bo")).expect("changed");
    assert_eq!(number, 2);
    let again = leather.clone();
    let number = store.write_now(move |c| fabric::change(c, id, &again, "Bo")).expect("the same");
    assert_eq!(number, 2, "nothing differs");
    let now = store.read_now(|c| fabric::get(c, id)).expect("there");
    assert_eq!((now.version, now.name.as_str()), (2, "Kelp leather"));
    assert_eq!(now.facts, leather.facts);
    let versions = store.read_now(|c| fabric::versions(c, id)).expect("versions");
    assert_eq!(versions.iter().map(|v| v.number).collect::<Vec<_>>(), [2, 1]);
    assert_eq!(versions[1].facts, kelp().facts);
    assert_eq!((versions[1].name.as_str(), versions[1].made_by.as_str()), ("Kelp", "Ada"));
    assert_eq!(store.read_now(|c| fabric::list(c, home)).expect("list").len(), 1);
}

#[test]
fn a_name_stands_once_in_a_production() {
    let folder = Folder::new();
    let store = folder.open();
    let home = store.write_now(|c| production::add(c, "The Tin Orchard")).expect("added");
    store.write_now(move |c| fabric::add(c, home, &kelp(), "Ada")).expect("added");
    let other = NewFabric::named("Tide");
    let tide = store.write_now(move |c| fabric::add(c, home, &other, "Ada")).expect("added");
    for result in [
        store.write_now(move |c| fabric::add(c, home, &NewFabric::named("KELP"), "Ada").map(drop)),
        store.write_now(move |c| fabric::change(c, tide, &kelp(), "Ada").map(drop)),
    ] {
        assert!(matches!(result, Err(StoreError::Refused { code: "fabric_name_taken", .. })));
    }
    assert_eq!(store.read_now(|c| fabric::get(c, tide)).expect("there").version, 1);
}

#[test]
fn a_performer_wears_only_a_fabric_of_their_production() {
    let folder = Folder::new();
    let store = folder.open();
    let who = performer_in(&store);
    let home = store.read_now(|c| performer::get(c, who)).expect("there").production;
    let (here, there) = store
        .write_now(move |c| {
            let elsewhere = production::add(c, "Another")?;
            Ok((fabric::add(c, home, &kelp(), "A")?, fabric::add(c, elsewhere, &kelp(), "A")?))
        })
        .expect("added");
    let result = store.write_now(move |c| performer::set_fabric(c, who, Some(there)));
    assert!(matches!(result, Err(StoreError::Refused { code: "not_on_the_list", .. })));
    store.write_now(move |c| performer::set_fabric(c, who, Some(here))).expect("chosen");
    assert_eq!(store.read_now(|c| performer::get(c, who)).expect("there").fabric, Some(here));
    let none = store.write_now(move |c| performer::give_fabric(c, home, here)).expect("given");
    assert_eq!(none, 0, "everybody has one");
}

/// A database of the fourth version, with a fabric as the demo kept it then.
#[test]
fn stretch_tests_kept_before_versions_are_carried_over() {
    let folder = Folder::new();
    std::fs::create_dir_all(folder.path()).expect("a folder");
    let path = folder.path().join("handcall.sqlite");
    let old = rusqlite::Connection::open(&path).expect("opens");
    for step in &migrations::STEPS[..4] {
        old.execute_batch(step).expect("a step");
    }
    old.pragma_update(None, "user_version", 4).expect("set");
    let (home, kelp_id, bare) = (Uuid::now_v7(), Uuid::now_v7(), Uuid::now_v7());
    old.execute("INSERT INTO production VALUES (?1, 'Old', 1)", [home]).expect("a production");
    let test = r#"[{"key":"K","name":"Kelp","composition":"c","direction":"greatest",
        "strip_width_mm":50.0,"mass_g":500.0,"before_mm":100.0,"loaded_mm":128.0,
        "released_mm":102.0}]"#;
    let insert =
        "INSERT INTO fabric (id, production, name, note, test) VALUES (?1, ?2, ?3, ?4, ?5)";
    old.execute(insert, rusqlite::params![kelp_id, home, "Kelp", "bolt 3", test]).expect("one");
    old.execute(insert, rusqlite::params![bare, home, "Bare", "", None::<String>]).expect("two");
    drop(old);
    let store = folder.open();
    let carried = store.read_now(|c| fabric::get(c, kelp_id)).expect("there");
    assert_eq!(carried.facts.tests, kelp().facts.tests);
    assert_eq!((carried.note.as_str(), carried.version), ("bolt 3", 1));
    let bare = store.read_now(|c| fabric::get(c, bare)).expect("there");
    assert_eq!(bare.facts, FabricFacts::default());
}
