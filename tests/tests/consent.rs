//! No reading of a minor is taken before a guardian's consent is recorded, by whatever way it comes.

use std::io::Result;

use handcall_tests::client::Client;
use handcall_tests::page::{decoded, forms};
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use uuid::Uuid;

fn reading(value: &str) -> Sent {
    Sent { id: Uuid::now_v7(), side: "right", dimension: "hand_length", value: value.to_owned() }
}

struct House {
    desk: Workshop,
    production: String,
    minor: String,
    server: Running,
    _data: Scratch,
}

fn house(name: &str) -> Result<House> {
    let data = Scratch::new(name);
    let server = Running::start(data.path())?;
    let mut desk = Workshop::open(&server)?;
    let production = desk.add_production("The Glass Orchard")?;
    let minor = desk.add_minor(&production, "GO-09", 9)?;
    Ok(House { desk, production, minor, server, _data: data })
}

#[test]
fn readings_of_a_minor_are_refused_until_consent_and_again_once_it_is_taken_back() -> Result<()> {
    let mut house = house("consent-facts")?;
    let (desk, minor) = (&mut house.desk, house.minor.as_str());
    let refused = desk.post_readings(minor, &[reading("140")])?;
    assert_eq!((refused.status, &refused.json()["code"]), (422, &"consent_missing".into()));
    desk.consent(minor, true)?;
    let first = reading("140");
    expect(desk.post_readings(minor, std::slice::from_ref(&first))?, 200)?;
    desk.consent(minor, false)?;
    assert_eq!(desk.post_readings(minor, &[reading("141")])?.status, 422);
    // What was acknowledged stays acknowledged: a phone that repeats itself is not refused.
    expect(desk.post_readings(minor, std::slice::from_ref(&first))?, 200)?;
    assert_eq!(desk.reading_ids(minor)?, [first.id]);
    let exported = desk.client.get(&format!("/performers/{minor}/export.json"))?.json();
    let consents = exported["consents"].as_array().cloned().unwrap_or_default();
    let given: Vec<_> = consents.iter().filter_map(|c| c["is_given"].as_bool()).collect();
    assert_eq!(given, [true, false]);
    assert_eq!(consents[0]["words"], "I agree.");
    Ok(())
}

#[test]
fn the_measuring_page_of_a_minor_asks_first_and_an_adult_is_not_asked() -> Result<()> {
    let mut house = house("consent-page")?;
    let (desk, minor) = (&mut house.desk, house.minor.as_str());
    let asked = desk.client.get(&format!("/performers/{minor}/measure"))?;
    let place = asked.header("location").unwrap_or_default().to_owned();
    assert_eq!((asked.status, place.as_str()), (303, &*format!("/performers/{minor}/consent")));
    let page = desk.client.get(&place)?.text();
    let form = forms(&page).into_iter().find(|form| form.action == place);
    let form = form.unwrap_or_else(|| panic!("no form on {page}"));
    let words = decoded(form.value("words").unwrap_or_default());
    assert!(words.contains("guardian"), "{words}");
    let fields =
        [("csrf", desk.token.as_str()), ("words", words.as_str()), ("manner", "by pigeon")];
    let back = desk.client.post_form(&place, &fields)?;
    assert!(back.status == 422 && back.text().contains("id=\"manner-error\""));
    let fields = [("csrf", desk.token.as_str()), ("words", words.as_str()), ("manner", "signed")];
    expect(desk.client.post_form(&place, &fields)?, 303)?;
    expect(desk.client.get(&format!("/performers/{minor}/measure"))?, 200)?;
    let adult = desk.add_performer(&house.production, "GO-30")?;
    expect(desk.client.get(&format!("/performers/{adult}/measure"))?, 200)?;
    expect(desk.post_readings(&adult, &[reading("181")])?, 200)?;
    Ok(())
}

#[test]
fn the_words_are_the_administrators_once_they_are_written() -> Result<()> {
    let mut house = house("consent-words")?;
    let (desk, minor) = (&mut house.desk, house.minor.as_str());
    let own = "Our own words & nothing else.";
    let long = "x".repeat(4001);
    let fields = [("csrf", desk.token.as_str()), ("words", long.as_str())];
    assert_eq!(desk.client.post_form("/keeping/consent", &fields)?.status, 422);
    let fields = [("csrf", desk.token.as_str()), ("words", own)];
    expect(desk.client.post_form("/keeping/consent", &fields)?, 200)?;
    let page = decoded(&desk.client.get(&format!("/performers/{minor}/consent"))?.text());
    assert!(page.contains(own), "{page}");
    // A phone without signal finds them in the shell.
    assert!(
        decoded(&Client::new(house.server.address).get("/shell/measure")?.text()).contains(own)
    );
    let fields = [("csrf", desk.token.as_str()), ("words", "")];
    expect(desk.client.post_form("/keeping/consent", &fields)?, 200)?;
    let page = desk.client.get(&format!("/performers/{minor}/consent"))?.text();
    assert!(!page.contains("Our own words"));
    Ok(())
}

#[test]
fn a_link_for_home_begins_for_a_minor_only_when_a_guardian_agrees() -> Result<()> {
    let mut house = house("consent-home")?;
    let (desk, minor) = (&mut house.desk, house.minor.as_str());
    let fields = [("csrf", desk.token.as_str()), ("days", "2"), ("uses", "2")];
    let page = desk.client.post_form(&format!("/performers/{minor}/home"), &fields)?;
    let page = decoded(&expect(page, 200)?.text());
    let token: String = page
        .split("/home/")
        .map(|rest| rest.chars().take_while(char::is_ascii_hexdigit).collect::<String>())
        .find(|token| token.len() == 64)
        .unwrap_or_default();
    let link = format!("/home/{token}");
    let mut phone = Client::new(house.server.address);
    assert!(phone.get(&link)?.text().contains("name=\"agreed\""));
    let refused = phone.post_form(&link, &[("words", "I agree.")])?;
    assert!(refused.status == 422 && refused.text().contains("id=\"agreed-error\""));
    assert_eq!(phone.get("/home/measure")?.status, 404, "nothing has begun");
    let begun = expect(phone.post_form(&link, &[("agreed", "1"), ("words", "I agree.")])?, 303)?;
    let step = phone.follow(begun)?.text();
    let form = forms(&step).into_iter().find(|form| form.value("value").is_some());
    let form = form.unwrap_or_else(|| panic!("no form on {step}"));
    expect(phone.post_form(&form.action, &form.with("value", "141"))?, 303)?;
    assert_eq!(desk.reading_ids(minor)?.len(), 1);
    // The second visit is not asked again.
    let mut other = Client::new(house.server.address);
    assert!(!other.get(&link)?.text().contains("name=\"agreed\""));
    Ok(())
}

#[test]
fn a_roster_states_consent_or_its_minors_come_without_readings() -> Result<()> {
    let mut house = house("consent-roster")?;
    let desk = &mut house.desk;
    let csv = "code,reference,age,consent,right_hand_length\n\
               A1,child,9,,140\nA2,girl,10,signed,145\nA3,boy,11,maybe,146\nA4,women,,,175\n";
    let path = format!("/productions/{}/import", house.production);
    let fields = [("csrf", desk.token.as_str()), ("csv", csv)];
    let preview = expect(desk.client.post_form(&format!("{path}/check"), &fields)?, 200)?.text();
    assert!(preview.contains("The readings of a minor are left out"), "{preview}");
    expect(desk.client.post_form(&format!("{path}/store"), &fields)?, 303)?;
    let mut held = Vec::new();
    for code in ["A1", "A2", "A3", "A4"] {
        let performer = desk.performer(&house.production, code)?;
        held.push(desk.reading_ids(&performer)?.len());
    }
    assert_eq!(held, [0, 1, 0, 1]);
    // What is exported is imported again with the same right to it.
    let exported = desk.client.get(&format!("/productions/{}/roster.csv", house.production))?;
    let other = desk.add_production("The Glass Orchard, again")?;
    let exported = exported.text();
    let fields = [("csrf", desk.token.as_str()), ("csv", exported.as_str())];
    let path = format!("/productions/{other}/import/store");
    expect(desk.client.post_form(&path, &fields)?, 303)?;
    let performer = desk.performer(&other, "A2")?;
    assert_eq!(desk.reading_ids(&performer)?.len(), 1);
    Ok(())
}

#[test]
fn the_age_of_a_child_is_asked_in_years_and_refused_at_its_place() -> Result<()> {
    let mut house = house("consent-age")?;
    let desk = &mut house.desk;
    let path = format!("/productions/{}/performers", house.production);
    for age in ["", "2", "18", "nine", "2016-05-01", "-3"] {
        let fields = [
            ("csrf", desk.token.as_str()),
            ("code", "GO-10"),
            ("population", "girl"),
            ("age", age),
        ];
        let back = desk.client.post_form(&path, &fields)?;
        assert!(back.status == 422 && back.text().contains("id=\"age-error\""), "{age}");
    }
    Ok(())
}
