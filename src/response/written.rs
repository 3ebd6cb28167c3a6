//! Remarks in answers, with their sentences, and their schemas in the OpenAPI document.

use std::borrow::Cow;

use serde::Serialize;
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{ObjectBuilder, RefOr, Schema, Type},
};

use crate::{
    light::{
        assumption::{Assumption, AssumptionKind},
        error::Part,
        remark::{Caution, CautionKind, Warning, WarningKind},
    },
    request::place::Pointer,
    server::problem::{Params, ParamsSchema},
    wording::{
        fault,
        phrase::{Phrased, Sentence},
    },
};

/// Writes a type of `light` as another one with sentences, in answers and in the OpenAPI document.
macro_rules! written_as {
    ($type:ty as $written:ty, $write:expr) => {
        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let write: fn(&$type) -> $written = $write;
                serde::Serialize::serialize(&write(self), serializer)
            }
        }

        impl utoipa::PartialSchema for $type {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                <$written as utoipa::PartialSchema>::schema()
            }
        }

        impl ToSchema for $type {
            fn name() -> std::borrow::Cow<'static, str> {
                <$written>::name()
            }

            fn schemas(schemas: &mut Vec<(String, utoipa::openapi::RefOr<utoipa::openapi::Schema>)>) {
                <$written as utoipa::ToSchema>::schemas(schemas);
            }
        }
    };
}

pub(super) use written_as;

/// Declares the codes of one kind of sentence, as an enumeration in the OpenAPI document.
macro_rules! codes {
    ($(#[doc = $what:literal])+ $name:ident: $all:expr) => {
        $(#[doc = $what])+
        #[derive(Serialize)]
        #[serde(transparent)]
        pub struct $name(&'static str);

        impl PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                let all: Vec<&str> = $all.iter().map(|phrase| phrase.code).collect();
                let description = concat!($($what),+).trim();
                ObjectBuilder::new()
                    .schema_type(Type::String)
                    .enum_values(Some(all))
                    .description(Some(description))
                    .into()
            }
        }

        impl ToSchema for $name {
            fn name() -> Cow<'static, str> {
                stringify!($name).into()
            }
        }
    };
}

codes! {
    /// What a warning is about. New codes may come; the meaning of a code never changes. `/v1/codes` has their templates.
    WarningCode: WarningKind::PHRASES
}
codes! {
    /// What a caution is about. New codes may come; the meaning of a code never changes. `/v1/codes` has their templates.
    CautionCode: CautionKind::PHRASES
}
codes! {
    /// What is assumed. New codes may come; the meaning of a code never changes. `/v1/codes` has their templates.
    AssumptionCode: AssumptionKind::PHRASES
}
codes! {
    /// What is wrong with a request. New codes may come; the meaning of a code never changes. `/v1/codes` has their templates.
    FaultCode: fault::phrases()
}

/// The JSON pointer of a part.
fn pointer(part: Option<Part>) -> Option<String> {
    part.map(|part| Pointer::from(part).as_str().to_owned())
}

/// A warning and a caution are written alike, with codes of their own.
macro_rules! remark_as {
    ($(#[doc = $what:literal])+ $remark:ident as $written:ident, $code:ident) => {
        $(#[doc = $what])+
        #[derive(Serialize, ToSchema)]
        #[schema(as = $remark)]
        struct $written {
            /// A stable code for programs.
            code: $code,
            /// The text for a person.
            text: String,
            /// The part of the request that it is about: a JSON pointer. Absent if it is about the whole.
            #[serde(skip_serializing_if = "Option::is_none")]
            #[schema(nullable = false)]
            at: Option<String>,
            /// The numbers and names in the text, by the names in its template in `/v1/codes`. Absent if there are none.
            #[serde(skip_serializing_if = "Params::is_empty")]
            #[schema(nullable = false, value_type = Option<ParamsSchema>)]
            params: Params,
        }
        written_as!($remark as $written, |it| {
            let Sentence { phrase, text, params, .. } = it.kind.sentence();
            $written { code: $code(phrase.code), text, at: pointer(it.part), params }
        });
    };
}

remark_as! {
    /// A warning about an answer.
    Warning as WrittenWarning, WarningCode
}
remark_as! {
    /// A safety caution.
    Caution as WrittenCaution, CautionCode
}

/// One assumption behind an estimate.
#[derive(Serialize, ToSchema)]
#[schema(as = Assumption)]
struct WrittenAssumption {
    /// A stable code for programs.
    code: AssumptionCode,
    /// The assumption in words.
    name: &'static str,
    /// The assumed value.
    value: String,
    /// The source of the value, with its grade: published, derived, common practice, from memory, stated by the caller.
    source: String,
    /// The part of the request that it is about: a JSON pointer. Absent if it is about the whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at: Option<String>,
    /// The numbers and names in the text, by the names in its template in `/v1/codes`. Absent if there are none.
    #[serde(skip_serializing_if = "Params::is_empty")]
    #[schema(nullable = false, value_type = Option<ParamsSchema>)]
    params: Params,
}
written_as!(Assumption as WrittenAssumption, |it| {
    let Sentence { phrase, text, params, second } = it.kind.sentence();
    WrittenAssumption {
        code: AssumptionCode(phrase.code),
        name: phrase.name.unwrap_or_default(),
        value: text,
        source: second,
        at: pointer(it.part),
        params,
    }
});
