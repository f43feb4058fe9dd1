//! The description of the API against the server: every address of the route table under `/api`
//! is described, every described one is there, and answers have the members that are promised.

use std::collections::BTreeSet;
use std::process::Command;

use handcall_tests::place::{Scratch, command, repository};
use handcall_tests::running::Running;
use handcall_tests::workshop::Workshop;
use serde_json::Value;

/// Addresses under `/api` in the sources of the routes.
#[expect(clippy::expect_used, reason = "a test cannot go on without the sources")]
fn routed() -> BTreeSet<String> {
    let folder = repository().join("server/src/routes");
    let mut found = BTreeSet::new();
    for file in std::fs::read_dir(folder).expect("the routes").filter_map(Result::ok) {
        let text = std::fs::read_to_string(file.path()).unwrap_or_default();
        for rest in text.split("(\"/api/").skip(1) {
            found.extend(rest.split('"').next().map(|path| format!("/api/{path}")));
        }
    }
    found
}

/// Follows a `$ref` of the description.
fn resolved<'a>(description: &'a Value, schema: &'a Value) -> &'a Value {
    let name = schema["$ref"].as_str().and_then(|name| name.rsplit('/').next());
    name.map_or(schema, |name| &description["components"]["schemas"][name])
}

#[test]
fn the_description_and_the_server_say_the_same() {
    let folder = Scratch::new("openapi");
    let demo = Command::new(command())
        .args(["demo", "--no-serve", "--data"])
        .arg(folder.path())
        .output()
        .expect("the command starts");
    assert!(demo.status.success(), "{}", String::from_utf8_lossy(&demo.stderr));
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    let answer = desk.client.get("/api/openapi.json").expect("answered");
    assert_eq!(answer.status, 200);
    let description = answer.json();
    let paths = description["paths"].as_object().expect("paths");
    let described: BTreeSet<String> = paths.keys().cloned().collect();
    assert_eq!(described, routed());
    let page = desk.client.get("/").expect("the productions").text();
    let home = page.split("/productions/").nth(1).and_then(|r| r.get(..36)).expect("a production");
    let board = desk.client.get(&format!("/api/productions/{home}/board")).expect("answered");
    let someone = board.json()["rows"][0]["id"].as_str().expect("a performer").to_owned();
    // A fabric by the link on its performer's next glove.
    let next = desk.client.get(&format!("/performers/{someone}/next/right")).expect("answered");
    let next = next.text();
    let cloth = next.split("/fabrics/").nth(1).and_then(|r| r.get(..36)).expect("a fabric");
    for (path, methods) in paths {
        if path.ends_with("/events")
            || path.contains("batches")
            || path.contains("lays")
            || methods.get("get").is_none()
        {
            continue;
        }
        let id = match path {
            _ if path.contains("performers") => someone.as_str(),
            _ if path.starts_with("/api/fabrics/") => cloth,
            _ => home,
        };
        let answer = desk.client.get(&path.replace("{id}", id)).expect("answered");
        assert_eq!(answer.status, 200, "{path}");
        let content = &methods["get"]["responses"]["200"]["content"]["application/json"];
        let schema = resolved(&description, &content["schema"]);
        for member in schema["required"].as_array().into_iter().flatten() {
            let member = member.as_str().expect("a name");
            assert!(answer.json().get(member).is_some(), "{path} lacks {member}");
        }
        let nobody = path.replace("{id}", "00000000-0000-7000-8000-000000000000");
        if nobody != *path {
            let refused = desk.client.get(&nobody).expect("answered");
            assert_eq!(refused.status, 404, "{nobody}");
            for member in ["code", "message", "next"] {
                assert!(refused.json()[member].is_string(), "{nobody} lacks {member}");
            }
        }
    }
}
