//! Diesel conversions: everything textual is stored as `Text`, on every backend alike.

/// Emits the pair of conversions for a type with `as_str` and `FromStr`, whatever the backend.
macro_rules! stored_as_text {
    ($type:ty) => {
        #[cfg(feature = "sql")]
        impl<DB> diesel::serialize::ToSql<diesel::sql_types::Text, DB> for $type
        where
            DB: diesel::backend::Backend,
            str: diesel::serialize::ToSql<diesel::sql_types::Text, DB>,
        {
            fn to_sql<'b>(
                &'b self,
                out: &mut diesel::serialize::Output<'b, '_, DB>,
            ) -> diesel::serialize::Result {
                <str as diesel::serialize::ToSql<diesel::sql_types::Text, DB>>::to_sql(self.as_str(), out)
            }
        }

        #[cfg(feature = "sql")]
        impl<DB> diesel::deserialize::FromSql<diesel::sql_types::Text, DB> for $type
        where
            DB: diesel::backend::Backend,
            String: diesel::deserialize::FromSql<diesel::sql_types::Text, DB>,
        {
            fn from_sql(bytes: DB::RawValue<'_>) -> diesel::deserialize::Result<Self> {
                let text =
                    <String as diesel::deserialize::FromSql<diesel::sql_types::Text, DB>>::from_sql(bytes)?;
                Ok(text.parse()?)
            }
        }
    };
}

pub(crate) use stored_as_text;
