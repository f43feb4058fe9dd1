//! Every address with every role and with none: the table of rights, walked.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::collections::BTreeSet;
use std::io::Result;
use std::process::Command;

use handcall::access::token;
use handcall::store::Store;
use handcall::store::account::{self, Role};
use handcall_tests::client::Client;
use handcall_tests::place::{Scratch, command, repository};
use handcall_tests::running::Running;
use handcall_tests::workshop::Workshop;
use uuid::Uuid;

/// Who may: the signed-in roles, by first letter; `*` for everybody, signed in or not.
const TABLE: &[(&str, &str, &str)] = &[
    ("GET", "/static/{name:.*}", "*"),
    ("GET", "/sign-in", "*"),
    ("POST", "/sign-in", "*"),
    ("GET", "/sign-in/{token}", "*"),
    ("POST", "/sign-in/{token}", "*"),
    ("GET", "/second-factor", "*"),
    ("POST", "/second-factor", "*"),
    ("GET", "/account/second-factor", "ascm"),
    ("POST", "/account/second-factor", "ascm"),
    ("POST", "/account/second-factor/confirm", "ascm"),
    ("POST", "/account/second-factor/remove", "ascm"),
    ("POST", "/accounts/{id}/second-factor/remove", "a"),
    ("GET", "/keeping", "a"),
    ("POST", "/keeping/consent", "a"),
    ("GET", "/productions/{id}/keeping", "as"),
    ("POST", "/productions/{id}/keeping", "as"),
    ("GET", "/productions/{id}/export.json", "a"),
    ("POST", "/productions/{id}/erase", "a"),
    ("GET", "/performers/{id}/readings.csv", "a"),
    ("POST", "/productions/{id}/call", "as"),
    ("POST", "/performers/{id}/call", "as"),
    ("POST", "/performers/{id}/again", "asc"),
    ("GET", "/performers/{id}/consent", "asm"),
    ("POST", "/performers/{id}/consent", "asm"),
    ("POST", "/performers/{id}/consent/withdraw", "asm"),
    ("POST", "/sign-out", "ascm"),
    ("GET", "/account", "ascm"),
    ("POST", "/account", "ascm"),
    ("POST", "/account/sign-out-everywhere", "ascm"),
    ("POST", "/language", "ascm"),
    ("GET", "/accounts", "a"),
    ("POST", "/accounts", "a"),
    ("POST", "/accounts/{id}/link", "a"),
    ("GET", "/", "ascm"),
    ("POST", "/", "as"),
    ("GET", "/productions/{id}", "ascm"),
    ("POST", "/productions/{id}/performers", "as"),
    ("GET", "/api/productions/{id}/board", "ascm"),
    ("GET", "/productions/{id}/roster.csv", "as"),
    ("GET", "/productions/{id}/import", "as"),
    ("POST", "/productions/{id}/import", "as"),
    ("POST", "/productions/{id}/import/check", "as"),
    ("POST", "/productions/{id}/import/store", "as"),
    ("GET", "/performers/{id}", "ascm"),
    ("POST", "/performers/{id}/accept", "asm"),
    ("POST", "/performers/{id}/repair", "asm"),
    ("POST", "/performers/{id}/withdraw", "asm"),
    ("POST", "/performers/{id}/reference", "asm"),
    ("GET", "/performers/{id}/export.json", "a"),
    ("POST", "/performers/{id}/erase", "a"),
    ("GET", "/performers/{id}/measure", "asm"),
    ("POST", "/performers/{id}/measure", "asm"),
    ("GET", "/performers/{id}/fitting", "asm"),
    ("POST", "/performers/{id}/fitting", "asm"),
    ("POST", "/performers/{id}/fittings/withdraw", "asm"),
    ("GET", "/performers/{id}/next/{side}", "ascm"),
    ("POST", "/performers/{id}/next/{side}", "asc"),
    ("GET", "/api/performers/{id}/fittings", "ascm"),
    ("GET", "/fabrics/{id}/memory", "ascm"),
    ("POST", "/fabrics/{id}/memory", "as"),
    ("GET", "/api/fabrics/{id}/memory", "ascm"),
    ("GET", "/shell/fitting", "*"),
    ("GET", "/performers/{id}/draft/{side}", "asc"),
    ("GET", "/performers/{id}/draft/{side}/glove.svg", "asc"),
    ("GET", "/performers/{id}/draft/{side}/glove.pdf", "asc"),
    ("POST", "/performers/{id}/choices", "asc"),
    ("GET", "/api/performers/{id}/draft", "asc"),
    ("GET", "/productions/{id}/fabrics", "asc"),
    ("GET", "/productions/{id}/fabrics/add", "asc"),
    ("POST", "/productions/{id}/fabrics/add", "asc"),
    ("GET", "/fabrics/{id}", "asc"),
    ("POST", "/fabrics/{id}", "asc"),
    ("POST", "/fabrics/{id}/give", "asc"),
    ("POST", "/performers/{id}/fabric", "asc"),
    ("GET", "/api/productions/{id}/fabrics", "asc"),
    ("GET", "/productions/{id}/batches", "asc"),
    ("POST", "/productions/{id}/batches", "asc"),
    ("GET", "/productions/{id}/sizes", "asc"),
    ("GET", "/productions/{id}/sizes.csv", "asc"),
    ("GET", "/productions/{id}/size-hands.csv", "asc"),
    ("GET", "/productions/{id}/sizes/{name}/{side}/glove.pdf", "asc"),
    ("GET", "/productions/{id}/sizes/{name}/{side}/glove.svg", "asc"),
    ("GET", "/productions/{id}/sizes.pdf", "asc"),
    ("GET", "/api/productions/{id}/sizes", "asc"),
    ("GET", "/productions/{id}/measurers", "asm"),
    ("GET", "/api/productions/{id}/measurers", "asm"),
    ("GET", "/productions/{id}/exercise", "asm"),
    ("POST", "/productions/{id}/exercise", "asm"),
    ("POST", "/productions/{id}/exercise/hand", "asm"),
    ("POST", "/productions/{id}/exercise/leave", "asm"),
    ("GET", "/hand-model", "as"),
    ("POST", "/hand-model", "as"),
    ("GET", "/productions/{id}/cast", "asc"),
    ("GET", "/productions/{id}/cast.csv", "asc"),
    ("GET", "/productions/{id}/hands.csv", "asc"),
    ("GET", "/api/productions/{id}/cast", "asc"),
    ("GET", "/api/batches/{id}", "asc"),
    ("GET", "/batches/{id}/gloves.zip", "asc"),
    ("GET", "/batches/{id}/labels.pdf", "asc"),
    ("GET", "/api/batches/{id}/events", "asc"),
    ("POST", "/batches/{id}/cancel", "asc"),
    ("POST", "/batches/{id}/continue", "asc"),
    ("GET", "/batches/{id}/lay", "asc"),
    ("POST", "/batches/{id}/lay", "asc"),
    ("POST", "/lays/{id}/cancel", "asc"),
    ("GET", "/lays/{id}/{drawing}", "asc"),
    ("POST", "/api/productions/{id}/batches", "asc"),
    ("GET", "/api/lays/{id}", "asc"),
    ("GET", "/api/accounts", "a"),
    ("GET", "/api/productions", "ascm"),
    ("GET", "/api/productions/{id}/batches", "asc"),
    ("GET", "/api/productions/{id}/exercise", "asm"),
    ("GET", "/api/batches/{id}/lays", "asc"),
    ("GET", "/api/openapi.json", "*"),
    ("GET", "/api/model", "*"),
    ("GET", "/api/session", "ascm"),
    ("GET", "/api/performers/{id}", "ascm"),
    ("POST", "/api/facts", "asm"),
    ("GET", "/api/productions/{id}/events", "ascm"),
    ("GET", "/api/productions/{id}/pack", "asm"),
    ("GET", "/productions/{id}/codes", "asm"),
    ("GET", "/performers/{id}/home", "as"),
    ("POST", "/performers/{id}/home", "as"),
    ("POST", "/performers/{id}/home/revoke", "as"),
    ("GET", "/home/{token}", "*"),
    ("POST", "/home/{token}", "*"),
    ("GET", "/home/measure", "*"),
    ("POST", "/home/measure", "*"),
    ("GET", "/sw.js", "*"),
    ("GET", "/trust", "*"),
    ("GET", "/trust/authority.crt", "*"),
    ("GET", "/shell/measure", "*"),
    ("GET", "/shell/roster", "*"),
];

fn letter(role: Role) -> char {
    role.key().chars().next().unwrap_or('?')
}

fn concrete(path: &str) -> String {
    path.replace("{id}", &Uuid::now_v7().to_string())
        .replace("{side}", "left")
        .replace("{token}", "0123")
        .replace("{name:.*}", "site.css")
        .replace("{name}", "EN-8")
}

fn signed_in(server: &Running, store: &Store, role: Role) -> Client {
    let value = token::random().expect("randomness");
    let hash = token::hash(&value);
    let expires = handcall::store::now_ms() + 60_000;
    store
        .write_now(move |c| {
            let account = account::add(c, &format!("test {}", role.key()), role)?;
            account::add_link(c, &hash, account, expires)
        })
        .expect("an account with a link");
    let mut client = Client::new(server.address);
    let answer = client.post_form(&format!("/sign-in/{value}"), &[]).expect("signed in");
    assert_eq!(answer.status, 303);
    client
}

#[test]
fn every_route_of_the_source_stands_in_the_table() {
    let known: BTreeSet<&str> = TABLE.iter().map(|(_, path, _)| *path).collect();
    let folder = repository().join("server/src/routes");
    let mut seen = BTreeSet::new();
    for entry in std::fs::read_dir(folder).expect("routes") {
        let text = std::fs::read_to_string(entry.expect("entry").path()).expect("source");
        let Some((_, rest)) = text.split_once("fn configure(") else { continue };
        let body = rest.split("\n}\n").next().unwrap_or("");
        seen.extend(
            body.split('"').skip(1).step_by(2).filter(|s| s.starts_with('/')).map(str::to_owned),
        );
    }
    assert!(seen.len() > 20, "{seen:?}");
    for path in &seen {
        assert!(known.contains(path.as_str()), "{path} is not in the table of rights");
    }
}

#[test]
fn each_route_lets_in_the_roles_of_the_table_and_nobody_else() -> Result<()> {
    let data = Scratch::new("access");
    let server = Running::start(data.path())?;
    let store = Store::open(&data.path().join("handcall.sqlite")).expect("the same database");
    let mut people: Vec<(Option<Role>, Client)> =
        Role::ALL.map(|role| (Some(role), signed_in(&server, &store, role))).into();
    people.push((None, Client::new(server.address)));
    for (role, client) in &people {
        let role = *role;
        for (method, path, who) in TABLE {
            // A form token of one's own, so that the right is what decides; signing out would end
            // the walk, so that it is left to a token that does not fit.
            let ends_session = path.contains("sign-out");
            let token = match role {
                Some(_) if !ends_session => Workshop::of(client.twin())?.token,
                _ => String::new(),
            };
            let address = concrete(path);
            let is_json = address.starts_with("/api/");
            let form = format!("csrf={token}");
            // Whatever a form may do, JSON with the token in its header may, and no more.
            let bodies: &[(&str, &str)] = match *path {
                _ if *method == "GET" => &[("text/plain", "")],
                "/productions/{id}/import" => &[("multipart/form-data; boundary=b", &form)],
                _ if is_json => &[("application/json", "{}")],
                _ => &[("application/x-www-form-urlencoded", &form), ("application/json", "{}")],
            };
            for (kind, body) in bodies {
                let headers = [("content-type", *kind), ("x-form-token", token.as_str())];
                let answer = client.twin().send(method, &address, &headers, body.as_bytes())?;
                let status = answer.status;
                let name = role.map_or("nobody", Role::key);
                if *kind == "application/json" {
                    assert!(answer.json().is_object(), "{name} {path}: {}", answer.text());
                }
                let may = *who == "*" || role.is_some_and(|role| who.contains(letter(role)));
                match (may, role) {
                    (true, _) if ends_session => assert_eq!(status, 403, "{name} {method} {path}"),
                    (true, _) => {
                        assert!(!matches!(status, 401 | 403), "{name} {method} {path}: {status}")
                    }
                    (false, Some(_)) => assert_eq!(status, 403, "{name} {method} {path}"),
                    // A browser that asks for a page is sent to sign in.
                    (false, None) if *method == "GET" && !is_json => {
                        assert_eq!(status, 303, "{name} {method} {path}");
                    }
                    (false, None) => assert_eq!(status, 401, "{name} {method} {path}"),
                }
                assert!(status < 500, "{name} {method} {path}: {status}");
            }
        }
    }
    Ok(())
}

#[test]
fn a_form_without_its_token_or_with_another_sessions_is_refused() -> Result<()> {
    let data = Scratch::new("csrf");
    let server = Running::start(data.path())?;
    let mut workshop = Workshop::open(&server)?;
    let store = Store::open(&data.path().join("handcall.sqlite")).expect("the same database");
    let other = Workshop::of(signed_in(&server, &store, Role::Supervisor))?;
    for token in ["", "0", other.token.as_str()] {
        let answer = workshop.client.post_form("/", &[("csrf", token), ("name", "Stolen")])?;
        assert_eq!(answer.status, 403);
    }
    let list = workshop.client.get("/")?.text();
    assert!(!list.contains("Stolen"));
    Ok(())
}

#[test]
fn every_answer_forbids_inline_scripts_framing_sniffing_and_referrers() -> Result<()> {
    let data = Scratch::new("headers");
    let server = Running::start(data.path())?;
    let mut client = Client::new(server.address);
    // A style sheet or script is no document: all it needs is not to be taken for another kind.
    let sheet = client.get("/static/site.css")?;
    assert_eq!(sheet.header("x-content-type-options"), Some("nosniff"));
    for path in ["/sign-in", "/nothing", "/api/session"] {
        let answer = client.get(path)?;
        let header = |name| answer.header(name).unwrap_or_default().to_owned();
        let policy = header("content-security-policy");
        assert!(policy.contains("default-src 'none'"), "{path}: {policy}");
        assert!(!policy.contains("unsafe"), "{path}: {policy}");
        assert!(policy.contains("frame-ancestors 'none'"), "{path}: {policy}");
        assert_eq!(header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(header("x-frame-options"), "DENY", "{path}");
        assert_eq!(header("referrer-policy"), "no-referrer", "{path}");
    }
    Ok(())
}

#[test]
fn the_link_signs_in_once_and_passphrases_are_slowed_after_five_failures() -> Result<()> {
    let data = Scratch::new("sign-in");
    let server = Running::start(data.path())?;
    let mut first = Client::new(server.address);
    assert!(first.get(&server.sign_in)?.text().contains("<form"));
    let used = first.post_form(&server.sign_in, &[])?;
    assert_eq!(used.status, 303);
    let cookie = used.header("set-cookie").unwrap_or_default().to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite="), "{cookie}");
    assert_eq!(Client::new(server.address).post_form(&server.sign_in, &[])?.status, 404);

    let token = Workshop::of(first.twin())?.token;
    let passphrase = "seven geese cross slowly";
    let set = first.post_form("/account", &[("csrf", &token), ("passphrase", passphrase)])?;
    assert_eq!(set.status, 200);
    let mut other = Client::new(server.address);
    let right = [("name", "Administrator"), ("passphrase", passphrase)];
    assert_eq!(other.post_form("/sign-in", &right)?.status, 303);
    let mut sentences = BTreeSet::new();
    for name in
        ["administrator", "nobody at all", "administrator", "nobody at all", "administrator"]
    {
        let wrong = [("name", name), ("passphrase", "wrong geese cross slowly")];
        let answer = other.post_form("/sign-in", &wrong)?;
        assert_eq!(answer.status, 422);
        sentences.insert(answer.text().replace(&format!("value=\"{name}\""), ""));
    }
    assert_eq!(sentences.len(), 1, "the answer tells which accounts exist");
    assert_eq!(other.post_form("/sign-in", &right)?.status, 429);
    Ok(())
}

#[test]
fn no_address_beyond_this_machine_is_served_without_encryption() {
    let data = Scratch::new("plain-lan");
    for address in ["0.0.0.0", "::", "192.0.2.7"] {
        let output = Command::new(command())
            .args(["serve", "--port", "0", "--address", address, "--data"])
            .arg(data.path())
            .output()
            .expect("the command runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!output.status.success(), "{address}");
        assert!(said.contains("can be reached from other machines"), "{address}: {said}");
    }
}
