//! What a column of a roster is, from whatever its header says.

use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::units::Unit;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    /// The performer's code.
    Code,
    /// The performer's name; several such columns are joined in their order.
    Name,
    /// Which published people to compare with.
    Reference,
    /// Age in years.
    Age,
    /// How a minor's guardian agreed.
    Consent,
    /// Name of the fabric.
    Fabric,
    /// Who the performer is called with.
    Call,
    /// A note.
    Note,
    /// Girth of the forearm at the height of a long glove.
    Forearm(Option<Unit>),
    /// Girth of the forearm half way up to it.
    ForearmHalf(Option<Unit>),
    /// A measurement. A header without a side means the right hand.
    Reading(Side, Dimension, Option<Unit>),
    /// Not known here.
    Unknown,
}

impl Column {
    /// Reads a header: case, spaces, underscores, hyphens and points do not matter; a side may
    /// stand before or behind, a unit in brackets or as the last word, and a number behind for a
    /// repeated reading.
    #[must_use]
    pub fn from_header(header: &str) -> Column {
        let lower = header.trim_start_matches('\u{feff}').to_lowercase();
        let (lower, bracketed) = without_brackets(&lower);
        let mut words: Vec<&str> =
            lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
        if let Some(column) = column_of(&words.concat()) {
            return column;
        }
        let mut unit = bracketed.as_deref().and_then(Unit::from_word);
        let (mut side, mut changed) = (None, true);
        while changed {
            changed = false;
            if let Some(last) = words.last().copied() {
                let is_number = last.chars().all(|c| c.is_ascii_digit());
                if is_number || Unit::from_word(last).is_some() {
                    unit = unit.or(Unit::from_word(last));
                    words.pop();
                    changed = true;
                } else if side.is_none() && side_of(last).is_some() {
                    side = side_of(last);
                    words.pop();
                    changed = true;
                }
            }
            if let Some(found) = words.first().and_then(|word| side_of(word))
                && side.is_none()
            {
                side = Some(found);
                words.remove(0);
                changed = true;
            }
        }
        match words.concat().replace("circumference", "girth").as_str() {
            "forearm" | "forearmgirth" => return Column::Forearm(unit),
            "forearmhalf" | "halfforearmgirth" | "forearmgirthhalfway" | "forearmhalfgirth" => {
                return Column::ForearmHalf(unit);
            }
            _ => {}
        }
        match dimension_of(&words.concat()) {
            Some(dimension) => Column::Reading(side.unwrap_or(Side::Right), dimension, unit),
            None => Column::Unknown,
        }
    }
}

/// The text without what stands in brackets, and what stood there.
fn without_brackets(text: &str) -> (String, Option<String>) {
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some((before, rest)) = text.split_once(open)
            && let Some((inside, after)) = rest.split_once(close)
        {
            return (format!("{before} {after}"), Some(inside.trim().to_owned()));
        }
    }
    (text.to_owned(), None)
}

fn column_of(joined: &str) -> Option<Column> {
    let column = match joined {
        "code" | "id" | "performer" | "performercode" | "performerid" | "number" | "no" => {
            Column::Code
        }
        "name" | "fullname" | "firstname" | "lastname" | "surname" | "familyname" | "givenname"
        | "performername" => Column::Name,
        "reference" | "population" | "sex" | "gender" => Column::Reference,
        "age" | "ageyears" | "ageinyears" => Column::Age,
        "consent" | "guardianconsent" | "guardiansconsent" | "einwilligung" => Column::Consent,
        "fabric" | "cloth" | "material" => Column::Fabric,
        "call" | "calltime" | "calledwith" | "group" | "gruppe" | "probengruppe" | "aufruf" => {
            Column::Call
        }
        "note" | "notes" | "remark" | "remarks" | "comment" | "comments" => Column::Note,
        _ => return None,
    };
    Some(column)
}

fn side_of(word: &str) -> Option<Side> {
    match word {
        "left" | "l" | "lh" => Some(Side::Left),
        "right" | "r" | "rh" => Some(Side::Right),
        _ => None,
    }
}

/// The dimension whose key or name this is, words written together. Everyday words count for the
/// standard ones: circumference for girth, width for breadth.
fn dimension_of(joined: &str) -> Option<Dimension> {
    let plain = |text: &str| {
        text.to_lowercase()
            .replace(|c: char| !c.is_alphanumeric(), "")
            .replace("circumference", "girth")
            .replace("width", "breadth")
            .replace("pinky", "little")
            .replace("endjoint", "tip")
            .replace("overthe", "over")
            .replace("finger", "")
    };
    let wanted = plain(joined);
    Dimension::ALL
        .into_iter()
        .find(|dimension| wanted == plain(dimension.key()) || wanted == plain(dimension.name()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_and_name_is_known_with_and_without_a_side() {
        for dimension in Dimension::ALL {
            for text in [dimension.key(), dimension.name()] {
                let right = Column::Reading(Side::Right, dimension, None);
                let left = Column::Reading(Side::Left, dimension, Some(Unit::Cm));
                assert_eq!(Column::from_header(text), right);
                assert_eq!(Column::from_header(&format!("right_{text}")), right);
                assert_eq!(Column::from_header(&format!("Left {text} (cm)")), left);
                assert_eq!(Column::from_header(&format!("{text} LEFT [cm]")), left);
                assert_eq!(Column::from_header(&format!("{text}_l_cm")), left);
            }
        }
    }

    #[test]
    fn headers_as_people_write_them() {
        let right = |dimension, unit| Column::Reading(Side::Right, dimension, unit);
        for (header, column) in [
            ("\u{feff}Performer", Column::Code),
            ("  ID ", Column::Code),
            ("First name", Column::Name),
            ("Full_Name", Column::Name),
            ("SEX", Column::Reference),
            ("Age (years)", Column::Age),
            ("HAND-LENGTH", right(Dimension::HandLength, None)),
            ("Hand circumference (in)", right(Dimension::HandGirth, Some(Unit::Inch))),
            ("hand length 2", right(Dimension::HandLength, None)),
            ("Middle finger length, mm", right(Dimension::MiddleLength, Some(Unit::Mm))),
            ("Forearm girth (cm)", Column::Forearm(Some(Unit::Cm))),
            ("half forearm circumference", Column::ForearmHalf(None)),
            ("forearm_half", Column::ForearmHalf(None)),
            ("Call", Column::Call),
            ("call-time", Column::Call),
            ("Gruppe", Column::Call),
            ("shoe size", Column::Unknown),
            ("", Column::Unknown),
            ("left", Column::Unknown),
        ] {
            assert_eq!(Column::from_header(header), column, "{header}");
        }
    }
}
