//! Gloves of sizes, by the links of the page of sizes: of the cast's own sizes and of the European
//! chart, both sides, printed at true size, with nobody's name or code on them, or refused in words.

use std::collections::BTreeSet;
use std::process::Command;

use handcall_tests::page::links;
use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Workshop, expect};
use handcall_tests::{company, print};

/// The demo company served, and the id of its production.
#[expect(clippy::expect_used, reason = "a test cannot go on without the company")]
fn served(folder: &Scratch) -> (Running, Workshop, String) {
    let demo = Command::new(command())
        .args(["demo", "--no-serve", "--data"])
        .arg(folder.path())
        .output()
        .expect("the command starts");
    assert!(demo.status.success(), "{}", String::from_utf8_lossy(&demo.stderr));
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    let page = desk.client.get("/").expect("answered").text();
    let home = page.split("/productions/").nth(1).and_then(|rest| rest.get(..36));
    let home = home.expect("a production").to_owned();
    (server, desk, home)
}

/// Links to gloves on the page of sizes asked for so.
#[expect(clippy::expect_used, reason = "a test cannot go on without the page")]
fn gloves(desk: &mut Workshop, home: &str, query: &str) -> Vec<String> {
    let page = desk.client.get(&format!("/productions/{home}/sizes?{query}")).expect("answered");
    let page = expect(page, 200).expect("a page").text();
    let links = links(&page, &format!("/productions/{home}/sizes/"));
    links.into_iter().filter(|link| link.contains("/glove.")).collect()
}

/// Width and height of an SVG, mm, as written in its head, and as its coordinates span.
#[expect(clippy::expect_used, reason = "a test cannot go on without the head")]
fn measures(svg: &str) -> ([f64; 2], [f64; 2]) {
    let head = svg.split("<svg").nth(1).and_then(|rest| rest.split('>').next()).expect("a head");
    let value = |name: &str| {
        let rest = head.split(&format!(" {name}=\"")).nth(1).expect("an attribute");
        rest.split('"').next().expect("its value").to_owned()
    };
    let mm = |name: &str| value(name).strip_suffix("mm").expect("mm").parse().expect("a number");
    let view: Vec<f64> =
        value("viewBox").split_whitespace().map(|n| n.parse().expect("a number")).collect();
    ([mm("width"), mm("height")], [view[2], view[3]])
}

#[test]
fn the_gloves_of_every_size_follow_from_links_and_print_at_true_size() {
    let folder = Scratch::new("size-gloves");
    let (_server, mut desk, home) = served(&folder);
    // By real hands and by centres, three sizes each; the chart has six.
    for query in ["sizes=3", "sizes=3&by=centres"] {
        let found = gloves(&mut desk, &home, query);
        let names: BTreeSet<&str> =
            found.iter().filter_map(|link| link.split('/').nth(4)).collect();
        let expected = ["A", "B", "C", "EN-10", "EN-11", "EN-6", "EN-7", "EN-8", "EN-9"];
        assert!(names.iter().eq(expected.iter()), "{names:?}");
        assert_eq!(found.len(), 9 * 4, "PDF and SVG of both sides");
    }
    let found = gloves(&mut desk, &home, "sizes=3&paper=a3");
    let of = |name: &str, side: &str, kind: &str| {
        let wanted = format!("/{name}/{side}/glove.{kind}?");
        let link = found.iter().find(|link| link.contains(&wanted)).expect("linked");
        link.clone()
    };
    let words = |desk: &mut Workshop, path: &str, file: &std::path::Path| {
        let answer = expect(desk.client.get(path).expect("answered"), 200).expect("a glove");
        let name = answer.header("content-disposition").unwrap_or_default().to_owned();
        std::fs::write(file, &answer.body).expect("written");
        let text = Command::new("pdftotext").arg(file).arg("-").output().expect("pdftotext");
        (name, String::from_utf8_lossy(&text.stdout).into_owned())
    };
    let pdf = folder.path().join("glove.pdf");
    for (name, side, shown) in
        [("A", "left", "Size A"), ("C", "right", "Size C"), ("EN-8", "left", "EN 8")]
    {
        let (file, text) = words(&mut desk, &of(name, side, "pdf"), &pdf);
        assert!(file.contains(&format!("{}-{side}.pdf", shown.replace(' ', "-"))), "{file}");
        assert!(text.contains(shown), "{text}");
        for performer in company::performers() {
            assert!(!text.contains(&performer.code), "{} on a glove of a size", performer.code);
        }
        assert!(!text.contains("Calloway") && !text.contains("Oyelaran"));
        let pages = print::render(&pdf, folder.path());
        assert!(!pages.is_empty());
        for page in &pages {
            // A3 by ISO 216, upright or lying.
            let (width, height) = page.size_mm();
            assert!(
                (width.min(height) - 297.0).abs() < 0.1 && (width.max(height) - 420.0).abs() < 0.1
            );
            let bars = page.check_bars();
            assert_eq!(bars.len(), 2, "{bars:?}");
            assert!(bars.iter().all(|bar| (bar.length_mm - 100.0).abs() <= 0.2), "{bars:?}");
            assert_ne!(bars[0].is_horizontal, bars[1].is_horizontal);
        }
    }
    // A millimetre is a millimetre in the SVG, and a larger size a larger glove.
    let mut areas = Vec::new();
    for number in 6..=11 {
        let path = of(&format!("EN-{number}"), "right", "svg");
        let svg = expect(desk.client.get(&path).expect("answered"), 200).expect("a drawing").text();
        let (written, spanned) = measures(&svg);
        assert!((written[0] - spanned[0]).abs() < 1e-6 && (written[1] - spanned[1]).abs() < 1e-6);
        assert!(svg.contains(&format!("EN {number} Right")), "{number}");
        areas.push(written[0] * written[1]);
    }
    assert!(areas.is_sorted_by(|a, b| a < b), "{areas:?}");
}

#[test]
fn the_productions_choices_count_and_what_cannot_be_drafted_is_said() {
    let folder = Scratch::new("size-choices");
    let (_server, mut desk, home) = served(&folder);
    let someone = desk.performer(&home, "TW01").expect("on the board");
    let keep = |desk: &mut Workshop, choices: &[(&str, &str)]| {
        let token = desk.token.clone();
        let mut fields = vec![("csrf", token.as_str()), ("keep", "everybody"), ("side", "right")];
        fields.extend_from_slice(choices);
        let path = format!("/performers/{someone}/choices");
        assert_eq!(desk.client.post_form(&path, &fields).expect("answered").status, 303);
    };
    let path =
        |name: &str, kind: &str| format!("/productions/{home}/sizes/{name}/left/glove.{kind}");
    let drawing = |desk: &mut Workshop, name: &str| {
        let answer = desk.client.get(&path(name, "svg")).expect("answered");
        expect(answer, 200).expect("a drawing").text()
    };
    let plain = drawing(&mut desk, "EN-8");
    assert!(!plain.contains("F1"), "two layers have no fourchettes");
    keep(&mut desk, &[("construction", "fourchette")]);
    for name in ["EN-8", "A"] {
        assert!(drawing(&mut desk, name).contains("F1"), "{name} is drafted as was chosen");
    }
    keep(&mut desk, &[("cuff", "long"), ("forearm", "250")]);
    for name in ["EN-8", "A"] {
        let refused = desk.client.get(&path(name, "pdf")).expect("answered");
        assert_eq!(refused.status, 422);
        assert!(refused.text().contains("a size has none"), "{}", refused.text());
    }
    keep(&mut desk, &[]);
    for (name, status) in [("Z", 404), ("EN-12", 404), ("EN-", 404), ("TW01", 404), ("A", 200)] {
        assert_eq!(desk.client.get(&path(name, "pdf")).expect("answered").status, status, "{name}");
    }
    for query in ["sizes=99", "paper=papyrus", "fabric=none"] {
        let refused = desk.client.get(&format!("{}?{query}", path("A", "pdf"))).expect("answered");
        assert_eq!(refused.status, 422, "{query}");
    }
}
