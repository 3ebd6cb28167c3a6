//! The OpenAPI schemas of fields and of request types, made from their Rust types.

use utoipa::{
    ToSchema,
    openapi::{
        ObjectBuilder, OneOfBuilder, Ref, RefOr, Required, Schema, Type,
        path::{Parameter, ParameterBuilder, ParameterIn, ParameterStyle},
        schema::SchemaType,
    },
};

/// Named schemas of the OpenAPI document.
pub type Named = Vec<(String, RefOr<Schema>)>;

/// The OpenAPI schema of a field of this type.
pub trait FieldSchema {
    /// Whether the field may be left out.
    const IS_OPTIONAL: bool = false;

    /// The schema: a reference to a named one, or one of its own.
    fn schema() -> RefOr<Schema>;

    /// The schema of a parameter in a query.
    fn parameter() -> RefOr<Schema> {
        Self::schema()
    }

    /// Whether the schema is that of an object, whose fields a query writes as `name[field]`.
    fn is_object() -> bool {
        false
    }

    /// Adds the named schemas that it refers to.
    fn add_named(_: &mut Named) {}
}

/// A reference to the schema of `S`.
pub fn reference<S: ToSchema>() -> RefOr<Schema> {
    Ref::from_schema_name(S::name()).into()
}

/// Adds the schema of `S`, and those that it refers to.
pub fn add<S: ToSchema>(all: &mut Named) {
    if all.iter().all(|(name, _)| *name != S::name()) {
        all.push((S::name().into_owned(), S::schema()));
        S::schemas(all);
    }
}

/// Whether the schema of `S` is that of an object.
pub fn is_object<S: ToSchema>() -> bool {
    matches!(S::schema(), RefOr::T(Schema::Object(object)) if object.schema_type == Type::Object.into())
}

/// Says that a field of one type has the schema of another, or of itself.
macro_rules! looks_like {
    ($($type:ty as $schema:ty),+ $(,)?) => {$(
        impl $crate::request::field_schema::FieldSchema for $type {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                $crate::request::field_schema::reference::<$schema>()
            }

            fn is_object() -> bool {
                $crate::request::field_schema::is_object::<$schema>()
            }

            fn add_named(all: &mut $crate::request::field_schema::Named) {
                $crate::request::field_schema::add::<$schema>(all);
            }
        }
    )+};
}
pub(crate) use looks_like;

impl<T: FieldSchema> FieldSchema for Option<T> {
    const IS_OPTIONAL: bool = true;

    fn schema() -> RefOr<Schema> {
        or_null(T::schema())
    }

    fn parameter() -> RefOr<Schema> {
        T::parameter()
    }

    fn is_object() -> bool {
        T::is_object()
    }

    fn add_named(all: &mut Named) {
        T::add_named(all);
    }
}

impl FieldSchema for bool {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new().schema_type(Type::Boolean).into()
    }
}

impl FieldSchema for String {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new().schema_type(Type::String).into()
    }
}

/// The schema, or null.
fn or_null(schema: RefOr<Schema>) -> RefOr<Schema> {
    let nullable = |schema_type: &SchemaType| match schema_type {
        SchemaType::Type(one) => SchemaType::from_iter([one.clone(), Type::Null]),
        other => other.clone(),
    };
    match schema {
        RefOr::T(Schema::Object(mut object)) => {
            object.schema_type = nullable(&object.schema_type);
            object.into()
        }
        RefOr::T(Schema::Array(mut array)) => {
            array.schema_type = nullable(&array.schema_type);
            array.into()
        }
        other => OneOfBuilder::new().item(other).item(ObjectBuilder::new().schema_type(Type::Null)).into(),
    }
}

/// A field of a request type.
pub struct Field {
    name: &'static str,
    description: &'static str,
    is_optional: bool,
    schema: RefOr<Schema>,
    parameter: RefOr<Schema>,
    is_object: bool,
}

impl Field {
    /// A field of type `T`.
    pub fn new<T: FieldSchema>(name: &'static str, description: &'static str) -> Self {
        Self {
            name,
            description: description.trim(),
            is_optional: T::IS_OPTIONAL,
            schema: T::schema(),
            parameter: T::parameter(),
            is_object: T::is_object(),
        }
    }

    /// A field of type `T` that has the schema of `S`, which is no object.
    pub fn with_schema<T: FieldSchema, S: ToSchema>(name: &'static str, description: &'static str) -> Self {
        let schema = if T::IS_OPTIONAL { or_null(reference::<S>()) } else { reference::<S>() };
        Self {
            name,
            description: description.trim(),
            is_optional: T::IS_OPTIONAL,
            schema,
            parameter: reference::<S>(),
            is_object: false,
        }
    }
}

/// The schema of an object with these fields.
pub fn object(description: &str, fields: Vec<Field>) -> RefOr<Schema> {
    let object = ObjectBuilder::new().schema_type(Type::Object).description(Some(description.trim()));
    let add = |object: ObjectBuilder, field: Field| {
        let object = object.property(field.name, described(field.schema, field.description));
        if field.is_optional { object } else { object.required(field.name) }
    };
    fields.into_iter().fold(object, add).into()
}

fn described(mut schema: RefOr<Schema>, description: &str) -> RefOr<Schema> {
    let text = description.to_owned();
    match &mut schema {
        RefOr::Ref(reference) => reference.description = text,
        RefOr::T(Schema::Object(object)) => object.description = Some(text),
        RefOr::T(Schema::Array(array)) => array.description = Some(text),
        RefOr::T(Schema::OneOf(one_of)) => one_of.description = Some(text),
        RefOr::T(_) => {}
    }
    schema
}

/// The fields as parameters of a query: objects as `name[field]=…`, lists separated by commas.
pub fn parameters(fields: Vec<Field>) -> Vec<Parameter> {
    let parameter = |field: Field| {
        let is_list = matches!(field.parameter, RefOr::T(Schema::Array(_)));
        let (style, explode) = match (field.is_object, is_list) {
            (true, _) => (Some(ParameterStyle::DeepObject), Some(true)),
            (_, true) => (Some(ParameterStyle::Form), Some(false)),
            _ => (None, None),
        };
        ParameterBuilder::new()
            .name(field.name)
            .parameter_in(ParameterIn::Query)
            .description(Some(field.description))
            .required(if field.is_optional { Required::False } else { Required::True })
            .schema(Some(field.parameter))
            .style(style)
            .explode(explode)
            .build()
    };
    fields.into_iter().map(parameter).collect()
}
