//! The 25 measured dimensions of a hand: the registry every form, table, model and check loops over.

use std::ops::{Index, IndexMut};

use serde::{Deserialize, Serialize};

/// What a dimension is taken with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Instrument {
    /// Soft measuring tape, laid round or along the hand.
    Tape,
    /// Rigid ruler along the palm side.
    Ruler,
    /// Sliding calliper, or two set squares against a ruler.
    Calliper,
}

/// Where a dimension stands in the hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Group {
    /// Whole-hand lengths, breadth and girths.
    WholeHand,
    /// Palmar finger lengths, root crease to tip.
    FingerLength,
    /// Girths round the middle joint (the only joint of the thumb).
    KnuckleGirth,
    /// Girths round the end joint.
    TipGirth,
    /// Height of the webs between the fingers above the wrist crease.
    WebHeight,
    /// Girth of the thumb's root.
    ThumbRoot,
}

macro_rules! dimensions {
    ($($variant:ident, $key:literal, $name:literal, $group:ident, $instrument:ident, $error:literal, $instruction:literal;)+) => {
        /// A measured dimension. Names follow ISO 7250-1 and ISO 8559-1 where they have one.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
        #[serde(rename_all = "snake_case")]
        pub enum Dimension {
            $(#[doc = $instruction] $variant,)+
        }

        impl Dimension {
            /// Every dimension, in measuring order.
            pub const ALL: [Dimension; [$($key),+].len()] = [$(Dimension::$variant),+];

            /// Stable key, as stored, exchanged and used in CSV headers.
            #[must_use]
            pub fn key(self) -> &'static str { match self { $(Dimension::$variant => $key),+ } }

            /// Name for people.
            #[must_use]
            pub fn name(self) -> &'static str { match self { $(Dimension::$variant => $name),+ } }

            /// Where the dimension stands in the hand.
            #[must_use]
            pub fn group(self) -> Group { match self { $(Dimension::$variant => Group::$group),+ } }

            /// What it is taken with.
            #[must_use]
            pub fn instrument(self) -> Instrument { match self { $(Dimension::$variant => Instrument::$instrument),+ } }

            /// Standard deviation of one reading about the true value, mm. Finger lengths follow
            /// the inter-observer technical error of 0.5 to 1.3 mm of the scan study of 448 men
            /// (five observers, palmar crease to tip); hand length and breadth are half of the
            /// variance of published left/right differences (Khazri 2022); the rest is assumed by
            /// instrument.
            #[must_use]
            pub fn measuring_error_mm(self) -> f64 { match self { $(Dimension::$variant => $error),+ } }

            /// What to do, in one sentence.
            #[must_use]
            pub fn instruction(self) -> &'static str { match self { $(Dimension::$variant => $instruction),+ } }
        }
    };
}

dimensions! {
    HandLength, "hand_length", "Hand length", WholeHand, Ruler, 0.8,
        "Palm up and flat: from the wrist crease straight to the tip of the middle finger.";
    PalmLength, "palm_length", "Palm length", WholeHand, Ruler, 1.0,
        "Palm up and flat: from the wrist crease to the crease at the root of the middle finger.";
    HandBreadth, "hand_breadth", "Hand breadth", WholeHand, Calliper, 0.8,
        "Fingers together: straight across the knuckles, from index side to little-finger side, thumb out of the way.";
    HandGirth, "hand_girth", "Hand girth", WholeHand, Tape, 2.0,
        "Tape round the hand over the knuckles, thumb left out, hand flat.";
    HandGirthOverThumb, "hand_girth_over_thumb", "Hand girth over the thumb", WholeHand, Tape, 3.0,
        "Thumb laid against the hand: tape round knuckles and thumb together, at the widest place.";
    WristGirth, "wrist_girth", "Wrist girth", WholeHand, Tape, 2.0,
        "Tape round the wrist at the crease, snug and not tight.";
    ThumbLength, "thumb_length", "Thumb length", FingerLength, Ruler, 1.2,
        "Palm side: from the crease at the root of the thumb to its tip.";
    IndexLength, "index_length", "Index finger length", FingerLength, Ruler, 0.8,
        "Palm side: from the crease at the root of the index finger to its tip.";
    MiddleLength, "middle_length", "Middle finger length", FingerLength, Ruler, 0.8,
        "Palm side: from the crease at the root of the middle finger to its tip.";
    RingLength, "ring_length", "Ring finger length", FingerLength, Ruler, 0.8,
        "Palm side: from the crease at the root of the ring finger to its tip.";
    LittleLength, "little_length", "Little finger length", FingerLength, Ruler, 0.8,
        "Palm side: from the crease at the root of the little finger to its tip.";
    ThumbKnuckleGirth, "thumb_knuckle_girth", "Thumb knuckle girth", KnuckleGirth, Tape, 1.0,
        "Tape round the joint of the thumb.";
    IndexKnuckleGirth, "index_knuckle_girth", "Index knuckle girth", KnuckleGirth, Tape, 1.0,
        "Tape round the middle joint of the index finger.";
    MiddleKnuckleGirth, "middle_knuckle_girth", "Middle knuckle girth", KnuckleGirth, Tape, 1.0,
        "Tape round the middle joint of the middle finger.";
    RingKnuckleGirth, "ring_knuckle_girth", "Ring knuckle girth", KnuckleGirth, Tape, 1.0,
        "Tape round the middle joint of the ring finger.";
    LittleKnuckleGirth, "little_knuckle_girth", "Little knuckle girth", KnuckleGirth, Tape, 1.0,
        "Tape round the middle joint of the little finger.";
    IndexTipGirth, "index_tip_girth", "Index end-joint girth", TipGirth, Tape, 1.0,
        "Tape round the end joint of the index finger.";
    MiddleTipGirth, "middle_tip_girth", "Middle end-joint girth", TipGirth, Tape, 1.0,
        "Tape round the end joint of the middle finger.";
    RingTipGirth, "ring_tip_girth", "Ring end-joint girth", TipGirth, Tape, 1.0,
        "Tape round the end joint of the ring finger.";
    LittleTipGirth, "little_tip_girth", "Little end-joint girth", TipGirth, Tape, 1.0,
        "Tape round the end joint of the little finger.";
    ThumbWebHeight, "thumb_web_height", "Thumb web height", WebHeight, Ruler, 2.0,
        "Straight up the palm: from the wrist crease to the web between thumb and index finger.";
    IndexMiddleWebHeight, "index_middle_web_height", "Index-middle web height", WebHeight, Ruler, 1.5,
        "Straight up the palm: from the wrist crease to the web between index and middle finger.";
    MiddleRingWebHeight, "middle_ring_web_height", "Middle-ring web height", WebHeight, Ruler, 1.5,
        "Straight up the palm: from the wrist crease to the web between middle and ring finger.";
    RingLittleWebHeight, "ring_little_web_height", "Ring-little web height", WebHeight, Ruler, 1.5,
        "Straight up the palm: from the wrist crease to the web between ring and little finger.";
    ThumbRootGirth, "thumb_root_girth", "Thumb root girth", ThumbRoot, Tape, 2.5,
        "Tape round the root of the thumb, through the web.";
}

impl Dimension {
    /// How many dimensions there are.
    pub const COUNT: usize = Dimension::ALL.len();

    /// Position in [`Dimension::ALL`].
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }

    /// The dimension with this key.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Dimension> {
        Dimension::ALL.into_iter().find(|dimension| dimension.key() == key)
    }
}

/// One value for each dimension.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PerDimension<T>([T; Dimension::COUNT]);

impl<T> PerDimension<T> {
    /// Builds the table from a function of the dimension.
    pub fn from_fn(mut value: impl FnMut(Dimension) -> T) -> Self {
        PerDimension(Dimension::ALL.map(&mut value))
    }

    /// The values in the order of [`Dimension::ALL`].
    pub fn values(&self) -> impl Iterator<Item = &T> {
        self.0.iter()
    }

    /// Pairs of dimension and value in the order of [`Dimension::ALL`].
    pub fn iter(&self) -> impl Iterator<Item = (Dimension, &T)> {
        Dimension::ALL.into_iter().zip(self.0.iter())
    }
}

impl<T: Default> Default for PerDimension<T> {
    fn default() -> Self {
        PerDimension::from_fn(|_| T::default())
    }
}

impl<T> Index<Dimension> for PerDimension<T> {
    type Output = T;
    fn index(&self, dimension: Dimension) -> &T {
        &self.0[dimension.index()]
    }
}

impl<T> IndexMut<Dimension> for PerDimension<T> {
    fn index_mut(&mut self, dimension: Dimension) -> &mut T {
        &mut self.0[dimension.index()]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_dimension_has_its_own_key_name_and_instruction() {
        let keys: HashSet<_> = Dimension::ALL.iter().map(|d| d.key()).collect();
        let names: HashSet<_> = Dimension::ALL.iter().map(|d| d.name()).collect();
        let instructions: HashSet<_> = Dimension::ALL.iter().map(|d| d.instruction()).collect();
        assert_eq!(keys.len(), 25);
        assert_eq!(names.len(), 25);
        assert_eq!(instructions.len(), 25);
        for dimension in Dimension::ALL {
            assert_eq!(Dimension::from_key(dimension.key()), Some(dimension));
            assert_eq!(Dimension::ALL.get(dimension.index()), Some(&dimension));
            assert!(dimension.measuring_error_mm() > 0.0);
        }
    }
}
