//! Declares a request type once: [`request!`] makes its struct, documentation, OpenAPI schema and reader from one list of
//! fields. The schema of a field follows from its type (`field_schema.rs`).
//!
//! The crate `deserr` also reads structs from a parsed value and collects every fault with its place. It makes no schema,
//! so each request would be declared twice, and each number type would need a reader written by hand.

/// Declares a request type: a struct whose fields are those of a JSON object, read by [`Read`] and described in the OpenAPI
/// document. `Option` fields may be left out.
///
/// - `struct Name as "Other"`: the name of the schema, where it is not that of the struct.
/// - `field: Type as Schema`: the schema of a field, where it is not that of its type.
/// - `exactly one of "the target": stops | ratio & to`: the target is given by `stops`, or by `ratio` and `to` together; any
///   other combination is a fault.
/// - `at most one of "the smallest step": click | step`: the same, and none is allowed.
/// - `checked by function(name, unit)`: calls a function with what could be read of these fields, though others may be
///   wrong.
///
/// [`Read`]: crate::request::reader::Read
macro_rules! request {
    (
        $(#[doc = $doc:literal])+
        $vis:vis struct $name:ident $(as $schema_name:literal)? {
            $(
                $(#[doc = $field_doc:literal])+
                $(#[expect($($expect:tt)+)])?
                $field_vis:vis $field:ident: $type:ty $(as $schema:ty)?
            ),+ $(,)?
        }
        $(exactly one of $what:literal: $($($way:ident)&+)|+)?
        $(at most one of $at_most_what:literal: $($($at_most_way:ident)&+)|+)?
        $(checked by $($check:ident)::+($($checked:ident),+))?
    ) => {
        $(#[doc = $doc])+
        #[allow(clippy::struct_field_names, reason = "the names are those of the request")]
        $vis struct $name {
            $(
                $(#[doc = $field_doc])+
                $(#[expect($($expect)+)])?
                $field_vis $field: $type,
            )+
        }

        $crate::request::reader::reads!(
            $name { $($field),+ }
            $(exactly one of $what: $($($way)&+)|+)?
            $(at most one of $at_most_what: $($($at_most_way)&+)|+)?
            $(checked by $($check)::+($($checked),+))?
        );

        impl $name {
            fn fields() -> Vec<$crate::request::field_schema::Field> {
                vec![$($crate::request::declare::field!(
                    $type $(as $schema)?, stringify!($field), concat!($($field_doc),+)
                )),+]
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                $crate::request::field_schema::object(concat!($($doc),+), Self::fields())
            }
        }

        impl utoipa::ToSchema for $name {
            $(
                fn name() -> std::borrow::Cow<'static, str> {
                    $schema_name.into()
                }
            )?

            fn schemas(all: &mut $crate::request::field_schema::Named) {
                $($crate::request::declare::add_field!(all, $type $(as $schema)?);)+
            }
        }

        impl utoipa::IntoParams for $name {
            fn into_params(
                _: impl Fn() -> Option<utoipa::openapi::path::ParameterIn>,
            ) -> Vec<utoipa::openapi::path::Parameter> {
                $crate::request::field_schema::parameters(Self::fields())
            }
        }

        $crate::request::field_schema::looks_like!($name as $name);
    };
}
pub(crate) use request;

/// A field with its schema: that of its type, or another.
macro_rules! field {
    ($type:ty, $name:expr, $doc:expr) => {
        $crate::request::field_schema::Field::new::<$type>($name, $doc)
    };
    ($type:ty as $schema:ty, $name:expr, $doc:expr) => {
        $crate::request::field_schema::Field::with_schema::<$type, $schema>($name, $doc)
    };
}
pub(crate) use field;

/// Adds the named schemas that a field refers to.
macro_rules! add_field {
    ($all:ident, $type:ty) => {
        <$type as $crate::request::field_schema::FieldSchema>::add_named($all)
    };
    ($all:ident, $type:ty as $schema:ty) => {
        $crate::request::field_schema::add::<$schema>($all)
    };
}
pub(crate) use add_field;
