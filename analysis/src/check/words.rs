//! Sentences of flags: what, the figures, and why.

use super::explain::Event;
use super::slip::Slip;
use crate::dimension::Dimension;
use crate::hand::Side;
use crate::model::Estimate;
use crate::model::joint::Observation;

/// A length as people write it: whole millimetres, or one decimal where it has one.
pub(crate) fn mm(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0;
    if (rounded - rounded.round()).abs() < 1e-9 {
        format!("{rounded:.0}")
    } else {
        format!("{rounded:.1}")
    }
}

pub(crate) fn side(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
    }
}

/// "Middle finger length 97 mm."
pub(crate) fn reading(o: &Observation) -> String {
    format!("{} {} mm.", o.dimension.name(), mm(o.mm))
}

/// "From the other readings 79 mm is expected, 72 to 86 nine times in ten."
pub(crate) fn expectation(basis: &str, e: &Estimate) -> String {
    format!(
        "{basis} {:.0} mm is expected, {:.0} to {:.0} nine times in ten.",
        e.mm, e.low_mm, e.high_mm
    )
}

/// "79 with its digits swapped reads 97."
pub(crate) fn cause(event: &Event, recorded_mm: f64, true_mm: f64) -> String {
    let (from, to) = (mm(true_mm), mm(recorded_mm));
    match event {
        Event::One(_, Slip::Scale(scale)) => format!("{from} mm {} {to}.", scale.words),
        Event::One(_, Slip::SwappedDigits) => format!("{from} with its digits swapped reads {to}."),
        Event::One(_, Slip::TenCentimetreMark) => {
            format!("{from} measured from the 10 cm mark of the tape reads {to}.")
        }
        _ => String::new(),
    }
}

/// "Index finger length 80 mm and middle finger length 71 mm fit better the other way round."
pub(crate) fn exchanged(a: &Observation, b: &Observation) -> String {
    if a.side == b.side {
        format!(
            "{} {} mm and {} {} mm fit better the other way round.",
            a.dimension.name(),
            mm(a.mm),
            lower(b.dimension),
            mm(b.mm)
        )
    } else {
        format!(
            "{}, {} {} mm and {} {} mm, fits better with the sides exchanged.",
            a.dimension.name(),
            side(a.side),
            mm(a.mm),
            side(b.side),
            mm(b.mm)
        )
    }
}

fn lower(d: Dimension) -> String {
    d.name().to_lowercase()
}

/// "Palm length 104 mm and middle finger length 79 mm add up to 183 mm; hand length reads 191 mm."
pub(crate) fn identity(palm: f64, middle: f64, length: f64) -> String {
    format!(
        "Palm length {} mm and middle finger length {} mm add up to {} mm; hand length reads {} mm.",
        mm(palm),
        mm(middle),
        mm(palm + middle),
        mm(length)
    )
}
