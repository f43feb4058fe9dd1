//! How far the glove moves with each dimension, made again from the drafting.

mod figures;

use analysis::dimension::{Dimension, Group};
use analysis::draft::{Construction, GloveOptions, sensitivity};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use analysis::plan::draft_sensitivity;

#[test]
fn the_plan_weighs_each_dimension_by_what_it_does_to_the_draft() {
    let model = HandModel::published();
    let of = |population, construction| {
        let median = model.fill(population, &Hands::default());
        let options = GloveOptions { construction, ..GloveOptions::default() };
        sensitivity(median.side(Side::Right), &options).expect("a median hand is drafted")
    };
    let columns = [
        of(Population::Women, Construction::TwoLayer),
        of(Population::Men, Construction::TwoLayer),
        of(Population::Women, Construction::Fourchette),
    ];
    let mut table = String::from(
        "| dimension | women, two layers | men, two layers | women, fourchettes |\n|---|---|---|---|\n",
    );
    for d in Dimension::ALL {
        let [a, b, c] = columns.each_ref().map(|column| column[d]);
        // To a tenth: finer figures change with every small change of the construction.
        table += &format!("| {} | {a:.1} | {b:.1} | {c:.1} |\n", d.key());
        let mean = f64::midpoint(a, b);
        assert!((draft_sensitivity(d) - mean).abs() < 0.050_001, "{}", d.key());
        match d.group() {
            // A finger is about as long as it is measured, less what it leans aside and what the
            // crotch gives way; a tube is its
            // girth less the ease.
            Group::FingerLength | Group::KnuckleGirth | Group::TipGirth => {
                assert!((0.5..1.25).contains(&mean), "{}: {mean}", d.key());
            }
            _ => {}
        }
    }
    // Breadth only tells what the hand passes, girth over the thumb nothing.
    for d in [Dimension::HandBreadth, Dimension::HandGirthOverThumb] {
        assert_eq!(columns[0][d], 0.0, "{}", d.key());
    }
    figures::hold("sensitivity", &table);
}
