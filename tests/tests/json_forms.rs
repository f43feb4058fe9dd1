//! What a page does by its form, a script does by the same inputs as JSON: the store holds the same,
//! and what is refused is refused at the same place.

use std::io::Result;

use handcall_tests::client::Client;
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::script::Script;
use serde_json::{Value, json};
use uuid::Uuid;

/// A production with one measured performer.
struct House {
    server: Running,
    script: Script,
    production: String,
    performer: String,
}

impl House {
    fn open(folder: &Scratch) -> Result<House> {
        let server = Running::start(folder.path())?;
        let mut script = Script::open(&server)?;
        let production = made(&script.post("/", &[], &json!({ "name": "The Salt Stair" }))?.json());
        let mut house = House { server, script, production, performer: String::new() };
        house.performer = house.add(&json!({ "code": "TW01", "population": "women" }))?;
        for (dimension, value) in
            [("hand_length", "181"), ("hand_girth", "18.4"), ("middle_length", "77")]
        {
            house.measure(dimension, value)?;
        }
        Ok(house)
    }

    fn add(&mut self, performer: &Value) -> Result<String> {
        let address = "/productions/{id}/performers";
        Ok(made(&self.script.post(address, &[&self.production], performer)?.json()))
    }

    fn measure(&mut self, dimension: &str, value: &str) -> Result<()> {
        let unit = if value.contains('.') { "cm" } else { "mm" };
        let body = json!({
            "id": Uuid::now_v7(), "side": "right", "step": dimension, "value": value, "unit": unit,
        });
        let done = self.script.post("/performers/{id}/measure", &[&self.performer], &body)?;
        assert_eq!(done.status, 200, "{}", done.text());
        Ok(())
    }

    /// Posts to one of the performer's addresses.
    fn post(&mut self, address: &str, body: &Value) -> Result<Value> {
        let performer = self.performer.clone();
        let names = [performer.as_str(), "right"];
        Ok(self.script.post(address, &names, body)?.json())
    }

    fn state(&mut self) -> Result<Value> {
        Ok(self.script.get("/api/performers/{id}", &[&self.performer], "")?.json())
    }

    /// Refused at an input.
    fn refused(&mut self, address: &str, names: &[&str], body: &Value, field: &str) -> Result<()> {
        let answer = self.script.post(address, names, body)?;
        assert_eq!(answer.status, 422, "{address} {body}: {}", answer.text());
        assert_eq!(answer.json()["field"], field, "{address} {body}: {}", answer.text());
        Ok(())
    }
}

fn made(answer: &Value) -> String {
    assert!(answer["id"].is_string(), "nothing was made: {answer}");
    answer["id"].as_str().unwrap_or_default().to_owned()
}

fn count(list: &Value) -> usize {
    list.as_array().map_or(0, Vec::len)
}

#[test]
fn productions_and_performers_are_added_and_refused_as_by_the_form() -> Result<()> {
    let folder = Scratch::new("json-roster");
    let mut house = House::open(&folder)?;
    let productions = house.script.get("/api/productions", &[], "")?.json();
    assert_eq!((count(&productions), &productions[0]["performers"]), (1, &json!(1)));
    let child = house.add(&json!({ "code": "TW02", "population": "child", "age": 9 }))?;
    let state = house.script.get("/api/performers/{id}", &[&child], "")?.json();
    assert_eq!((&state["population"], &state["needs_consent"]), (&json!("child_9"), &json!(true)));
    let home = house.production.clone();
    let names = [home.as_str()];
    let address = "/productions/{id}/performers";
    for (body, field) in [
        (json!({ "code": "", "population": "women" }), "code"),
        (json!({ "code": "TW01", "population": "women" }), "code"),
        (json!({ "code": "TW03", "population": "giants" }), "population"),
        (json!({ "code": "TW03", "population": "child", "age": 99 }), "age"),
        (json!({ "code": "TW03", "population": "women", "fabric": "felt" }), "fabric"),
        (json!({ "code": ["TW03"], "population": "women" }), "code"),
        (json!({ "code": "TW03", "name": { "first": "Ada" } }), "name"),
    ] {
        house.refused(address, &names, &body, field)?;
    }
    house.refused("/", &[], &json!({ "name": "the salt stair" }), "name")?;
    house.refused("/", &[], &json!({ "name": "x".repeat(81) }), "name")?;
    let board = house.script.get("/api/productions/{id}/board", &names, "")?.json();
    assert_eq!(board["performers"], 2, "nothing refused was kept");
    Ok(())
}

#[test]
fn readings_flags_and_consent_are_kept_and_refused_as_by_the_form() -> Result<()> {
    let folder = Scratch::new("json-readings");
    let mut house = House::open(&folder)?;
    let who = house.performer.clone();
    let names = [who.as_str()];
    let girth = |state: &Value| {
        let readings = state["readings"].as_array().cloned().unwrap_or_default();
        readings.into_iter().find(|reading| reading["dimension"] == "hand_girth")
    };
    let stored = girth(&house.state()?).expect("the reading in cm");
    assert_eq!((&stored["mm"], &stored["origin"]), (&json!(184.0), &json!("form")));
    let much = json!({ "side": "right", "step": "palm_length", "value": "much", "unit": "mm" });
    house.refused("/performers/{id}/measure", &names, &much, "value")?;
    let unknown = json!({ "side": "right", "step": "nose", "value": "1", "unit": "mm" });
    house.refused("/performers/{id}/measure", &names, &unknown, "dimension")?;

    // A slip, the flag it raises, and both ways to settle it.
    house.measure("index_length", "7.1")?;
    house.measure("ring_length", "720")?;
    let flags = house.state()?["flags"].clone();
    let flag = flags.as_array().and_then(|all| all.iter().find(|f| count(&f["repairs"]) > 0));
    let flag = flag.expect("ten times too long is a slip")["key"].clone();
    house.refused(
        "/performers/{id}/accept",
        &names,
        &json!({ "flag": flag, "reason": "" }),
        "reason",
    )?;
    let outdated = json!({ "flag": flag, "repair": 99 });
    assert_eq!(house.script.post("/performers/{id}/repair", &names, &outdated)?.status, 409);
    house.post("/performers/{id}/repair", &json!({ "flag": flag, "repair": 0 }))?;
    let ring = house.state()?["readings"].as_array().cloned().unwrap_or_default();
    let ring = ring.iter().find(|reading| reading["dimension"] == "ring_length");
    assert_eq!(ring.map(|reading| reading["origin"].clone()), Some(json!("repair")));

    let taken_out = json!({ "reading": stored["id"], "reason": "measured over the ring" });
    house.post("/performers/{id}/withdraw", &taken_out)?;
    assert_eq!(girth(&house.state()?), None);
    house.post("/performers/{id}/reference", &json!({ "population": "men" }))?;
    assert_eq!(house.state()?["population"], "men");
    house.refused(
        "/performers/{id}/reference",
        &names,
        &json!({ "population": "elves" }),
        "population",
    )?;

    let child = house.add(&json!({ "code": "TW02", "population": "child", "age": "9" }))?;
    let names = [child.as_str()];
    house.refused("/performers/{id}/consent", &names, &json!({ "manner": "guessed" }), "manner")?;
    for (address, needs) in
        [("/performers/{id}/consent", false), ("/performers/{id}/consent/withdraw", true)]
    {
        house.script.post(address, &names, &json!({ "manner": "spoken", "words": "I agree." }))?;
        let state = house.script.get("/api/performers/{id}", &names, "")?.json();
        assert_eq!(state["needs_consent"], needs, "{address}");
    }
    Ok(())
}

#[test]
fn fabrics_choices_versions_and_fittings_are_kept_as_by_the_form() -> Result<()> {
    let folder = Scratch::new("json-gloves");
    let mut house = House::open(&folder)?;
    let home = house.production.clone();
    let fabric = json!({
        "name": "Tide", "material": "knit", "latex": "no", "share": 60, "limit_palm": 12,
        "limit_wrist": 12, "limit_fingers": 12, "limit_thumb": 12, "direction_0": "greatest",
        "by_0": "mass", "mass_0": 500, "strip_0": 50, "before_0": 100, "loaded_0": 160,
        "released_0": 101.5,
    });
    let added = house.script.post("/productions/{id}/fabrics/add", &[&home], &fabric)?;
    assert_eq!(added.status, 201, "{}", added.text());
    let tide = made(&added.json());
    let mut wrong = fabric.clone();
    wrong["loaded_0"] = json!("a lot");
    house.refused("/fabrics/{id}", &[&tide], &wrong, "loaded_0")?;
    let mut softer = fabric.clone();
    softer["loaded_0"] = json!(180);
    house.script.post("/fabrics/{id}", &[&tide], &softer)?;
    house.post("/performers/{id}/fabric", &json!({ "fabric": tide }))?;
    let fabrics = house.script.get("/api/productions/{id}/fabrics", &[&home], "")?.json();
    assert_eq!(fabrics[0]["version"], 2);
    assert_eq!(fabrics[0]["facts"]["tests"][0]["loaded_mm"], 180.0);
    assert_eq!(fabrics[0]["wearers"], json!(["TW01"]));

    let who = house.performer.clone();
    let names = [who.as_str()];
    let choices = json!({ "keep": "performer", "side": "right", "cuff": "gauntlet", "hem": 15 });
    house.post("/performers/{id}/choices", &choices)?;
    let draft = house.script.get("/api/performers/{id}/draft", &names, "?side=left")?.json();
    assert_eq!((&draft["form"]["cuff"], &draft["form"]["hem"]), (&json!("gauntlet"), &json!("15")));
    let tall = json!({ "keep": "performer", "side": "right", "hem": "tall" });
    house.refused("/performers/{id}/choices", &names, &tall, "hem")?;

    let set = json!({ "action": "set", "mm.palm": 3 });
    house.post("/performers/{id}/next/{side}", &set)?;
    let far = json!({ "action": "set", "mm.palm": 300 });
    house.refused("/performers/{id}/next/{side}", &[&who, "right"], &far, "mm.palm")?;
    house.post("/performers/{id}/next/{side}", &json!({ "action": "keep" }))?;
    let fittings = house.script.get("/api/performers/{id}/fittings", &names, "")?.json();
    let version = fittings["gloves"][0]["id"].clone();
    assert_eq!(fittings["gloves"][0]["number"], 1);
    let tried = json!({
        "id": Uuid::now_v7(), "side": "right", "version": version, "answer.palm": "too_tight",
        "mm.middle_length": -2, "sign.tingling": true, "worn_minutes": 20,
    });
    let done = house.post("/performers/{id}/fitting", &tried)?;
    assert!(done["at"].as_str().is_some_and(|at| at.contains("/fitting")), "{done}");
    let fittings = house.script.get("/api/performers/{id}/fittings", &names, "")?.json();
    let verdict = &fittings["fittings"][0]["verdict"];
    assert_eq!(verdict["answers"], json!({ "palm": "too_tight", "middle_length": -2.0 }));
    assert_eq!((&verdict["signs"], &verdict["worn_minutes"]), (&json!(["tingling"]), &json!(20)));
    let mut wrong = tried.clone();
    wrong["id"] = json!(Uuid::now_v7());
    wrong["mm.middle_length"] = json!("a bit");
    let refused = house.script.post("/performers/{id}/fitting", &names, &wrong)?;
    assert_eq!(refused.status, 422, "{}", refused.text());
    let gone = json!({ "fitting": fittings["fittings"][0]["id"], "side": "right" });
    house.post("/performers/{id}/fittings/withdraw", &gone)?;
    let fittings = house.script.get("/api/performers/{id}/fittings", &names, "")?.json();
    assert_eq!(count(&fittings["fittings"]), 0);

    let copy = json!({ "action": "copy", "name": "Tide, second roll", "production": home });
    let copied = house.script.post("/fabrics/{id}/memory", &[&tide], &copy)?;
    assert_eq!(copied.status, 201, "{}", copied.text());
    let memory = house.script.get("/api/fabrics/{id}/memory", &[&made(&copied.json())], "")?;
    assert_eq!(memory.json()["name"], "Tide, second roll");
    let unnamed = json!({ "action": "copy", "name": "", "production": home });
    house.refused("/fabrics/{id}/memory", &[&tide], &unnamed, "name")
}

#[test]
fn accounts_links_and_sign_in_work_without_a_page() -> Result<()> {
    let folder = Scratch::new("json-accounts");
    let mut house = House::open(&folder)?;
    house.refused("/accounts", &[], &json!({ "name": "mara", "role": "queen" }), "role")?;
    let added =
        house.script.post("/accounts", &[], &json!({ "name": "mara", "role": "measurer" }))?;
    assert_eq!(added.status, 201);
    let accounts = house.script.get("/api/accounts", &[], "")?.json();
    let known = accounts.as_array().expect("a list").iter().find(|a| a["name"] == "mara");
    assert_eq!(known.expect("added")["id"], added.json()["id"]);
    let link = added.json()["link"].as_str().expect("a link").to_owned();
    let token = link.rsplit('/').next().unwrap_or_default();
    let (mut mara, nothing) = (Client::new(house.server.address), json!({}));
    let script = &house.script;
    let signed_in = script.post_as(&mut mara, "/sign-in/{token}", &[token], &nothing)?;
    assert_eq!(signed_in.json()["at"], "/account");
    assert_eq!(mara.get("/api/session")?.json()["name"], "mara");
    let again = script.post_as(
        &mut Client::new(house.server.address),
        "/sign-in/{token}",
        &[token],
        &nothing,
    )?;
    assert_eq!(again.status, 404, "a link signs in once");
    let form_token = mara.get("/api/session")?.json()["form_token"].clone();
    let form_token = form_token.as_str().unwrap_or_default();
    let only = json!({ "passphrase": "password1234", "only": "judge" });
    let judged = mara.post_json("/account", form_token, &only)?.json();
    assert_eq!(
        (&judged["at"], &judged["strength"]["is_enough"]),
        (&json!("/account"), &json!(false))
    );
    let weak = mara.post_json("/account", form_token, &json!({ "passphrase": "password1234" }))?;
    assert_eq!((weak.status, &weak.json()["field"]), (422, &json!("passphrase")));
    let strong = json!({ "passphrase": "seven geese cross slowly" });
    assert_eq!(mara.post_json("/account", form_token, &strong)?.status, 200);

    let mut phone = Client::new(house.server.address);
    let wrong = json!({ "name": "mara", "passphrase": "seven geese cross" });
    let refused = script.post_as(&mut phone, "/sign-in", &[], &wrong)?;
    assert_eq!((refused.status, &refused.json()["code"]), (422, &json!("sign_in_wrong")));
    let right =
        json!({ "name": "mara", "passphrase": "seven geese cross slowly", "to": "/keeping" });
    assert_eq!(script.post_as(&mut phone, "/sign-in", &[], &right)?.json()["at"], "/keeping");
    assert_eq!(phone.get("/api/session")?.json()["role"], "measurer");
    assert_eq!(script.post_as(&mut phone, "/second-factor", &[], &nothing)?.status, 409);
    // A measurer may not plan, whichever way it is sent.
    let token = phone.get("/api/session")?.json()["form_token"].clone();
    let token = token.as_str().unwrap_or_default();
    assert_eq!(phone.post_json("/", token, &json!({ "name": "Mine" }))?.status, 403);
    assert_eq!(phone.post_json("/sign-out", token, &nothing)?.json()["at"], "/sign-in");
    assert_eq!(phone.get("/api/session")?.status, 401);

    house.refused("/language", &[], &json!({ "language": "volapuk" }), "language")?;
    house.script.post("/language", &[], &json!({ "language": "de" }))?;
    let german = house.script.post("/", &[], &json!({ "name": "" }))?.json();
    assert_ne!(german["message"], "", "{german}");
    let english = Client::new(house.server.address).post_json("/", "", &nothing)?;
    assert_eq!(english.status, 401);
    Ok(())
}

#[test]
fn a_visit_at_home_an_import_and_an_exercise_need_no_page() -> Result<()> {
    let folder = Scratch::new("json-home");
    let mut house = House::open(&folder)?;
    let (who, home) = (house.performer.clone(), house.production.clone());
    let names = [who.as_str()];
    house.refused("/performers/{id}/home", &names, &json!({ "days": 1, "uses": 0 }), "uses")?;
    let link =
        house.script.post("/performers/{id}/home", &names, &json!({ "days": 1, "uses": 2 }))?;
    assert_eq!(link.status, 201);
    let token = link.json()["link"].as_str().and_then(|l| l.rsplit('/').next()).map(str::to_owned);
    let token = token.expect("a link");
    let mut phone = Client::new(house.server.address);
    let reading = json!({
        "id": Uuid::now_v7(), "side": "left", "step": "hand_length", "value": 181, "unit": "mm",
    });
    let script = &house.script;
    assert_eq!(script.post_as(&mut phone, "/home/measure", &[], &reading)?.status, 404);
    script.post_as(&mut phone, "/home/{token}", &[&token], &json!({}))?;
    let kept = script.post_as(&mut phone, "/home/measure", &[], &reading)?;
    assert_eq!(kept.status, 200, "{}", kept.text());
    let state = house.state()?;
    let readings = state["readings"].as_array().cloned().unwrap_or_default();
    assert!(readings.iter().any(|r| r["origin"] == "self" && r["side"] == "left"), "{state}");
    let revoked = json!({ "link": link.json()["id"] });
    house.post("/performers/{id}/home/revoke", &revoked)?;
    assert_eq!(house.script.post_as(&mut phone, "/home/measure", &[], &reading)?.status, 404);

    let csv = "code,sex,hand length\nTW01,f,180\nTW05,f,180\nTW06,m,soft\n";
    let names = [home.as_str()];
    for (address, status) in
        [("/productions/{id}/import/check", 200), ("/productions/{id}/import/store", 201)]
    {
        let told = house.script.post(address, &names, &json!({ "csv": csv }))?;
        assert_eq!((told.status, count(&told.json()["rows"])), (status, 2), "{}", told.text());
        let lines: Vec<Value> = told.json()["problems"]
            .as_array()
            .map(|all| all.iter().map(|problem| problem["line"].clone()).collect())
            .unwrap_or_default();
        assert!(lines.contains(&json!(2)) && lines.contains(&json!(4)), "{lines:?}");
    }
    house.refused("/productions/{id}/import/store", &names, &json!({ "csv": csv }), "csv")?;
    let board = house.script.get("/api/productions/{id}/board", &names, "")?.json();
    assert_eq!(board["performers"], 3);

    let one = json!({ format!("hand-{who}-right"): true, "dimension-hand_length": true });
    house.refused("/productions/{id}/exercise", &names, &one, "hands")?;
    let both = json!({
        format!("hand-{who}-right"): true, format!("hand-{who}-left"): true,
        "dimension-hand_length": true, "dimension-hand_girth": false,
    });
    house.script.post("/productions/{id}/exercise", &names, &both)?;
    let state = house.script.get("/api/productions/{id}/exercise", &names, "")?.json();
    assert_eq!((count(&state["hands"]), count(&state["turn"]["fields"])), (2, 1), "{state}");
    let turn = &state["turn"];
    let mut values = json!({
        "round": turn["round"], "performer": turn["performer"], "side": "sideways", "unit": "mm",
        "value-hand_length": 182, "id-hand_length": turn["fields"][0]["id"],
    });
    let hand = "/productions/{id}/exercise/hand";
    assert_eq!(house.script.post(hand, &names, &values)?.status, 409);
    values["side"] = turn["side"].clone();
    house.script.post(hand, &names, &values)?;
    let state = house.script.get("/api/productions/{id}/exercise", &names, "")?.json();
    assert_ne!(state["turn"]["side"], turn["side"]);
    Ok(())
}

#[test]
fn keeping_and_erasing_ask_for_the_same_as_the_form() -> Result<()> {
    let folder = Scratch::new("json-keeping");
    let mut house = House::open(&folder)?;
    let (who, home) = (house.performer.clone(), house.production.clone());
    let names = [home.as_str()];
    house.refused("/productions/{id}/keeping", &names, &json!({ "until": "soon" }), "until")?;
    house.script.post("/productions/{id}/keeping", &names, &json!({ "until": "2027-03-31" }))?;
    let productions = house.script.get("/api/productions", &[], "")?.json();
    assert_eq!(productions[0]["keep_until"], "2027-03-31");
    house.refused("/keeping/consent", &[], &json!({ "words": "x".repeat(9000) }), "words")?;
    assert_eq!(
        house.script.post("/keeping/consent", &[], &json!({ "words": "Yes." }))?.status,
        200
    );
    let few = house.script.post("/hand-model", &[], &json!({ "action": "learn" }))?;
    assert_eq!(few.status, 409, "{}", few.text());

    house.refused("/performers/{id}/erase", &[&who], &json!({ "code": "TW" }), "erase_code")?;
    house.post("/performers/{id}/erase", &json!({ "code": "TW01" }))?;
    assert_eq!(house.script.get("/api/performers/{id}", &[&who], "")?.status, 404);
    house.refused("/productions/{id}/erase", &names, &json!({ "name": "Salt" }), "name")?;
    house.script.post("/productions/{id}/erase", &names, &json!({ "name": "The Salt Stair" }))?;
    assert_eq!(house.script.get("/api/productions", &[], "")?.json(), json!([]));
    Ok(())
}

#[test]
fn json_that_no_form_could_send_is_refused_and_a_token_is_needed() -> Result<()> {
    let folder = Scratch::new("json-hostile");
    let mut house = House::open(&folder)?;
    let token = house.script.desk.token.clone();
    let client = &mut house.script.desk.client;
    for sent in ["", "0"] {
        let stolen = client.post_json("/", sent, &json!({ "name": "Stolen" }))?;
        assert_eq!((stolen.status, &stolen.json()["code"]), (403, &json!("form_expired")));
    }
    let kind = |kind| [("content-type", kind), ("x-form-token", token.as_str())];
    let deep = format!("{{\"name\":{}{}}}", "[".repeat(5_000), "]".repeat(5_000));
    let long = format!("{{\"name\":\"{}\"}}", "x".repeat(400_000));
    for (body, status) in [
        ("", 400),
        ("{", 400),
        ("[]", 400),
        ("null", 400),
        ("\"name\"", 400),
        ("{\"name\":\"\u{0}\"}", 400),
        ("{\"name\":\"\\ud800\"}", 400),
        (&deep, 400),
        (&long, 413),
        ("{\"name\":{}}", 422),
        ("{\"name\":null}", 422),
        ("{\"name\":1e400}", 400),
        ("{\"name\":\"a\\u0000b\"}", 422),
    ] {
        let answer = client.send("POST", "/", &kind("application/json"), body.as_bytes())?;
        let shown: String = body.chars().take(40).collect();
        assert_eq!(answer.status, status, "{shown}: {}", answer.text());
        assert!(answer.json()["code"].is_string(), "{shown}: {}", answer.text());
    }
    for other in ["text/plain", "application/xml", "application/jsonish"] {
        let answer = client.send("POST", "/", &kind(other), b"{\"name\":\"Other\"}")?;
        assert_eq!((answer.status, &answer.json()["code"]), (415, &json!("wrong_type")), "{other}");
    }
    let kept = house.script.get("/api/productions", &[], "")?.json();
    assert_eq!(count(&kept), 1, "nothing of it was kept: {kept}");
    Ok(())
}
