//! The link for measuring at home: it adds readings of one performer and reads nothing back.

use std::io::Result;

use handcall_tests::client::Client;
use handcall_tests::page::{decoded, forms, links};
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use serde_json::Value;
use uuid::Uuid;

fn make_link(workshop: &mut Workshop, performer: &str, uses: &str) -> Result<String> {
    let token = workshop.token.clone();
    let path = format!("/performers/{performer}/home");
    let fields = [("csrf", token.as_str()), ("days", "2"), ("uses", uses)];
    let page = decoded(&expect(workshop.client.post_form(&path, &fields)?, 200)?.text());
    let start = page.split("<code>").nth(1).and_then(|rest| rest.split("/home/").nth(1));
    let token: String =
        start.unwrap_or_default().chars().take_while(char::is_ascii_hexdigit).collect();
    assert_eq!(token.len(), 64, "no link on {page}");
    Ok(format!("/home/{token}"))
}

fn readings(workshop: &mut Workshop, performer: &str) -> Result<Vec<Value>> {
    let state = expect(workshop.client.get(&format!("/api/performers/{performer}"))?, 200)?.json();
    Ok(state.get("readings").and_then(Value::as_array).cloned().unwrap_or_default())
}

#[test]
fn a_link_adds_self_measured_readings_shows_none_and_ends_after_its_uses() -> Result<()> {
    let data = Scratch::new("home");
    let server = Running::start(data.path())?;
    let mut workshop = Workshop::open(&server)?;
    let production = workshop.add_production("The Glass Orchard")?;
    let performer = workshop.add_performer(&production, "GO-01")?;
    let secret = Sent {
        id: Uuid::now_v7(),
        side: "right",
        dimension: "hand_length",
        value: "187.25".to_owned(),
    };
    workshop.post_readings(&performer, &[secret])?;
    let link = make_link(&mut workshop, &performer, "1")?;

    let mut phone = Client::new(server.address);
    assert_eq!(phone.get("/home/measure")?.status, 404);
    assert!(phone.get(&link)?.text().contains("<form"));
    let begun = expect(phone.post_form(&link, &[])?, 303)?;
    let page = phone.follow(begun)?;
    assert_eq!(page.status, 200);
    let form = forms(&page.text()).into_iter().find(|form| form.value("value").is_some());
    let form = form.unwrap_or_else(|| panic!("no form on {}", page.text()));
    let wrong = phone.post_form(&form.action, &form.with("value", "much"))?;
    assert_eq!(wrong.status, 422);
    assert!(wrong.text().contains("much") && wrong.text().contains("is not a number"));
    let kept = expect(phone.post_form(&form.action, &form.with("value", "191"))?, 303)?;
    let after = phone.follow(kept)?.text();

    let stored = readings(&mut workshop, &performer)?;
    let origins: Vec<_> = stored.iter().filter_map(|r| r.get("origin")?.as_str()).collect();
    assert_eq!(origins, ["form", "self"]);
    for text in [page.text(), after, wrong.text()] {
        for hidden in ["187.25", "187,25", "191"] {
            assert!(!text.contains(hidden), "{hidden} can be read back");
        }
    }
    for path in [
        format!("/performers/{performer}"),
        format!("/api/performers/{performer}"),
        format!("/productions/{production}"),
    ] {
        assert_ne!(phone.get(&path)?.status, 200, "{path}");
    }
    let mut second = Client::new(server.address);
    assert_eq!(second.get(&link)?.status, 404, "the one use is spent");
    assert_eq!(second.post_form(&link, &[])?.status, 404);
    Ok(())
}

#[test]
fn a_revoked_link_ends_the_visits_it_began() -> Result<()> {
    let data = Scratch::new("home-revoked");
    let server = Running::start(data.path())?;
    let mut workshop = Workshop::open(&server)?;
    let production = workshop.add_production("The Glass Orchard")?;
    let performer = workshop.add_performer(&production, "GO-02")?;
    let link = make_link(&mut workshop, &performer, "3")?;
    let mut phone = Client::new(server.address);
    let begun = phone.post_form(&link, &[])?;
    assert_eq!(phone.follow(begun)?.status, 200);
    let path = format!("/performers/{performer}/home");
    let page = workshop.client.get(&path)?.text();
    let revoke = forms(&page).into_iter().find(|form| form.action.ends_with("/revoke"));
    let revoke = revoke.unwrap_or_else(|| panic!("no link on {page}"));
    let fields: Vec<_> =
        revoke.fields.iter().map(|f| (f.name.as_str(), f.value.as_str())).collect();
    expect(workshop.client.post_form(&revoke.action, &fields)?, 200)?;
    assert_eq!(phone.get("/home/measure")?.status, 404);
    assert_eq!(phone.get(&link)?.status, 404);
    Ok(())
}

#[test]
fn the_sheet_of_codes_has_a_square_for_each_performer_and_no_name() -> Result<()> {
    let data = Scratch::new("codes");
    let server = Running::start(data.path())?;
    let mut workshop = Workshop::open(&server)?;
    let production = workshop.add_production("The Glass Orchard")?;
    let token = workshop.token.clone();
    for code in ["GO-03", "GO-04"] {
        let fields = [
            ("csrf", token.as_str()),
            ("code", code),
            ("name", "Wilhelmina Unprinted"),
            ("population", "women"),
        ];
        let path = format!("/productions/{production}/performers");
        expect(workshop.client.post_form(&path, &fields)?, 303)?;
    }
    let page =
        expect(workshop.client.get(&format!("/productions/{production}/codes"))?, 200)?.text();
    assert_eq!(page.matches("<svg").count(), 2);
    assert!(!page.contains("Unprinted"));
    assert!(links(&page, "/productions/").iter().any(|link| link.ends_with(&production)));
    Ok(())
}
