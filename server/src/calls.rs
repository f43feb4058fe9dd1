//! Calls: who is called together. A call is free text, such as "morning" or "dancers"; upper and
//! lower case make no other call.

use uuid::Uuid;

use crate::error::Problem;
use crate::store::performer::Performer;

/// Longest call, characters (assumed: it stands in a column of the call sheet).
pub const LONGEST_CALL: usize = 40;

/// Whether two texts name one call.
#[must_use]
pub fn is_same(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

/// Every call once, in the order of their first appearance.
#[must_use]
pub fn distinct<'a>(calls: impl Iterator<Item = &'a str>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for call in calls.filter(|call| !call.is_empty()) {
        if !found.iter().any(|known| is_same(known, call)) {
            found.push(call.to_owned());
        }
    }
    found
}

/// The performers whose codes are listed. Commas, semicolons and line breaks stand between codes,
/// and spaces where no code has them.
///
/// # Errors
/// A refusal at `codes` where there is none, or one that nobody has.
pub fn listed(codes: &str, roster: &[Performer]) -> Result<Vec<Uuid>, Problem> {
    let of = |code: &str| {
        let wanted = code.to_lowercase();
        roster.iter().find(|one| one.code.to_lowercase() == wanted).map(|one| one.id)
    };
    let mut found = Vec::new();
    for part in codes.split([',', ';', '\n', '\r']).map(str::trim).filter(|p| !p.is_empty()) {
        if let Some(id) = of(part) {
            found.push(id);
            continue;
        }
        for code in part.split_whitespace() {
            found.push(of(code).ok_or_else(|| {
                let code: String = code.chars().take(20).collect();
                Problem::at("codes", "performer_code_unknown").with("code", code)
            })?);
        }
    }
    if found.is_empty() {
        return Err(Problem::at("codes", "text_empty"));
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::model::Population;

    fn performer(code: &str) -> Performer {
        Performer {
            id: Uuid::now_v7(),
            production: Uuid::nil(),
            code: code.to_owned(),
            name: String::new(),
            population: Population::Adults,
            fabric: None,
            call: String::new(),
            note: String::new(),
            choices: String::new(),
        }
    }

    #[test]
    fn one_call_in_other_letters_is_one_call() {
        let calls = ["", "Dancers", "morning", "DANCERS ", "Ärzte", "ärzte"];
        assert_eq!(distinct(calls.into_iter()), ["Dancers", "morning", "Ärzte"]);
    }

    #[test]
    fn codes_are_found_with_and_without_spaces_in_them() {
        let roster = [performer("TW01"), performer("Second row 3"), performer("Ö")];
        let [one, two, three] = [roster[0].id, roster[1].id, roster[2].id];
        assert_eq!(listed("tw01 ö", &roster).expect("known"), [one, three]);
        assert_eq!(listed(" second row 3;\nTW01, ", &roster).expect("known"), [two, one]);
        for (codes, code) in [(" ,; ", "text_empty"), ("TW01 TW02", "performer_code_unknown")] {
            let refused = listed(codes, &roster).expect_err(codes);
            assert_eq!((refused.field.as_deref(), refused.code()), (Some("codes"), code));
        }
    }
}
