//! One identifier type per noun of the society.
//!
//! An id is a UUID (RFC 9562, version 7: it sorts by the moment of its making) kept as its 36 lower-case
//! characters, which is also how it is stored and sent.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use uuid::Uuid;

use crate::sql::stored_as_text;

/// The text is not a UUID.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not an id: expected a UUID such as 017f22e2-79b0-7cc3-98c4-dc0c0c07398f")]
pub struct NotAnId;

fn text_of(uuid: Uuid) -> [u8; 36] {
    let mut text = [0; 36];
    uuid.hyphenated().encode_lower(&mut text);
    text
}

/// A string of format `uuid`, for the API's description.
fn id_schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
    use utoipa::openapi::schema::{ObjectBuilder, SchemaFormat, Type};
    ObjectBuilder::new()
        .schema_type(Type::String)
        .format(Some(SchemaFormat::Custom("uuid".to_owned())))
        .into()
}

macro_rules! id_type {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[cfg_attr(feature = "sql", derive(diesel::expression::AsExpression, diesel::deserialize::FromSqlRow))]
        #[cfg_attr(feature = "sql", diesel(sql_type = diesel::sql_types::Text))]
        pub struct $name([u8; 36]);

        impl $name {
            /// A new id that sorts after all made before it in this process.
            pub fn fresh() -> Self {
                Self(text_of(Uuid::now_v7()))
            }

            /// The id as 36 lower-case characters.
            pub fn as_str(&self) -> &str {
                // The bytes come from `text_of` alone, so they are ASCII.
                std::str::from_utf8(&self.0).unwrap_or_default()
            }
        }

        impl From<Uuid> for $name {
            fn from(uuid: Uuid) -> Self {
                Self(text_of(uuid))
            }
        }

        impl FromStr for $name {
            type Err = NotAnId;
            fn from_str(text: &str) -> Result<Self, NotAnId> {
                // Only the hyphenated form is taken, so that one id has one spelling in URLs and exports.
                if text.len() != 36 {
                    return Err(NotAnId);
                }
                Uuid::try_parse(text).map(Self::from).map_err(|_e| NotAnId)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!(stringify!($name), "({})"), self.as_str())
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.serialize_str(self.as_str())
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let text = <std::borrow::Cow<'de, str>>::deserialize(from)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                id_schema()
            }
        }

        impl utoipa::ToSchema for $name {
            fn name() -> std::borrow::Cow<'static, str> {
                std::borrow::Cow::Borrowed(stringify!($name))
            }
        }

        stored_as_text!($name);
    };
}

id_type!(/** A member of the society. */ MemberId);
id_type!(/** A log-in on one device. */ SessionId);
id_type!(/** An invitation to join. */ InvitationId);
id_type!(/** A club of the society. */ ClubId);
id_type!(/** A region: one climate, one forecast. */ RegionId);
id_type!(/** A weather station. */ StationId);
id_type!(/** A cultivar, named or still a seedling. */ CultivarId);
id_type!(/** A plant, or several of one batch, that a member holds. */ PlantId);
id_type!(/** One dated record in a plant's diary. */ DiaryId);
id_type!(/** Cuttings a member offers. */ OfferId);
id_type!(/** A cultivar a member wants. */ WantId);
id_type!(/** One run of the cutting swap. */ RoundId);
id_type!(/** Two or three members who hand cuttings on in a circle. */ RingId);
id_type!(/** One cutting handed from one member of a ring to the next. */ HandOverId);
id_type!(/** A show. */ ShowId);
id_type!(/** A class of a show's schedule. */ ClassId);
id_type!(/** A judge or steward of a show. */ OfficialId);
id_type!(/** An exhibitor at one show. */ ExhibitorId);
id_type!(/** An entry in a class. */ EntryId);
id_type!(/** Something that happened at a show. */ ShowEventId);
id_type!(/** Money taken at a show. */ ReceiptId);
id_type!(/** A protest. */ ProtestId);
id_type!(/** A result of a member's history. */ MemberResultId);
id_type!(/** A cup or medal of a club. */ TrophyId);
id_type!(/** A year's winner of a trophy. */ TrophyAwardId);
id_type!(/** Work done aside from any request. */ JobId);
id_type!(/** A fit of the forecast's parameters. */ FitId);
id_type!(/** A comparison of forecasts with what came. */ BacktestId);
id_type!(/** A day in a grower's own house. */ InsideReadingId);
id_type!(/** A cultivar or a numbered seedling in a pedigree. */ IndividualId);
id_type!(/** What the server tells one member. */ NoticeId);
id_type!(/** A hold that keeps plants out of the exchange. */ HoldId);
id_type!(/** A step in the life of a round. */ SwapEventId);
id_type!(/** A cross in a raiser's book. */ CrossId);
id_type!(/** One day's work with pollen on a cross. */ PollinationId);
id_type!(/** What was counted on a cross on a day. */ CrossCountId);
id_type!(/** A numbered seedling of a cross. */ SeedlingId);
id_type!(/** A name before the registrar. */ RegistrationId);
id_type!(/** A step in the registration of a name. */ RegistrationStepId);
id_type!(/** Another name of a cultivar. */ CultivarNameId);

impl From<CultivarId> for IndividualId {
    fn from(id: CultivarId) -> Self {
        Self(id.0)
    }
}

impl From<SeedlingId> for IndividualId {
    fn from(id: SeedlingId) -> Self {
        Self(id.0)
    }
}

impl IndividualId {
    /// The cultivar that it may be: ids do not tell one sort from the other.
    pub fn as_cultivar(self) -> CultivarId {
        CultivarId(self.0)
    }

    /// The seedling that it may be.
    pub fn as_seedling(self) -> SeedlingId {
        SeedlingId(self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 9562 (2024), appendix A.6: the version 7 example.
    #[test]
    fn the_published_version_7_example_round_trips() {
        let id: PlantId = "017F22E2-79B0-7CC3-98C4-DC0C0C07398F".parse().unwrap();
        assert_eq!(id.as_str(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
        let uuid = Uuid::parse_str(id.as_str()).unwrap();
        assert_eq!(uuid.get_version_num(), 7);
        let (seconds, nanos) = uuid.get_timestamp().unwrap().to_unix();
        assert_eq!(seconds * 1000 + u64::from(nanos) / 1_000_000, 1_645_557_742_000);
    }

    /// RFC 9562 (2024), appendices A.2 and A.4: names in the DNS name space.
    #[test]
    fn the_published_name_based_examples_are_met() {
        let v3 = Uuid::new_v3(&Uuid::NAMESPACE_DNS, b"www.example.com");
        let v5 = Uuid::new_v5(&Uuid::NAMESPACE_DNS, b"www.example.com");
        assert_eq!(ClubId::from(v3).as_str(), "5df41881-3aed-3515-88a7-2f4a814cf09e");
        assert_eq!(ClubId::from(v5).as_str(), "2ed6657d-e927-568b-95e1-2665a8aea6a2");
    }

    #[test]
    fn fresh_ids_sort_by_the_moment_of_their_making() {
        let ids: Vec<PlantId> = (0..200).map(|_| PlantId::fresh()).collect();
        assert!(ids.is_sorted());
    }

    #[test]
    fn other_spellings_are_refused() {
        for text in ["", "017f22e279b07cc398c4dc0c0c07398f", "{017f22e2-79b0-7cc3-98c4-dc0c0c07398f}", "x"] {
            assert_eq!(text.parse::<PlantId>(), Err(NotAnId), "{text}");
        }
    }
}
