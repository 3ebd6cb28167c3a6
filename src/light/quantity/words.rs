//! Words out of a few: an enum that says how each is written, and what each means.

/// Makes an enum of words: how each is written (`ALL`, `text`, `Serialize`), and its schema, whose description tells
/// what each word means. The schema has a name of its own, since the OpenAPI document has one space for all names.
macro_rules! words {
    (
        $(#[doc = $what:literal])+
        pub enum $name:ident as $schema:literal {
            $($(#[doc = $meaning:literal])+ $word:ident = $text:literal),+ $(,)?
        }
    ) => {
        $(#[doc = $what])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum $name {
            $($(#[doc = $meaning])+ $word),+
        }

        impl $name {
            /// All of them, in the order of the documentation.
            pub const ALL: [Self; [$($text),+].len()] = [$(Self::$word),+];

            /// As it is written.
            pub const fn text(self) -> &'static str {
                match self {
                    $(Self::$word => $text),+
                }
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.text())
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                let told = concat!($($what),+ $(, " `", $text, "`:", $($meaning),+)+);
                utoipa::openapi::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::Type::String)
                    .enum_values(Some(Self::ALL.map(Self::text)))
                    .description(Some(told.trim()))
                    .into()
            }
        }

        impl utoipa::ToSchema for $name {
            fn name() -> std::borrow::Cow<'static, str> {
                $schema.into()
            }
        }
    };
}
pub(crate) use words;
