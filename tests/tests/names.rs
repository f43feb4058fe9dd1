//! Names stay where they are needed: a cutter works from codes alone.

use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::Workshop;

#[test]
fn a_cutter_never_reads_a_name() {
    let folder = Scratch::new("names");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let fields = [
        ("csrf", desk.token.clone()),
        ("code", "TW02".to_owned()),
        ("name", "Ottoline Fairweather".to_owned()),
        ("population", "women".to_owned()),
    ];
    let fields: Vec<_> = fields.iter().map(|(k, v)| (*k, v.as_str())).collect();
    let path = format!("/productions/{production}/performers");
    desk.client.post_form(&path, &fields).expect("added");
    let performer = desk.performer(&production, "TW02").expect("on the board");
    let board = format!("/productions/{production}");
    let seen = desk.client.get(&board).expect("the board").text();
    assert!(seen.contains("Ottoline Fairweather"), "an administrator's board shows names");
    let link = desk.add_account("Cutter", "cutter").expect("a link");
    let mut cutter = server.signed_in_by(&link).expect("signed in");
    for path in [
        board,
        format!("/api/productions/{production}/board"),
        format!("/performers/{performer}"),
        format!("/api/performers/{performer}"),
        format!("/performers/{performer}/draft/left"),
        format!("/performers/{performer}/draft/left/glove.svg"),
        format!("/productions/{production}/batches"),
        format!("/productions/{production}/sizes"),
        format!("/api/productions/{production}/sizes"),
        format!("/productions/{production}/cast"),
        format!("/api/productions/{production}/cast"),
    ] {
        let answer = cutter.get(&path).expect("an answer");
        assert_eq!(answer.status, 200, "{path}");
        assert!(!answer.text().contains("Ottoline"), "{path}");
    }
}
