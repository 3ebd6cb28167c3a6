//! The sentences of the errors of `light`.

use std::borrow::Cow;

use crate::{
    light::error::{InvalidValue, LabelRange},
    wording::{
        fault::{Sentence, Shown, sentence},
        format::unit_name,
    },
};

impl Shown for Option<String> {
    fn shown(&self) -> Cow<'_, str> {
        unit_name(self.as_deref()).into()
    }
}

impl Shown for LabelRange {
    fn shown(&self) -> Cow<'_, str> {
        match self {
            Self::Continuous => {
                "a power as \"1/4\", \"62 %\" or \"-2 stops\" (below full), down to 8 stops".into()
            }
            Self::Fractions(full, least) => format!(
                "a label from \"{full}\" to \"{least}\", as \"1/4\" or \"1/4 +0.3\", or \"-2 stops\" (below full)"
            )
            .into(),
            Self::Labels(full, least) => {
                format!("a label from \"{full}\" to \"{least}\", or \"-2 stops\" (below full)").into()
            }
        }
    }
}

/// What a value is or may be: `is an f-number`, `may be an exposure time or a power fraction`.
fn may_be(kinds: &[&str]) -> String {
    let verb = if kinds.len() > 1 { "may be" } else { "is" };
    format!("{verb} {}", kinds.join(" or "))
}

macro_rules! sentences {
    (
        $error:expr;
        $(
            $name:ident $({ $($field:ident),+ })?:
            $detail:literal $(one($count:ident) $of_one:literal)? / $expected:literal
        ),+ $(,)?
        ; $pattern:pat => $sentence:expr $(,)?
    ) => {
        match $error {
            $(
                InvalidValue::$name $({ $($field),+ })? =>
                    sentence!([$($($field),+)?] $detail $(one($count) $of_one)? / $expected),
            )+
            $pattern => $sentence,
        }
    };
}

/// The sentence of an error of `light`.
#[allow(unused_variables, clippy::useless_format, reason = "not every sentence has every field")]
pub fn invalid_value(error: &InvalidValue) -> Sentence {
    sentences! {
        error;
        Unreadable { text, what, notation }: "\"{text}\" cannot be read as {what}" / "{notation}",
        Comma { text, what, with_points, without }:
            "\"{text}\" cannot be read as {what}: a comma may part decimals or thousands"
            / "\"{with_points}\" with a decimal point, or \"{without}\"",
        DividesByZero { text, what }:
            "\"{text}\" cannot be read as {what}: it divides by zero" / "a number above zero under the stroke",
        MissingSign { text, what, with_plus }:
            "\"{text}\" cannot be read as {what}: two numbers with no sign between them; in a query a plus sign is written %2B"
            / "\"{with_plus}\" (in a query with %2B for the plus sign)",
        NoKind { text }:
            "\"{text}\" is in no known notation"
            / "\"f/8\", \"f/8 +0.3\", \"1/200 s\", \"ISO 200\", \"600 J\", \"2.5 m\", \"8 ft 6 in\", \"GN 40\", \"ND 0.9\", \"ND8\", \"3:1\", \"62 %\", \"1/4 +0.3\", or a number with \"kind\"",
        AmbiguousKind { kinds }: "this may be any of {kinds}" / "a \"kind\" that says which: {kinds}",
        SingleSetting: "the scale has one setting only" / "a least setting under the full one",
        TooManySettings { count, most }:
            "the scale has {count} settings" / "a step that makes at most {most}",
        NotALabel { label, scale }: "\"{label}\" is not a label of this unit's scale" / "{scale}",
        BeyondScale { label, scale }: "\"{label}\" is beyond this unit's scale" / "{scale}",
        BetweenSettings { label, nearest }:
            "\"{label}\" lies between two settings of this unit's scale"
            / "a setting on the scale; the nearest is \"{nearest}\"",
        UnknownBeam:
            "the unit states energy only: its light is not known" / "a guide_number, or a coverage beside the energy",
        NotComparable { unit, by, lacks }: "{unit} cannot be compared by {by}" / "{lacks}",
        ReferenceDistanceMissing:
            "a candidate states its distance, the reference does not" / "the reference's distance too",
        DuplicateName { name }: "the name \"{name}\" is used before" / "names that differ",
        UnknownName { what, name, known }: "no {what} is named \"{name}\"" / "one of {known}",
        StatedTwice { light, point }:
            "\"{light}\" at \"{point}\" is stated twice" / "one reading or placement for each light and point",
        AmbientStatedTwice { point }:
            "ambient light at \"{point}\" is stated twice" / "one entry for each point",
        ExposureTimeMissing: "ambient light needs the exposure time" / "an exposure time, as \"1/125\"",
        UnknownDistance { light, point }:
            "the distance from \"{light}\" to \"{point}\" is not known"
            / "a distance, as \"2.5 m\", or the positions of both",
        LightOnPoint { light, point }: "\"{light}\" is on \"{point}\"" / "positions at least 1 cm apart",
        AimedAtItself { light }: "\"{light}\" is aimed at itself" / "an aim at least 1 cm from the light",
        NoPoint: "no point is named" / "points, or placements or readings that name them",
        UnlitPoint { point }:
            "no light and no ambient light reaches \"{point}\""
            / "a reading, a placement or ambient light for this point",
        CircularRatios:
            "the ratios run in a circle" / "a chain that ends at a point with f_number or stops",
        NotEnclosed { level }:
            "no two neighbouring frames enclose the level {level}, the darker at the smaller aperture"
            / "frames with levels on both sides of the reference's level",
        TooFewFrames:
            "fewer than two frames of different exposure and level remain"
            / "two or more frames that are not clipped, the brighter with the higher level",
        NoReading: "no reading remains" / "one or more readings that agree",
        FarOffRating { stops, least, greatest, unit }:
            "the light is {stops} stops off the unit's rating and scale" / "{least} to {greatest} {unit}",
        OutOfRange { what, value, least, greatest, unit }:
            "{what} {value} is out of range" / "{least} to {greatest} {unit}",
        ShiftOutOfRange { what, value, least, greatest, unit }:
            "the shift leads out of range: {what} {value} is out of range" / "{least} to {greatest} {unit}",
        OtherKind { text, is, needed, notation }: "\"{text}\" is {is}, where {needed} is needed" / "{notation}",
        BareNumber { kinds }:
            "a bare number does not say what it is"
            / "what the trade writes, as \"f/8\", \"1/125 s\", \"ISO 100\", \"600 J\" or \"2.5 m\"; or a \"kind\" beside it, one of {kinds}",
        ;
        InvalidValue::DifferentKinds { from, to } => Sentence {
            detail: format!("from and to are of different kinds: from {}, to {}", may_be(from), may_be(to)),
            expected: "two values of one kind".to_owned(),
        },
    }
}
