//! Reads numbers, quantities and texts.

use crate::{
    light::{
        error::InvalidValue,
        id::Id,
        quantity::{
            FNumber, Iso, Joules, Metres, Seconds, Stops,
            bounds::{self, Bounds},
            kind::Kind,
            notation::{self, Written},
        },
    },
    request::{
        field_schema::looks_like,
        place::At,
        reader::{Read, Reader},
        schema::{EntryId, EntryNameInput},
        value::Value,
    },
    wording::fault::Fault,
};

/// Reads a number within bounds.
pub fn number(value: &Value<'_>, bounds: Bounds, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
    let Some(number) = value.number() else {
        return reader.push_wrong_type(at, value, &format!("a number, {}", bounds.range()));
    };
    reader.checked(at, bounds.check(number))
}

/// Reads a whole number within bounds.
pub fn whole(value: &Value<'_>, bounds: Bounds, at: &At<'_>, reader: &mut Reader) -> Option<u32> {
    let number = number(value, bounds, at, reader)?;
    if number.fract() == 0.0 {
        Some(number as u32)
    } else {
        reader.push_fault(at, Fault::NotWhole { number, least: bounds.least, greatest: bounds.greatest })
    }
}

const MAX_NOTATION_CHARS: usize = 64;

/// Whether a text is too long for the notation of any quantity.
pub fn is_too_long(text: &str) -> bool {
    text.chars().nth(MAX_NOTATION_CHARS).is_some()
}

/// The fault of such a text.
pub fn too_long(text: &str, expected: &str) -> Fault {
    Fault::TooLong { count: text.chars().count(), most: MAX_NOTATION_CHARS, expected: expected.to_owned() }
}

/// Reads a number, or a text in a notation that photographers use, such as "f/8".
pub fn number_or_text<T>(
    value: &Value<'_>,
    expected: &'static str,
    at: &At<'_>,
    reader: &mut Reader,
    number: impl Fn(f64) -> T,
    text: impl Fn(&str) -> Result<T, InvalidValue>,
) -> Option<T> {
    let read = match value {
        Value::Number(_) => return value.number().map(number),
        Value::Text(written) | Value::Parameter(written) if is_too_long(written) => {
            return reader.push_fault(at, too_long(written, expected));
        }
        Value::Parameter(written) => match notation::bare_number(written) {
            Some(value) => return Some(number(value)),
            None => text(written),
        },
        Value::Text(written) => text(written),
        _ => return reader.push_wrong_type(at, value, expected),
    };
    reader.checked(at, read)
}

/// The number of a quantity as written, before a mark is replaced by its exact value.
pub fn written(kind: Kind, value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Written> {
    number_or_text(value, kind.expected(), at, reader, Written::plain, |text| notation::read(kind, text))
}

/// Reads a quantity of `kind` within its bounds; a mark is replaced by its exact value, as the rules say.
pub fn quantity(kind: Kind, value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
    let written = written(kind, value, at, reader)?;
    let (value, _) = reader.rules.interpret(kind, written);
    reader.checked(at, kind.bounds().check(value))
}

/// Implements [`Read`] for the types of quantities.
macro_rules! reads_quantity {
    ($($type:ident: $kind:ident),+) => {$(
        impl Read for $type {
            fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                quantity(Kind::$kind, value, at, reader).map(Self::new_unchecked)
            }

            fn expected() -> String {
                Kind::$kind.expected().to_owned()
            }
        }
    )+};
}
reads_quantity!(FNumber: FNumber, Seconds: ExposureTime, Iso: Iso, Joules: Energy, Metres: Distance);

impl Read for Stops {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let stops =
            number_or_text(value, notation::STOPS_EXPECTED, at, reader, |stops| stops, notation::stops)?;
        reader.checked(at, Self::new(stops))
    }

    fn expected() -> String {
        notation::STOPS_EXPECTED.to_owned()
    }
}

impl Read for bool {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match value {
            Value::Bool(value) => Some(*value),
            Value::Parameter(text) if text == "true" => Some(true),
            Value::Parameter(text) if text == "false" => Some(false),
            _ => reader.push_wrong_type(at, value, &Self::expected()),
        }
    }

    fn expected() -> String {
        "true or false".to_owned()
    }
}

/// Maximum number of characters in a name or an id.
pub const MAX_NAME_CHARS: usize = 64;

impl Read for String {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        text(value, MAX_NAME_CHARS, at, reader)
    }

    fn expected() -> String {
        text_expected(MAX_NAME_CHARS)
    }
}

impl Read for Id {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match value {
            Value::Number(number) if number.fract() == 0.0 => {
                reader.checked(at, bounds::ID.check(*number)).map(|number| Self::Number(number as i64))
            }
            Value::Text(_) | Value::Parameter(_) => String::read(value, at, reader).map(Self::Text),
            _ => reader.push_wrong_type(at, value, &Self::expected()),
        }
    }

    fn expected() -> String {
        format!("{}, or a whole number", text_expected(MAX_NAME_CHARS))
    }
}

looks_like!(Id as EntryId);

/// Reads a text of 1 to `most` characters.
pub fn text(value: &Value<'_>, most: usize, at: &At<'_>, reader: &mut Reader) -> Option<String> {
    let (Value::Text(text) | Value::Parameter(text)) = value else {
        return reader.push_wrong_type(at, value, &text_expected(most));
    };
    let length = text.chars().count();
    if (1..=most).contains(&length) {
        Some(text.clone().into_owned())
    } else {
        let expected = text_expected(most);
        let fault = if length == 0 {
            Fault::EmptyText { expected }
        } else {
            Fault::TooLong { count: length, most, expected }
        };
        reader.push_fault(at, fault)
    }
}

/// The name of an entry, where it is referred to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryName(pub String);

looks_like!(EntryName as EntryNameInput);

impl Read for EntryName {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        entry_name(value, MAX_NAME_CHARS, at, reader).map(Self)
    }

    fn expected() -> String {
        String::expected()
    }
}

/// Reads the name of an entry of 1 to `most` characters. A number is the id of one that has no name.
pub fn entry_name(value: &Value<'_>, most: usize, at: &At<'_>, reader: &mut Reader) -> Option<String> {
    match value {
        Value::Number(_) => Id::read(value, at, reader).map(|id| id.name()),
        _ => text(value, most, at, reader),
    }
}

fn text_expected(most: usize) -> String {
    format!("a text of 1 to {most} characters")
}
