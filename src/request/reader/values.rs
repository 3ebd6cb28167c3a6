//! Numbers, quantities, texts.

use crate::{
    light::{
        error::InvalidValue,
        quantity::{
            FNumber, Iso, Joules, Metres, Seconds, Stops,
            bounds::Bounds,
            kind::Kind,
            notation::{self, Written},
        },
    },
    request::{
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
};

/// A number within bounds; in a query its text.
pub fn number(tree: &Value<'_>, bounds: Bounds, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
    let Some(number) = tree.number() else {
        return reader.mistyped(at, tree, &format!("a number, {}", bounds.range()));
    };
    match bounds.check(number) {
        Ok(number) => Some(number),
        Err(wrong) => reader.wrong(at, wrong),
    }
}

/// A whole number within bounds.
pub fn whole(tree: &Value<'_>, bounds: Bounds, at: &At<'_>, reader: &mut Reader) -> Option<u32> {
    let number = number(tree, bounds, at, reader)?;
    if number.fract() == 0.0 {
        Some(number as u32)
    } else {
        reader.fault(at, format!("{number} is not a whole number"), bounds.range())
    }
}

/// What is wrong with a value that [`is_too_long`].
pub const TOO_LONG: &str = "the text is longer than any value is written";

/// Whether a text has more bytes than a value in the trade's notation may have.
pub fn is_too_long(text: &str) -> bool {
    text.len() > 64
}

/// A number, or a text in the trade's notation.
pub fn number_or_text<T>(
    tree: &Value<'_>,
    expected: &str,
    at: &At<'_>,
    reader: &mut Reader,
    number: impl Fn(f64) -> T,
    text: impl Fn(&str) -> Result<T, InvalidValue>,
) -> Option<T> {
    let read = match tree {
        Value::Number(value) => return Some(number(*value)),
        Value::Text(written) | Value::Parameter(written) if is_too_long(written) => {
            return reader.fault(at, TOO_LONG, expected);
        }
        Value::Parameter(written) => match notation::bare_number(written) {
            Some(value) => return Some(number(value)),
            None => text(written),
        },
        Value::Text(written) => text(written),
        _ => return reader.mistyped(at, tree, expected),
    };
    read.map_or_else(|wrong| reader.wrong(at, wrong), Some)
}

/// The number of a quantity as it was written, before marks are read.
pub fn written(kind: Kind, tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Written> {
    number_or_text(tree, kind.expected(), at, reader, Written::plain, |text| notation::read(kind, text))
}

/// A quantity of `kind`, as exact as its mark says, within its bounds.
pub fn quantity(kind: Kind, tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
    let written = written(kind, tree, at, reader)?;
    let (value, _) = reader.rules.interpret(kind, written);
    reader.within(kind.bounds(), value, kind.expected(), at)
}

macro_rules! reads_quantity {
    ($($type:ident: $kind:ident),+) => {$(
        impl Read for $type {
            fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                quantity(Kind::$kind, tree, at, reader).map(Self::new_unchecked)
            }

            fn expected() -> String {
                Kind::$kind.expected().to_owned()
            }
        }
    )+};
}
reads_quantity!(FNumber: FNumber, Seconds: ExposureTime, Iso: Iso, Joules: Energy, Metres: Distance);

impl Read for Stops {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let stops =
            number_or_text(tree, notation::STOPS_EXPECTED, at, reader, |stops| stops, notation::stops)?;
        Self::new(stops).map_or_else(|wrong| reader.wrong(at, wrong), Some)
    }

    fn expected() -> String {
        notation::STOPS_EXPECTED.to_owned()
    }
}

impl Read for bool {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match tree {
            Value::Bool(value) => Some(*value),
            Value::Parameter(text) if text == "true" => Some(true),
            Value::Parameter(text) if text == "false" => Some(false),
            _ => reader.mistyped(at, tree, "true or false"),
        }
    }
}

/// Characters that a name or an id may have.
pub const NAME_MOST: usize = 64;

impl Read for String {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        text(tree, NAME_MOST, at, reader)
    }

    fn expected() -> String {
        text_of(NAME_MOST)
    }
}

/// A text of so many characters at the most.
pub fn text(tree: &Value<'_>, most: usize, at: &At<'_>, reader: &mut Reader) -> Option<String> {
    let (Value::Text(text) | Value::Parameter(text)) = tree else {
        return reader.mistyped(at, tree, &text_of(most));
    };
    let length = text.chars().count();
    if (1..=most).contains(&length) {
        Some(text.clone().into_owned())
    } else {
        reader.fault(at, format!("the text has {length} characters"), text_of(most))
    }
}

fn text_of(most: usize) -> String {
    format!("a text of 1 to {most} characters")
}
