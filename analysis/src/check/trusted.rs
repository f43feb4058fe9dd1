//! Which readings may be built upon while flags are open.

use crate::hand::{Hands, Side};

use super::{Flag, FlagKind};

/// The hands without the readings that an open flag calls a slip: a value of 6.6 mm for a wrist
/// must not draw the other wrist down to 63 mm. Pass only flags nobody has settled; a flag that
/// was kept with a reason leaves its reading in. Flags that only ask for a second look (rest of
/// the hand, sides, repeats, identity) leave their readings in as well.
#[must_use]
pub fn trusted<'a>(hands: &Hands, open: impl IntoIterator<Item = &'a Flag>) -> Hands {
    let mut trusted = hands.clone();
    for flag in open {
        match flag.kind {
            FlagKind::LikelySlip | FlagKind::OutOfRange | FlagKind::WholeHandUnit => {
                leave_out(&mut trusted, flag);
            }
            FlagKind::RestOfHand
            | FlagKind::SidesDiffer
            | FlagKind::RepeatsDisagree
            | FlagKind::IdentityBroken => {}
        }
    }
    trusted
}

/// The hands without any reading that an open flag speaks of, second looks included: what others
/// may be judged by. A flag about both hands leaves nothing.
#[must_use]
pub fn unflagged<'a>(hands: &Hands, open: impl IntoIterator<Item = &'a Flag>) -> Hands {
    let mut clean = hands.clone();
    open.into_iter().for_each(|flag| leave_out(&mut clean, flag));
    clean
}

fn leave_out(hands: &mut Hands, flag: &Flag) {
    // The likeliest repair names every reading concerned, for instance both of a swapped pair.
    if let Some(repair) = flag.repairs.first() {
        for (side, dimension, _) in &repair.values {
            hands.side_mut(*side)[*dimension] = None;
        }
        return;
    }
    for side in Side::BOTH.into_iter().filter(|side| flag.side.is_none_or(|s| s == *side)) {
        match flag.dimension {
            Some(dimension) => hands.side_mut(side)[dimension] = None,
            None => *hands.side_mut(side) = Default::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::{Phrase, Repair};
    use crate::dimension::Dimension as D;

    fn flag(kind: FlagKind, dimension: Option<D>, repairs: Vec<Repair>) -> Flag {
        Flag { kind, side: Some(Side::Left), dimension, says: Vec::new(), repairs }
    }

    fn measured(hands: &Hands) -> Vec<(Side, D)> {
        Side::BOTH
            .into_iter()
            .flat_map(|side| D::ALL.map(|dimension| (side, dimension)))
            .filter(|(side, dimension)| hands.side(*side)[*dimension].is_some())
            .collect()
    }

    #[test]
    fn slips_are_left_out_with_their_partners_and_second_looks_stay_in() {
        let hands = Hands::from_readings(&[
            (Side::Left, D::WristGirth, 6.6),
            (Side::Left, D::HandLength, 104.0),
            (Side::Left, D::PalmLength, 181.0),
            (Side::Right, D::WristGirth, 165.0),
        ]);
        let slip = flag(FlagKind::LikelySlip, Some(D::WristGirth), Vec::new());
        let look = flag(FlagKind::RestOfHand, Some(D::HandLength), Vec::new());
        let kept = trusted(&hands, [&slip, &look]);
        assert_eq!(
            measured(&kept),
            [
                (Side::Left, D::HandLength),
                (Side::Left, D::PalmLength),
                (Side::Right, D::WristGirth)
            ]
        );
        assert_eq!(
            measured(&unflagged(&hands, [&slip, &look])),
            [(Side::Left, D::PalmLength), (Side::Right, D::WristGirth)]
        );
        let swapped = Repair {
            says: Phrase::Exchange,
            values: vec![(Side::Left, D::HandLength, 181.0), (Side::Left, D::PalmLength, 104.0)],
        };
        let pair = flag(FlagKind::LikelySlip, Some(D::HandLength), vec![swapped]);
        assert_eq!(
            measured(&trusted(&hands, [&pair])),
            [(Side::Left, D::WristGirth), (Side::Right, D::WristGirth)]
        );
        let whole = flag(FlagKind::WholeHandUnit, None, Vec::new());
        assert_eq!(measured(&trusted(&hands, [&whole])), [(Side::Right, D::WristGirth)]);
    }
}
