//! Where a test glove is judged: the registry every form, table and refit of fittings loops over.

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::collections::BTreeMap;
use std::ops::{Index, IndexMut};

use crate::dimension::Dimension as D;
use crate::draft::GirthReduction;
use crate::model::HandEstimate;

/// What kind of quantity a zone is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ZoneKind {
    /// A girth of the glove.
    Girth,
    /// A length of the glove.
    Length,
    /// Height of the glove's crotch between two fingers above the web of the hand.
    Crotch,
}

macro_rules! zones {
    ($($variant:ident, $key:literal, $doc:literal, $kind:ident, $bit:literal, $much:literal;)+) => {
        /// A zone of a test glove. More is always more room: wider, longer, or a higher crotch.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
        #[serde(rename_all = "snake_case")]
        pub enum FitZone {
            $(#[doc = $doc] $variant,)+
        }

        impl FitZone {
            /// Every zone, in the order of a fitting.
            pub const ALL: [FitZone; [$($key),+].len()] = [$(FitZone::$variant),+];

            /// Stable key.
            #[must_use]
            pub fn key(self) -> &'static str { match self { $(FitZone::$variant => $key),+ } }

            /// What kind of quantity it is.
            #[must_use]
            pub fn kind(self) -> ZoneKind {
                match self { $(FitZone::$variant => ZoneKind::$kind),+ }
            }

            /// What the answers "too tight" and "much too tight" mean, mm of more room; the loose
            /// answers are the same less. Assumed: about the step a cutter makes in one correction
            /// and two to three times that.
            #[must_use]
            pub fn steps_mm(self) -> (f64, f64) {
                match self { $(FitZone::$variant => ($bit, $much)),+ }
            }
        }
    };
}

zones! {
    Palm, "palm", "Girth of the palm at the knuckles.", Girth, 5.0, 12.0;
    Wrist, "wrist", "Girth of the wrist.", Girth, 4.0, 10.0;
    ThumbGirth, "thumb_girth", "Girth of the thumb at its joint.", Girth, 2.0, 5.0;
    ThumbSet, "thumb_set", "Girth where the thumb is set in.", Girth, 4.0, 9.0;
    ThumbLength, "thumb_length", "Length of the thumb.", Length, 2.0, 5.0;
    IndexRoot, "index_root", "Girth at the root of the index finger.", Girth, 2.0, 5.0;
    IndexKnuckle, "index_knuckle", "Girth at the index finger's middle joint.", Girth, 2.0, 5.0;
    IndexLength, "index_length", "Length of the index finger.", Length, 2.0, 5.0;
    IndexMiddleCrotch, "index_middle_crotch", "Crotch between index and middle finger.", Crotch, 2.0, 5.0;
    MiddleRoot, "middle_root", "Girth at the root of the middle finger.", Girth, 2.0, 5.0;
    MiddleKnuckle, "middle_knuckle", "Girth at the middle finger's middle joint.", Girth, 2.0, 5.0;
    MiddleLength, "middle_length", "Length of the middle finger.", Length, 2.0, 5.0;
    MiddleRingCrotch, "middle_ring_crotch", "Crotch between middle and ring finger.", Crotch, 2.0, 5.0;
    RingRoot, "ring_root", "Girth at the root of the ring finger.", Girth, 2.0, 5.0;
    RingKnuckle, "ring_knuckle", "Girth at the ring finger's middle joint.", Girth, 2.0, 5.0;
    RingLength, "ring_length", "Length of the ring finger.", Length, 2.0, 5.0;
    RingLittleCrotch, "ring_little_crotch", "Crotch between ring and little finger.", Crotch, 2.0, 5.0;
    LittleRoot, "little_root", "Girth at the root of the little finger.", Girth, 2.0, 5.0;
    LittleKnuckle, "little_knuckle", "Girth at the little finger's middle joint.", Girth, 2.0, 5.0;
    LittleLength, "little_length", "Length of the little finger.", Length, 2.0, 5.0;
}

/// Farthest a zone moves from what the stretch test asks, as a share of the hand's girth, and mm for
/// lengths and crotches (assumed: beyond it the measurements or the fabric are wrong, not the ease).
pub const GIRTH_CHANGE_MAX: f64 = 0.15;
/// See [`GIRTH_CHANGE_MAX`].
pub const LENGTH_CHANGE_MAX_MM: f64 = 12.0;

impl FitZone {
    /// How many zones there are.
    pub const COUNT: usize = FitZone::ALL.len();

    /// Position in [`FitZone::ALL`].
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }

    /// The zone with this key.
    #[must_use]
    pub fn from_key(key: &str) -> Option<FitZone> {
        FitZone::ALL.into_iter().find(|zone| zone.key() == key)
    }

    /// The girth of the hand a girth zone encloses; the roots are taken as thick as the middle
    /// joints, as the draft takes them.
    fn girth(self) -> Option<D> {
        Some(match self {
            FitZone::Palm => D::HandGirth,
            FitZone::Wrist => D::WristGirth,
            FitZone::ThumbGirth => D::ThumbKnuckleGirth,
            FitZone::ThumbSet => D::ThumbRootGirth,
            FitZone::IndexRoot | FitZone::IndexKnuckle => D::IndexKnuckleGirth,
            FitZone::MiddleRoot | FitZone::MiddleKnuckle => D::MiddleKnuckleGirth,
            FitZone::RingRoot | FitZone::RingKnuckle => D::RingKnuckleGirth,
            FitZone::LittleRoot | FitZone::LittleKnuckle => D::LittleKnuckleGirth,
            _ => return None,
        })
    }

    /// Whether the zone is the root of a finger, whose girth the layout chooses.
    #[must_use]
    pub fn is_root(self) -> bool {
        matches!(
            self,
            FitZone::IndexRoot | FitZone::MiddleRoot | FitZone::RingRoot | FitZone::LittleRoot
        )
    }

    /// The share taken off the girth here.
    #[must_use]
    pub fn reduction(self, reduction: &GirthReduction) -> f64 {
        match self {
            FitZone::Palm => reduction.palm,
            FitZone::Wrist => reduction.wrist,
            FitZone::ThumbGirth | FitZone::ThumbSet => reduction.thumb,
            _ => reduction.fingers,
        }
    }

    /// What one unit of learned ease is on this hand, mm: the girth for girths, whose ease is a
    /// share; 1 for lengths and crotches, whose ease is mm.
    #[must_use]
    pub fn scale_mm(self, hand: &HandEstimate) -> f64 {
        self.girth().map_or(1.0, |girth| hand.mm(girth))
    }

    /// Size of the glove here from the reduction alone, mm: the reduced girth; 0 where a glove is
    /// drafted from the bare hand or the layout (roots, lengths, crotches), so that only changes
    /// count.
    #[must_use]
    pub fn plain_mm(self, hand: &HandEstimate, reduction: &GirthReduction) -> f64 {
        match self.girth() {
            Some(girth) if !self.is_root() => hand.mm(girth) * (1.0 - self.reduction(reduction)),
            _ => 0.0,
        }
    }

    /// Farthest a change goes on this hand, mm.
    #[must_use]
    pub fn change_max_mm(self, hand: &HandEstimate) -> f64 {
        match self.kind() {
            ZoneKind::Girth => GIRTH_CHANGE_MAX * self.scale_mm(hand),
            ZoneKind::Length | ZoneKind::Crotch => LENGTH_CHANGE_MAX_MM,
        }
    }
}

/// A number for each zone, mm or learned units; written as a map of the zones that are not 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PerZone([f64; FitZone::COUNT]);

impl Default for PerZone {
    fn default() -> Self {
        PerZone([0.0; FitZone::COUNT])
    }
}

impl PerZone {
    /// From a function of the zone.
    pub fn from_fn(value: impl FnMut(FitZone) -> f64) -> PerZone {
        PerZone(FitZone::ALL.map(value))
    }

    /// Whether every number is 0.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        self.0.iter().all(|value| *value == 0.0)
    }

    /// Zone and number, in the order of [`FitZone::ALL`].
    pub fn iter(&self) -> impl Iterator<Item = (FitZone, f64)> + '_ {
        FitZone::ALL.into_iter().zip(self.0)
    }
}

impl Index<FitZone> for PerZone {
    type Output = f64;
    fn index(&self, zone: FitZone) -> &f64 {
        &self.0[zone.index()]
    }
}

impl IndexMut<FitZone> for PerZone {
    fn index_mut(&mut self, zone: FitZone) -> &mut f64 {
        &mut self.0[zone.index()]
    }
}

#[cfg(feature = "describe")]
impl utoipa::PartialSchema for PerZone {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        std::collections::BTreeMap::<FitZone, f64>::schema()
    }
}

#[cfg(feature = "describe")]
impl utoipa::ToSchema for PerZone {}

impl Serialize for PerZone {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.iter().filter(|(_, value)| *value != 0.0))
    }
}

impl<'de> Deserialize<'de> for PerZone {
    fn deserialize<T: Deserializer<'de>>(deserializer: T) -> Result<Self, T::Error> {
        let mut zones = PerZone::default();
        for (zone, value) in BTreeMap::<FitZone, f64>::deserialize(deserializer)? {
            if !value.is_finite() {
                return Err(T::Error::custom("a zone's number is not finite"));
            }
            zones[zone] = value;
        }
        Ok(zones)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_zone_has_its_own_key_and_steps_that_grow() {
        let keys: HashSet<_> = FitZone::ALL.iter().map(|zone| zone.key()).collect();
        assert_eq!(keys.len(), FitZone::COUNT);
        for zone in FitZone::ALL {
            assert_eq!(FitZone::from_key(zone.key()), Some(zone));
            assert_eq!(serde_json::to_value(zone).expect("a key"), zone.key());
            let (bit, much) = zone.steps_mm();
            assert!(0.0 < bit && bit < much);
            assert_eq!(zone.girth().is_some(), zone.kind() == ZoneKind::Girth);
        }
    }

    #[test]
    fn numbers_by_zone_come_back_and_nothing_is_written_for_nothing() {
        let mut zones = PerZone::default();
        assert_eq!(serde_json::to_string(&zones).expect("json"), "{}");
        zones[FitZone::Wrist] = -2.5;
        let text = serde_json::to_string(&zones).expect("json");
        assert_eq!(text, r#"{"wrist":-2.5}"#);
        assert_eq!(serde_json::from_str::<PerZone>(&text).expect("zones"), zones);
    }
}
