//! Every list shows all there is, and one more than there may be is refused when it is added.

use std::collections::BTreeMap;

use analysis::dimension::Dimension;
use analysis::draft::GirthReduction;
use analysis::fitting::{Answer, FitZone, PerZone, Verdict};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use uuid::Uuid;

use super::account::Role;
use super::consent::Consent;
use super::fact::Acceptance;
use super::fitting::{Fitting, Glove};
use super::lay::LayOrder;
use super::tests::{Folder, performer_in};
use super::{
    Conn, StoreError, StoreResult, account, batch, consent, draft_version, fact, fitting,
    home_link, lay, limits, performer, production, subject,
};

/// Adds as many as there may be and then one more, which is refused.
fn fill(c: &Conn, what: &str, most: i64, mut add: impl FnMut(&Conn, i64) -> StoreResult<()>) {
    for number in 0..most {
        add(c, number).unwrap_or_else(|error| unreachable!("{what} {number}: {error}"));
    }
    let one_more = add(c, most);
    let is_refused = matches!(&one_more, Err(StoreError::Refused { code: "list_full", .. }));
    assert!(is_refused, "{what}: {one_more:?}");
}

fn consent_of(performer: Uuid, is_given: bool) -> Consent {
    Consent {
        id: Uuid::now_v7(),
        performer,
        is_given,
        manner: "spoken".to_owned(),
        words: "I agree.".to_owned(),
        recorded_by: "M".to_owned(),
        at_ms: 0,
    }
}

fn fitting_of(performer: Uuid, version: Uuid, hand: &Glove) -> Fitting {
    let answers = BTreeMap::from([(FitZone::Palm, Answer::Mm(1.0))]);
    Fitting {
        id: Uuid::now_v7(),
        performer,
        side: Side::Right,
        version,
        fabric: None,
        verdict: Verdict { answers, ..Verdict::default() },
        glove: hand.clone(),
        note: String::new(),
        measurer: "M".to_owned(),
        device: "phone".to_owned(),
        taken_ms: 1,
    }
}

/// Runs as one write, so that hundreds of rows take no time.
fn with_performer(check: impl FnOnce(&Conn, Uuid) + Send + 'static) {
    let folder = Folder::new();
    let store = folder.open();
    let performer = performer_in(&store);
    store
        .write_now(move |c| {
            check(c, performer);
            Ok(())
        })
        .expect("written");
}

#[test]
fn facts_about_one_performer_are_bounded_and_all_of_them_are_handed_out() {
    with_performer(|c, id| {
        let most = limits::FACTS;
        fill(c, "acceptances", most, |c, number| {
            let kept = Acceptance {
                flag: format!("flag {number}"),
                evidence: String::new(),
                reason: "seen".to_owned(),
                measurer: "M".to_owned(),
            };
            fact::accept(c, Uuid::now_v7(), id, &kept)
        });
        fill(c, "skips", most, |c, _| {
            let step = (Side::Left, Dimension::HandLength);
            fact::skip(c, (Uuid::now_v7(), id), step, "", "M")
        });
        fill(c, "consents", most, |c, _| consent::add(c, &consent_of(id, true)));
        fill(c, "versions", most, |c, number| {
            draft_version::issue(c, id, &format!("{{\"n\":{number}}}"), "2026-03-14").map(drop)
        });
        let version = draft_version::latest(c, id).expect("read").expect("issued").id;
        let hands = HandModel::published().fill(Population::Women, &Hands::default());
        let glove = Glove::new(1, &hands.right, GirthReduction::default(), PerZone::default());
        let first = fitting_of(id, version, &glove);
        fitting::add(c, &first).expect("kept");
        fill(c, "fittings", most - 1, |c, _| {
            fitting::add(c, &fitting_of(id, version, &glove)).map(drop)
        });
        assert!(!fitting::add(c, &first).expect("sent again"), "what is here is not refused");
        fitting::withdraw(c, first.id, "", "M").expect("withdrawn");
        let zones = BTreeMap::from([(FitZone::Palm, 1.0)]);
        fill(c, "changes by hand", most, |c, _| {
            fitting::edit(c, id, (Side::Left, None), &zones, "M").map(drop)
        });
        let all = subject::everything(c, id).expect("read");
        let counts = [
            all.acceptances.len(),
            all.skips.len(),
            all.consents.len(),
            all.drafts.len(),
            all.fittings.len() + all.withdrawn_fittings.len(),
            all.glove_changes.len(),
        ];
        assert_eq!(counts.map(|count| count as i64), [most; 6], "nothing is left out");
    });
}

#[test]
fn consent_can_be_taken_back_however_often_it_was_given() {
    with_performer(|c, id| {
        fill(c, "consents", limits::FACTS, |c, _| consent::add(c, &consent_of(id, true)));
        assert!(consent::in_force(c, id).expect("read").is_some());
        consent::add(c, &consent_of(id, false)).expect("taken back");
        assert!(consent::in_force(c, id).expect("read").is_none(), "the last word counts");
    });
}

#[test]
fn productions_accounts_links_batches_and_lays_are_bounded_and_all_are_listed() {
    with_performer(|c, id| {
        let home = performer::get(c, id).expect("read").production;
        // One production is there already.
        fill(c, "productions", limits::PRODUCTIONS - 1, |c, number| {
            production::add(c, &format!("Show {number}")).map(drop)
        });
        fill(c, "accounts", limits::ACCOUNTS, |c, number| {
            account::add(c, &format!("account {number}"), Role::Measurer).map(drop)
        });
        fill(c, "links for home", limits::HOME_LINKS, |c, number| {
            let hash = format!("{number:032}");
            home_link::add(c, hash.as_bytes(), id, i64::MAX, 1).map(drop)
        });
        fill(c, "batches", limits::BATCHES, |c, _| batch::start(c, home, "a4", &[], "M").map(drop));
        let batch = batch::list(c, home).expect("read").first().expect("a batch").id;
        let order = LayOrder {
            width_mm: 1400.0,
            gap_mm: 3.0,
            is_one_way: false,
            spare_pairs: 0,
            seconds: 1,
        };
        fill(c, "lays", limits::LAYS, |c, _| lay::start(c, batch, &order, "M").map(drop));
        let counts = [
            (production::list(c).expect("read").len(), limits::PRODUCTIONS),
            (account::list(c).expect("read").len(), limits::ACCOUNTS),
            (home_link::list(c, id).expect("read").len(), limits::HOME_LINKS),
            (batch::list(c, home).expect("read").len(), limits::BATCHES),
            (lay::list(c, batch).expect("read").len(), limits::LAYS),
        ];
        for (listed, most) in counts {
            assert_eq!(listed as i64, most);
        }
    });
}
