//! Points and prize money: schemes as data, equal places, odd pence.
//!
//! Shared points are kept as exact fractions: three who share 3, 2 and 1 have 2 each, two who share 3 and 2 have 2½.
//! Only sums of shares among so many that no denominator of 64 bits holds them are cut to 5040ths.

use std::cmp::Ordering;
use std::fmt;
use std::iter::Sum;
use std::ops::Add;

use serde::{Deserialize, Serialize, Serializer};
use utoipa::ToSchema;

use super::measure::Pence;
use super::words::{Commendation, NextPlace, OddPence, TiedShare};

/// Points for places, as data.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PointsScheme {
    /// What classes name it by.
    pub key: String,
    /// For first, second and so on.
    pub places: Vec<u32>,
    /// For a commendation.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub commended: Vec<CommendationPoints>,
    /// Other points for places where many exhibits were staged: the step with the most exhibits that are reached counts.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<SizeStep>,
    /// Added to a place for each staged exhibit below it.
    #[serde(default)]
    pub for_each_below: u32,
    /// What equals have.
    #[serde(default)]
    pub tied: TiedShare,
    /// Only so many of an exhibitor's exhibits in one class carry points, the best of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best_of: Option<u32>,
}

/// Points for a commendation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CommendationPoints {
    /// Which.
    pub code: Commendation,
    /// How many.
    pub points: u32,
}

/// Points for places from so many staged exhibits on.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeStep {
    /// From so many on.
    pub from_exhibits: u32,
    /// For first, second and so on.
    pub places: Vec<u32>,
}

/// How places and prize money are reckoned at a show.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ResultRules {
    /// What comes after an equal place.
    #[serde(default)]
    pub next_place: NextPlace,
    /// What equals have of the prize money.
    #[serde(default)]
    pub tied_prizes: TiedShare,
    /// Where the pence go that equals cannot share.
    #[serde(default)]
    pub odd_pence: OddPence,
    /// Fewer prizes where few exhibits were staged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thin_class: Option<ThinClass>,
}

/// Fewer prizes in a class with few exhibits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ThinClass {
    /// With so many staged exhibits or fewer,
    pub exhibits: u32,
    /// only the first so many prizes are paid.
    pub prizes: u32,
}

/// Points: a whole number or an exact fraction, never below nought.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Points {
    /// Lowest terms.
    above: u64,
    below: u64,
}

fn greatest_common_divisor(mut a: u128, mut b: u128) -> u128 {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a
}

impl Points {
    /// None.
    pub const NOUGHT: Self = Self { above: 0, below: 1 };

    /// So many whole points.
    pub fn whole(points: u32) -> Self {
        Self { above: u64::from(points), below: 1 }
    }

    /// So many points shared among so many; all of them to one or none.
    pub fn shared(points: u32, among: u32) -> Self {
        Self::lowest(u128::from(points), u128::from(among.max(1)))
    }

    fn lowest(above: u128, below: u128) -> Self {
        let divisor = greatest_common_divisor(above, below).max(1);
        match (u64::try_from(above / divisor), u64::try_from(below / divisor)) {
            (Ok(above), Ok(below)) => Self { above, below },
            _ => {
                Self { above: u64::try_from(above / (below / 5040).max(1)).unwrap_or(u64::MAX), below: 5040 }
            }
        }
    }

    /// Numerator and denominator in lowest terms.
    pub fn fraction(self) -> (u64, u64) {
        (self.above, self.below)
    }
}

impl Default for Points {
    fn default() -> Self {
        Self::NOUGHT
    }
}

impl Add for Points {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let product = |a: u64, b: u64| u128::from(a) * u128::from(b);
        Self::lowest(
            product(self.above, other.below).saturating_add(product(other.above, self.below)),
            product(self.below, other.below),
        )
    }
}

impl Sum for Points {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::NOUGHT, Add::add)
    }
}

impl Ord for Points {
    fn cmp(&self, other: &Self) -> Ordering {
        let cross = |a: u64, b: u64| u128::from(a) * u128::from(b);
        cross(self.above, other.below).cmp(&cross(other.above, self.below))
    }
}

impl PartialOrd for Points {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// `12`, `2 1/2`, `1/3`.
impl fmt::Display for Points {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, rest) = (self.above / self.below, self.above % self.below);
        match (whole, rest) {
            (whole, 0) => write!(f, "{whole}"),
            (0, rest) => write!(f, "{rest}/{}", self.below),
            (whole, rest) => write!(f, "{whole} {rest}/{}", self.below),
        }
    }
}

/// As displayed: JSON numbers would round the thirds.
impl Serialize for Points {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl utoipa::PartialSchema for Points {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::schema::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .description(Some("Points, exact: a whole number, a fraction, or both."))
            .examples(["12", "2 1/2", "1/3"])
            .into()
    }
}

impl utoipa::ToSchema for Points {
    fn name() -> std::borrow::Cow<'static, str> {
        std::borrow::Cow::Borrowed("Points")
    }
}

/// Some equals: where they stand and how many they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Equals {
    /// Their place, 1 for first.
    pub place: u32,
    /// How many share it.
    pub how_many: u32,
    /// How many exhibits were staged in the class.
    pub staged: u32,
    /// How many stand above them.
    pub above: u32,
}

impl Equals {
    /// The places that they use up, one each where the next place is skipped; their own alone otherwise.
    fn used_up(self, next_place: NextPlace) -> std::ops::Range<usize> {
        let first = usize::try_from(self.place.saturating_sub(1)).unwrap_or(usize::MAX);
        let used = match next_place {
            NextPlace::Skipped => usize::try_from(self.how_many).unwrap_or(usize::MAX),
            NextPlace::Kept => 1,
        };
        first..first.saturating_add(used)
    }
}

impl PointsScheme {
    /// The points of each of some equals.
    pub fn place_points(&self, equals: Equals, next_place: NextPlace) -> Points {
        let step = self.steps.iter().filter(|step| step.from_exhibits <= equals.staged);
        let places = step.max_by_key(|step| step.from_exhibits).map_or(&self.places, |step| &step.places);
        let at = |index: usize| places.get(index).copied().unwrap_or(0);
        let below = equals.staged.saturating_sub(equals.above.saturating_add(equals.how_many));
        let extra = Points::whole(self.for_each_below.saturating_mul(below));
        let own = usize::try_from(equals.place.saturating_sub(1)).unwrap_or(usize::MAX);
        let earned = match self.tied {
            TiedShare::Full => Points::whole(at(own)),
            TiedShare::Shared => {
                let pool = equals.used_up(next_place).map(at).fold(0, u32::saturating_add);
                Points::shared(pool, equals.how_many)
            }
        };
        earned + extra
    }

    /// The points of a commendation.
    pub fn commended_points(&self, code: Commendation) -> Points {
        let points = self.commended.iter().find(|commended| commended.code == code);
        points.map_or(Points::NOUGHT, |commended| Points::whole(commended.points))
    }
}

impl ResultRules {
    /// The prize of each of some equals, and the pence that stay with the society.
    ///
    /// Equal firsts share the first and second prizes where the second place is skipped; what cannot be shared in
    /// whole pence stays with the society or is made up by it, as the rules say.
    pub fn prize(&self, prizes: &[Pence], equals: Equals) -> (Pence, Pence) {
        let paid = match self.thin_class {
            Some(thin) if equals.staged <= thin.exhibits => {
                prizes.get(..usize::try_from(thin.prizes).unwrap_or(usize::MAX)).unwrap_or(prizes)
            }
            _ => prizes,
        };
        let at = |index: usize| paid.get(index).copied().unwrap_or_default();
        if self.tied_prizes == TiedShare::Full {
            let own = usize::try_from(equals.place.saturating_sub(1)).unwrap_or(usize::MAX);
            return (at(own), Pence(0));
        }
        let pool: Pence = equals.used_up(self.next_place).map(at).sum();
        let sharers = i64::from(equals.how_many.max(1));
        let odd = pool.0.rem_euclid(sharers);
        let each = pool.0.div_euclid(sharers);
        match self.odd_pence {
            OddPence::WithSociety => (Pence(each), Pence(odd)),
            OddPence::MadeUp if odd > 0 => (Pence(each.saturating_add(1)), Pence(odd - sharers)),
            OddPence::MadeUp => (Pence(each), Pence(0)),
        }
    }
}
