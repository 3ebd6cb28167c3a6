//! Stop conversion: the difference between two settings, or the result of a shift.
//!
//! Sources: APEX (published: CIPA DC-008) for aperture, time and ISO; the inverse-square law for
//! distance (CIE e-ILV 17-25-104); GN² in proportion to light (ISO 1230); 10^-D for density. Light is in proportion to
//! illuminance, and to the reflectance of what is lit.

use std::borrow::Cow;

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::{AnyOf, InvalidPart, InvalidValue, Part, beginning},
    quantity::{
        Number, Stops,
        bounds::Bounds,
        constants::FOOT_M,
        kind::Kind,
        notation::{self, Written},
        rules::{Reading, Rules},
        significant,
        units::Units,
    },
};

/// A value as given, whose kind may not be known yet.
#[derive(Debug, Clone, PartialEq)]
pub enum Given {
    /// A number, in the unit of the kind.
    Number(f64),
    /// A text in photographic notation, such as `f/8`.
    Text(String),
}

/// The target of a conversion.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// Another value of the same kind.
    To(Given),
    /// A shift by stops of exposure.
    Shift(Stops),
}

/// A value with the nearest mark on a camera or lens.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MarkedValue {
    /// The exact value, in the unit of its kind: seconds, joules, metres (guide number: metres at ISO 100), percent, lux; a reflectance is a share.
    pub value: Number,
    /// The value in feet: always for a guide number, with imperial units for a distance.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub value_ft: Option<Number>,
    /// The nearest mark of the requested series, in a form that requests accept; null if the kind has no marks or the value lies beyond them.
    #[schema(value_type = Option<String>)]
    pub mark: Option<Cow<'static, str>>,
    /// How the value was read: `marked` as the exact value behind a mark, `literal` as the number itself; null for a computed value.
    pub read_as: Option<Reading>,
    /// The error of the mark against the value, stops; + is brighter. Null beyond the series of marks.
    pub off_by_stops: Option<Stops>,
    /// The value as it was written, if that was of the kind which states the same thing: `ND8` where densities are compared.
    #[serde(skip)]
    #[schema(ignore)]
    pub written: Option<String>,
}

impl Serialize for Reading {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.text())
    }
}

/// A conversion: two values and the stops between them.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Conversion {
    /// The kind of quantity.
    pub kind: Kind,
    /// The unit of both values: `s`, `J`, `m`, `m at ISO 100`, `%` or `lx`; null if the kind has no unit.
    pub unit: Option<&'static str>,
    /// The first value.
    pub from: MarkedValue,
    /// The second value.
    pub to: MarkedValue,
    /// The change in exposure, stops; + is brighter.
    pub exposure_stops: Stops,
    /// The change as a factor of light.
    pub light_ratio: Number,
}

impl Serialize for Kind {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

/// A value with its mark in the requested series.
fn marked_value(kind: Kind, value: f64, rules: Rules, read_as: Option<Reading>) -> MarkedValue {
    let mark = kind.mark_for(value, rules.step);
    let in_feet = kind == Kind::GuideNumber || (kind == Kind::Distance && rules.units == Units::Imperial);
    MarkedValue {
        value: Number::new_unchecked(value),
        value_ft: in_feet.then(|| Number::new_unchecked(value / FOOT_M)),
        off_by_stops: mark.as_ref().map(|(_, off_by)| Stops::new_unchecked(*off_by)),
        mark: mark.map(|(text, _)| text),
        read_as,
        written: None,
    }
}

/// Converts a value to another, or by a shift.
///
/// # Errors
///
/// In [`Part::From`], [`Part::To`] or [`Part::Shift`].
///
/// ```
/// use stopwright::light::{quantity::rules::Rules, stops::{Given, Target, convert}};
/// let text = |text: &str| Given::Text(text.to_owned());
/// let answer = convert(&text("f/8"), &Target::To(text("f/11")), None, Rules::default());
/// assert_eq!(answer.map(|answer| answer.exposure_stops.get()), Ok(-1.0));
/// ```
pub fn convert(
    from: &Given,
    target: &Target,
    kind: Option<Kind>,
    rules: Rules,
) -> Result<Conversion, Vec<InvalidPart>> {
    let to = match target {
        Target::To(to) => Some(to),
        Target::Shift(_) => None,
    };
    let given: Vec<_> = [Some(from), to].into_iter().zip(PARTS).filter_map(|(g, p)| Some((g?, p))).collect();
    let (kind, values) = interpret(&given, kind, rules)?;
    let [from, ..] = values.as_slice() else {
        return Err(Vec::new());
    };
    let (to, exposure_stops) = match (target, values.get(1)) {
        (Target::Shift(shift), _) => {
            let to = kind.value_at(from.exposure_stops + shift.get());
            let checked = kind.bounds().check(to).map_err(|_| {
                let Bounds { what, least, greatest, unit } = kind.bounds();
                let value = significant(to);
                let error = InvalidValue::ShiftOutOfRange { what, value, least, greatest, unit };
                vec![error.in_part(Part::Shift)]
            })?;
            (marked_value(kind, checked, rules, None), shift.get())
        }
        (Target::To(_), Some(to)) => (to.marked(kind, rules), to.exposure_stops - from.exposure_stops),
        (Target::To(_), None) => return Err(Vec::new()),
    };
    let unit = kind.bounds().unit;
    Ok(Conversion {
        kind,
        unit: (!unit.is_empty() && kind != Kind::LightRatio).then_some(unit),
        from: from.marked(kind, rules),
        to,
        exposure_stops: Stops::new_unchecked(exposure_stops),
        light_ratio: Number::new_unchecked(exposure_stops.exp2()),
    })
}

/// The errors in the values of a conversion, when other parts of the request are already wrong. `None` is a value that
/// could not be read.
pub fn faults(
    from: Option<&Given>,
    to: Option<&Given>,
    kind: Option<Kind>,
    rules: Rules,
) -> Vec<InvalidPart> {
    let given: Vec<_> = [from, to].into_iter().zip(PARTS).filter_map(|(g, p)| Some((g?, p))).collect();
    // A single value may fit several kinds; only the missing one would decide.
    let kind_is_known = match given[..] {
        [(Given::Text(text), _)] => kind.is_some() || notation::kinds_of(text).count() < 2,
        [(Given::Number(_), _)] => kind.is_some(),
        _ => true,
    };
    if kind_is_known { interpret(&given, kind, rules).err().unwrap_or_default() } else { Vec::new() }
}

/// The parts of the two values.
const PARTS: [Part; 2] = [Part::From, Part::To];

/// An exact value and how it was read.
struct Exact {
    /// In the unit of the conversion's kind.
    value: f64,
    /// Of its own kind, which rounding would tell from those of `value`.
    exposure_stops: f64,
    read_as: Reading,
    /// As it was written, if its kind is not that of the conversion.
    written: Option<String>,
}

impl Exact {
    fn marked(&self, kind: Kind, rules: Rules) -> MarkedValue {
        let written = self.written.clone();
        MarkedValue { written, ..marked_value(kind, self.value, rules, Some(self.read_as)) }
    }
}

/// The kind and the exact values of the given values.
fn interpret(
    given: &[(&Given, Part)],
    kind: Option<Kind>,
    rules: Rules,
) -> Result<(Kind, Vec<Exact>), Vec<InvalidPart>> {
    let kind = match kind {
        Some(kind) => kind,
        None => infer(given)?,
    };
    let mut faults = Vec::new();
    let mut values = Vec::new();
    for (given, part) in given {
        match value(given, kind, rules) {
            Ok(value) => values.push(value),
            Err(error) => faults.push(error.in_part(*part)),
        }
    }
    if faults.is_empty() { Ok((kind, values)) } else { Err(faults) }
}

fn value(given: &Given, kind: Kind, rules: Rules) -> Result<Exact, InvalidValue> {
    let (own, text, written) = match given {
        Given::Number(number) => (kind, "", Written::plain(*number)),
        Given::Text(text) => {
            let own = kind.alike().filter(|alike| notation::is_of(*alike, text)).unwrap_or(kind);
            let read = notation::read(own, text);
            (own, text.trim(), read.map_err(|error| other_kind(text, kind).unwrap_or(error))?)
        }
    };
    let (value, read_as) = rules.interpret(own, written);
    let value = own.bounds().check(value)?;
    let exposure_stops = own.exposure_stops(value);
    let (value, written) =
        if own == kind { (value, None) } else { (kind.value_at(exposure_stops), Some(beginning(text))) };
    Ok(Exact { value, exposure_stops, read_as, written })
}

/// The error for a text that can only be of one other kind; `None` if that is not so.
fn other_kind(text: &str, kind: Kind) -> Option<InvalidValue> {
    let mut kinds = notation::kinds_of(text);
    let (Some(other), None) = (kinds.next(), kinds.next()) else {
        return None;
    };
    Some(InvalidValue::OtherKind {
        text: beginning(text),
        is: other.name_in_words(),
        needed: kind.name_in_words(),
        notation: kind.expected(),
    })
}

/// The only kind that all the given values can have.
fn infer(given: &[(&Given, Part)]) -> Result<Kind, Vec<InvalidPart>> {
    // The common case, without collecting: exactly one kind of the first value fits all the others.
    if let [(Given::Text(first), _), others @ ..] = given {
        let fits = |kind: &Kind| {
            others.iter().all(|(other, _)| match other {
                Given::Text(text) => {
                    notation::is_of(*kind, text)
                        || kind.alike().is_some_and(|alike| notation::is_of(alike, text))
                }
                Given::Number(_) => true,
            })
        };
        let mut kinds = notation::kinds_of(first).filter(fits);
        if let (Some(kind), None) = (kinds.next(), kinds.next()) {
            return Ok(kind);
        }
    }
    let kinds: Vec<Option<Vec<Kind>>> = given
        .iter()
        .map(|(given, _)| match given {
            Given::Number(_) => None,
            Given::Text(text) => Some(notation::kinds_of(text).collect()),
        })
        .collect();
    // A text that fits no kind is wrong whatever the other value is.
    let unreadable: Vec<InvalidPart> = given
        .iter()
        .zip(&kinds)
        .filter_map(|((given, part), kinds)| match (given, kinds) {
            (Given::Text(text), Some(kinds)) if kinds.is_empty() => {
                let slip = notation::likely_slip("a setting", text);
                let error = slip.unwrap_or_else(|| InvalidValue::NoKind { text: beginning(text) });
                Some(error.in_part(*part))
            }
            _ => None,
        })
        .collect();
    let known: Vec<&Vec<Kind>> = kinds.iter().flatten().filter(|kinds| !kinds.is_empty()).collect();
    if let Some(first) = known.first() {
        let shared: Vec<Kind> =
            first.iter().copied().filter(|kind| known.iter().all(|kinds| kinds.contains(kind))).collect();
        return match shared[..] {
            [kind] => Ok(kind),
            [] => {
                let written = |index: usize| match given[index].0 {
                    Given::Text(text) => beginning(text.trim()),
                    Given::Number(number) => number.to_string(),
                };
                let error = InvalidValue::DifferentKinds {
                    from_text: written(0),
                    from: in_words(first),
                    to_text: written(1),
                    to: in_words(known[1]),
                };
                Err(vec![error.in_part(given[1].1)])
            }
            _ => {
                let ambiguous = given
                    .iter()
                    .zip(&kinds)
                    .filter(|(_, kinds)| kinds.as_ref().is_some_and(|kinds| kinds.len() > 1))
                    .map(|((_, part), _)| {
                        InvalidValue::AmbiguousKind { kinds: names(&shared) }.in_part(*part)
                    });
                Err(unreadable.into_iter().chain(ambiguous).collect())
            }
        };
    }
    if !unreadable.is_empty() {
        return Err(unreadable);
    }
    let bare = || InvalidValue::BareNumber { kinds: names(&Kind::ALL) };
    Err(given.iter().map(|(_, part)| bare().in_part(*part)).collect())
}

fn names(kinds: &[Kind]) -> Vec<&'static str> {
    kinds.iter().map(|kind| kind.name()).collect()
}

fn in_words(kinds: &[Kind]) -> AnyOf {
    AnyOf(kinds.iter().map(|kind| kind.name_in_words()).collect())
}

#[cfg(test)]
mod tests;
