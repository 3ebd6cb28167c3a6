//! Macros for enums whose values are words in requests and answers.

/// Defines an enum of words with `ALL`, `text`, `Serialize` and an OpenAPI schema. The description of the schema explains
/// each word. The schema's name is given separately, because schema names must be unique in the OpenAPI document.
macro_rules! words {
    (
        $(#[doc = $what:literal])+
        pub enum $name:ident as $schema:literal {
            $($(#[doc = $meaning:literal])+ $word:ident = $text:literal),+ $(,)?
        }
    ) => {
        $(#[doc = $what])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum $name {
            $($(#[doc = $meaning])+ $word),+
        }

        impl $name {
            /// All values, in the order of the documentation.
            pub const ALL: [Self; [$($text),+].len()] = [$(Self::$word),+];

            /// The word in requests and answers.
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
                let description = concat!($($what),+ $(, " `", $text, "`:", $($meaning),+)+);
                utoipa::openapi::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::Type::String)
                    .enum_values(Some(Self::ALL.map(Self::text)))
                    .description(Some(description.trim()))
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
