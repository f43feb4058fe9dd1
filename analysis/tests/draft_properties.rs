//! Properties of every draft, over hands that stray from the published means.

mod draft_hands;

use analysis::draft::{GirthReduction, GloveOptions, Layer, draft};
use analysis::hand::Side;
use kurbo::Shape;
use proptest::prelude::*;

use draft_hands::{person, straying};

fn hands() -> impl Strategy<Value = (usize, f64, Vec<f64>)> {
    (0..2_usize, -2.5..2.5_f64, proptest::collection::vec(-1.2..1.2_f64, 25))
}

fn options() -> impl Strategy<Value = GloveOptions> {
    (0.0..0.15_f64, -0.02..0.10_f64, 2..=4_u8, 1.5..2.5_f64, 0.0..6.0_f64, 0.0..60.0_f64).prop_map(
        |(palm, fingers, crotch_stitches, stitch_length_mm, seam_allowance_mm, below_wrist_mm)| {
            GloveOptions {
                reduction: GirthReduction { palm, wrist: palm, fingers, thumb: fingers },
                stitch_length_mm,
                crotch_stitches,
                seam_allowance_mm,
                below_wrist_mm,
                ..GloveOptions::default()
            }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_hand_drafts_with_the_default_options((sex, size, strays) in hands()) {
        let draft = draft(&straying(sex, size, &strays), Side::Right, &GloveOptions::default());
        prop_assert!(draft.is_ok(), "{}", draft.expect_err("refused"));
    }

    /// With any options the draft holds or is refused with a reason; it is never unsound.
    #[test]
    fn no_option_breaks_an_outline((sex, size, strays) in hands(), options in options()) {
        match draft(&straying(sex, size, &strays), Side::Left, &options) {
            Ok(draft) => prop_assert_eq!(draft.check(), []),
            Err(error) => prop_assert!(
                !matches!(error, analysis::draft::DraftError::Unsound(_)), "{}", error
            ),
        }
    }

    /// Cut lines enclose their seam lines: the area between them is close to length x allowance.
    #[test]
    fn the_cut_line_lies_outside_the_seam_line(size in -2.3..2.3_f64, allowance in 1.0..5.0_f64) {
        let options = GloveOptions { seam_allowance_mm: allowance, ..GloveOptions::default() };
        let draft = draft(&person(0, size), Side::Right, &options).expect("draft");
        for piece in &draft.pieces {
            let seam = piece.outline(Layer::Seam).expect("seam");
            let cut = piece.outline(Layer::Cut).expect("cut");
            for segment in seam.segments() {
                let p = kurbo::ParamCurve::eval(&segment, 0.37);
                prop_assert!(cut.winding(p) != 0, "{} at {:?}", piece.name, p);
            }
            prop_assert!(cut.area().abs() > seam.area().abs());
        }
    }
}
