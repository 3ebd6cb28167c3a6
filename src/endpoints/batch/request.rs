//! What a batch reads: the list, one item, and the first line of a stream.

use crate::{
    light::id::Id,
    request::{
        declare::request,
        field_schema::looks_like,
        place::At,
        reader::{Read, Reader, lists::Item},
        schema::{BodyDefaults, CalculationPath, QuestionBody},
        value::Value,
    },
};

request! {
    /// Many questions.
    pub struct BatchRequest {
        /// The questions.
        #[expect(dead_code, reason = "only counted; each question is read later, from its text")]
        requests: Vec<Unread>,
        /// Fields that every body takes that lacks them, such as one kit for many questions. A field of a body replaces the default as a whole.
        #[expect(dead_code, reason = "only checked; item.rs fills it in from its text")]
        defaults: Option<Defaults> as BodyDefaults,
    }
}

/// Fields for the bodies that lack them.
pub struct Defaults;

looks_like!(Defaults as BodyDefaults);

impl Read for Defaults {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match value {
            Value::Object(_) => Some(Self),
            _ => reader.push_wrong_type(at, value, "an object with fields of the bodies, at most 4096"),
        }
    }
}

request! {
    /// The first line of a stream that has defaults.
    pub struct DefaultsLine {
        /// Fields that every body takes that lacks them.
        #[expect(dead_code, reason = "only checked; item.rs fills it in from its text")]
        defaults: Defaults as BodyDefaults,
    }
}

/// A value that is not read here, but later as a request of its own.
pub struct Unread;

looks_like!(Unread as BatchItem);

impl Read for Unread {
    fn read(_: &Value<'_>, _: &At<'_>, _: &mut Reader) -> Option<Self> {
        Some(Self)
    }

    fn expected() -> String {
        "the body of the calculation".to_owned()
    }
}

impl Item for Unread {
    const MAX: usize = 1000;
    const PLURAL: &'static str = "requests";
    // An answer refers to its own question only.
    const HAS_UNIQUE_IDS: bool = false;
}

request! {
    /// One question of a batch, or one line of a stream.
    pub struct BatchItem {
        /// Your own id for this entry, returned with its answer.
        #[expect(dead_code, reason = "only checked; item.rs returns it from the parsed item")]
        id: Option<Id>,
        /// The path of a calculation, one that takes POST.
        pub path: String as CalculationPath,
        /// The request body for that path.
        #[expect(dead_code, reason = "only checked for presence; item.rs reads it as the calculation's request")]
        body: Unread as QuestionBody,
    }
}
