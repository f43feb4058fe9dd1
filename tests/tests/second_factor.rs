//! The second factor: set up with a code, asked for at every sign-in, never taken twice, slowed.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::io::Result;
use std::process::Command;

use handcall::access::totp::{self, DIGITS, STEP_SECONDS};
use handcall::store::now_ms;
use handcall_tests::client::Client;
use handcall_tests::page::{decoded, forms};
use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Workshop, expect};

const PASSPHRASE: &str = "seven geese cross slowly";

/// The secret that the page shows, from base 32 (RFC 4648).
fn secret_on(page: &str) -> Vec<u8> {
    let shown = page.split("<code>").nth(1).and_then(|rest| rest.split("</code>").next());
    let (mut bits, mut count, mut bytes) = (0_u64, 0, Vec::new());
    for letter in shown.expect("a secret").bytes() {
        let five = match letter {
            b'A'..=b'Z' => letter - b'A',
            digit => digit - b'2' + 26,
        };
        bits = (bits << 5) | u64::from(five);
        count += 5;
        if count >= 8 {
            count -= 8;
            bytes.push((bits >> count) as u8);
            bits &= (1 << count) - 1;
        }
    }
    bytes
}

/// The code of this moment, or of some steps later.
fn code(secret: &[u8], later: i64) -> String {
    totp::code(secret, now_ms() / 1000 / STEP_SECONDS + later, DIGITS)
}

struct House {
    desk: Workshop,
    secret: Vec<u8>,
    recovery: Vec<String>,
    /// The code that turned it on.
    used: String,
    server: Running,
    data: Scratch,
}

/// The administrator with a passphrase and a second factor.
fn house(name: &str) -> Result<House> {
    let data = Scratch::new(name);
    let server = Running::start(data.path())?;
    let mut desk = Workshop::open(&server)?;
    let fields = [("csrf", desk.token.as_str()), ("passphrase", PASSPHRASE)];
    expect(desk.client.post_form("/account", &fields)?, 200)?;
    let path = "/account/second-factor";
    expect(desk.client.post_form(path, &[("csrf", &desk.token)])?, 303)?;
    let page = desk.client.get(path)?.text();
    assert!(page.contains("<svg"), "a square to scan");
    let secret = secret_on(&page);
    let wrong = [("csrf", desk.token.as_str()), ("code", "000000x")];
    assert_eq!(desk.client.post_form(&format!("{path}/confirm"), &wrong)?.status, 422);
    let used = code(&secret, 0);
    let right = [("csrf", desk.token.as_str()), ("code", used.as_str())];
    let page = expect(desk.client.post_form(&format!("{path}/confirm"), &right)?, 200)?.text();
    let recovery: Vec<String> = decoded(&page)
        .split("<li><code>")
        .skip(1)
        .filter_map(|rest| rest.split("</code>").next().map(ToOwned::to_owned))
        .collect();
    assert_eq!(recovery.len(), 8, "{page}");
    Ok(House { desk, secret, recovery, used, server, data })
}

/// A browser at which the right passphrase was typed.
fn at_the_code(server: &Running) -> Result<Client> {
    let mut client = Client::new(server.address);
    let right = [("name", "administrator"), ("passphrase", PASSPHRASE)];
    let asked = expect(client.post_form("/sign-in", &right)?, 303)?;
    assert!(asked.header("location").unwrap_or_default().starts_with("/second-factor"));
    assert_ne!(client.get("/api/session")?.status, 200, "the passphrase alone signs nobody in");
    assert_eq!(client.get("/second-factor")?.status, 200);
    Ok(client)
}

#[test]
fn a_code_opens_once_and_so_does_a_recovery_code() -> Result<()> {
    let house = house("factor")?;
    let mut client = at_the_code(&house.server)?;
    let replayed = client.post_form("/second-factor", &[("code", &house.used)])?;
    assert_eq!(replayed.status, 422, "the code that turned it on is used up");
    // The next step's code fits half a minute early.
    let next = code(&house.secret, 1);
    expect(client.post_form("/second-factor", &[("code", &next)])?, 303)?;
    expect(client.get("/api/session")?, 200)?;
    let mut second = at_the_code(&house.server)?;
    assert_eq!(second.post_form("/second-factor", &[("code", &next)])?.status, 422);
    let typed = house.recovery[0].to_uppercase();
    expect(second.post_form("/second-factor", &[("code", &typed)])?, 303)?;
    expect(second.get("/api/session")?, 200)?;
    let mut third = at_the_code(&house.server)?;
    assert_eq!(third.post_form("/second-factor", &[("code", &typed)])?.status, 422);
    Ok(())
}

#[test]
fn wrong_codes_are_slowed_and_a_link_asks_for_the_code_as_well() -> Result<()> {
    let mut house = house("factor-slow")?;
    let accounts = house.desk.client.get("/accounts")?.text();
    let path = accounts
        .split("action=\"")
        .filter_map(|rest| rest.split('"').next())
        .find(|action| action.starts_with("/accounts/") && action.ends_with("/link"))
        .expect("a form")
        .to_owned();
    let made = house.desk.client.post_form(&path, &[("csrf", &house.desk.token)])?;
    let page = decoded(&expect(made, 200)?.text());
    let token = page.split("/sign-in/").nth(1).expect("a link");
    let token: String = token.chars().take_while(char::is_ascii_alphanumeric).collect();
    let mut by_link = Client::new(house.server.address);
    let asked = expect(by_link.post_form(&format!("/sign-in/{token}"), &[])?, 303)?;
    assert!(asked.header("location").unwrap_or_default().starts_with("/second-factor"));
    assert_ne!(by_link.get("/api/session")?.status, 200);

    let mut client = at_the_code(&house.server)?;
    let mut statuses = Vec::new();
    for _ in 0..6 {
        statuses.push(client.post_form("/second-factor", &[("code", "123")])?.status);
    }
    assert_eq!(statuses.last(), Some(&429), "{statuses:?}");
    let right = code(&house.secret, 1);
    assert_eq!(client.post_form("/second-factor", &[("code", &right)])?.status, 429);
    Ok(())
}

#[test]
fn it_is_removed_with_a_code_or_at_the_machine_itself() -> Result<()> {
    let mut house = house("factor-removed")?;
    let path = "/account/second-factor/remove";
    let wrong = [("csrf", house.desk.token.as_str()), ("code", "000000x")];
    assert_eq!(house.desk.client.post_form(path, &wrong)?.status, 422);
    let unlocked = Command::new(command())
        .args(["unlock", "Administrator", "--data"])
        .arg(house.data.path())
        .output()
        .expect("the command runs");
    assert!(unlocked.status.success(), "{}", String::from_utf8_lossy(&unlocked.stderr));
    let mut client = Client::new(house.server.address);
    let right = [("name", "administrator"), ("passphrase", PASSPHRASE)];
    expect(client.post_form("/sign-in", &right)?, 303)?;
    expect(client.get("/api/session")?, 200)?;
    Ok(())
}

#[test]
fn a_passphrase_is_changed_with_the_one_in_force_and_ends_other_sessions() -> Result<()> {
    let data = Scratch::new("passphrase");
    let server = Running::start(data.path())?;
    let mut desk = Workshop::open(&server)?;
    let fields = [("csrf", desk.token.as_str()), ("passphrase", PASSPHRASE)];
    expect(desk.client.post_form("/account", &fields)?, 200)?;
    let mut client = Client::new(server.address);
    let right = [("name", "administrator"), ("passphrase", PASSPHRASE)];
    expect(client.post_form("/sign-in", &right)?, 303)?;
    let mut other = Workshop::of(client)?;
    let new = "nine slow barges turn";
    for current in ["", "wrong geese cross slowly"] {
        let fields = [("csrf", other.token.as_str()), ("current", current), ("passphrase", new)];
        let back = other.client.post_form("/account", &fields)?;
        assert!(back.status == 422 && back.text().contains("id=\"current-error\""), "{current}");
    }
    let fields = [("csrf", other.token.as_str()), ("current", PASSPHRASE), ("passphrase", new)];
    expect(other.client.post_form("/account", &fields)?, 200)?;
    expect(other.client.get("/api/session")?, 200)?;
    assert_eq!(desk.client.get("/api/session")?.status, 401, "the first session has ended");
    Ok(())
}

#[test]
fn where_it_is_demanded_an_administrator_sees_nothing_before_it_is_set_up() -> Result<()> {
    let data = Scratch::new("demanded");
    let server = Running::start_with(data.path(), &["--demand-second-factor"])?;
    let mut client = Client::new(server.address);
    expect(client.post_form(&server.sign_in, &[])?, 303)?;
    for path in ["/", "/accounts", "/keeping"] {
        let sent = expect(client.get(path)?, 303)?;
        assert_eq!(sent.header("location"), Some("/account/second-factor"), "{path}");
    }
    let refused = expect(client.get("/api/session")?, 403)?;
    assert_eq!(refused.json()["code"], "second_factor_needed");
    let page = client.get("/account/second-factor")?.text();
    let form = forms(&page).into_iter().find(|form| form.action == "/account/second-factor");
    let form = form.unwrap_or_else(|| unreachable!("no way to begin on {page}"));
    let token = form.value("csrf").unwrap_or_default().to_owned();
    let add = [("csrf", token.as_str()), ("name", "ada"), ("role", "measurer")];
    expect(client.post_form("/accounts", &add)?, 403)?;
    expect(client.post_form(&form.action, &[("csrf", &token)])?, 303)?;
    let secret = secret_on(&client.get("/account/second-factor")?.text());
    let fits = [("csrf", token.as_str()), ("code", &code(&secret, 0))];
    expect(client.post_form("/account/second-factor/confirm", &fits)?, 200)?;
    expect(client.get("/")?, 200)?;
    // It is asked of administrators alone.
    let mut desk = Workshop::of(client)?;
    let link = desk.add_account("ada", "measurer")?;
    let mut measurer = server.signed_in_by(&link)?;
    expect(measurer.get("/")?, 200)?;
    Ok(())
}

#[test]
fn the_account_page_says_how_strong_a_passphrase_is_and_what_happened() -> Result<()> {
    let data = Scratch::new("account-page");
    let server = Running::start(data.path())?;
    let mut desk = Workshop::open(&server)?;
    let token = desk.token.clone();
    let mut send = |passphrase: &str, only: &str, status: u16| -> Result<String> {
        let fields = [("csrf", token.as_str()), ("passphrase", passphrase), ("only", only)];
        let page = decoded(&expect(desk.client.post_form("/account", &fields)?, status)?.text());
        assert!(!page.contains(passphrase), "a passphrase never comes back");
        Ok(page)
    };
    assert!(send("password12345", "judge", 200)?.contains("It would be refused."));
    assert!(send(PASSPHRASE, "judge", 200)?.contains("It can be set."));
    assert!(send("password12345", "", 422)?.contains("10<sup>"), "why it is refused, in guesses");
    let page = send(PASSPHRASE, "", 200)?;
    let happened = page.split("What happened with this account").nth(1).unwrap_or_default();
    let passphrase = happened.find("Set a passphrase");
    let signed_in = happened.find("Signed in");
    assert!(passphrase.is_some() && passphrase < signed_in, "newest first: {happened}");
    assert_eq!(happened.matches("Set a passphrase").count(), 1, "judging sets nothing: {happened}");
    Ok(())
}
