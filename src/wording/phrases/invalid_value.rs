//! The codes and sentences of the errors of `light`.

use std::borrow::Cow;

use serde_json::Value;

use crate::{
    light::error::{AnyOf, InvalidValue, LabelRange},
    wording::{
        format::unit_name,
        phrase::{Shown, phrases},
    },
};

impl Shown for Option<String> {
    fn shown(&self) -> Cow<'_, str> {
        unit_name(self.as_deref()).into()
    }
}

impl Shown for AnyOf {
    fn shown(&self) -> Cow<'_, str> {
        self.0.join(" or ").into()
    }

    fn param(&self) -> Value {
        self.0.iter().copied().collect()
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

phrases! {
    InvalidValue:
    Unreadable { text, what, notation } = "unreadable": "\"{text}\" cannot be read as {what}" / "{notation}",
    Comma { text, what, with_points, without } = "comma":
        "\"{text}\" cannot be read as {what}: its comma may be a decimal comma, or separate thousands"
        / "\"{with_points}\" with a decimal point, or \"{without}\"",
    DividesByZero { text, what } = "divides_by_zero":
        "\"{text}\" cannot be read as {what}: it divides by zero" / "a number above zero under the stroke",
    MissingSign { text, what, with_plus } = "missing_sign":
        "\"{text}\" cannot be read as {what}: two numbers with no sign between them; in a query a plus sign is written %2B"
        / "\"{with_plus}\" (in a query with %2B for the plus sign)",
    NoKind { text } = "no_kind":
        "\"{text}\" is in no known notation"
        / "\"f/8\", \"f/8 +0.3\", \"1/200 s\", \"ISO 200\", \"600 J\", \"2.5 m\", \"8 ft 6 in\", \"GN 40\", \"ND 0.9\", \"ND8\", \"3:1\", \"62 %\", \"1/4 +0.3\", \"EV 12\", \"800 lx\", or a number with \"kind\"",
    AmbiguousKind { kinds } = "ambiguous_kind": "this may be any of {kinds}" / "a \"kind\" that says which: {kinds}",
    SingleSetting = "single_setting": "the scale has one setting only" / "a least setting under the full one",
    TooManySettings { count, most } = "too_many_settings":
        "the scale has {count} settings" / "a step that makes at most {most}",
    NotALabel { label, scale } = "not_a_label": "\"{label}\" is not a label of this unit's scale" / "{scale}",
    BeyondScale { label, scale } = "beyond_scale": "\"{label}\" is beyond this unit's scale" / "{scale}",
    BetweenSettings { label, nearest } = "between_settings":
        "\"{label}\" lies between two settings of this unit's scale"
        / "a setting on the scale; the nearest is \"{nearest}\"",
    UnknownBeam = "unknown_beam":
        "how much light the unit gives is not known: it states energy only, or the flux of a lamp" / "a guide_number, or a coverage beside the energy or the flux",
    UnknownHeadBeam = "unknown_head_beam":
        "how much light this head gives is not known" / "a guide_number of the head at the pack's full energy, or a coverage",
    NotComparable { unit, by, lacks } = "not_comparable": "{unit} cannot be compared by {by}" / "{lacks}",
    ReferenceDistanceMissing = "reference_distance_missing":
        "a candidate states its distance, the reference does not" / "the reference's distance too",
    NotDetermined = "not_determined":
        "without this, nothing can be found" / "two of setting, distance and f_number; of a metered light, where and at which setting it was metered",
    DuplicateName { name } = "duplicate_name": "the name \"{name}\" is used already" / "names that differ",
    UnknownName { what, name, known } = "unknown_name": "no {what} is named \"{name}\"" / "one of {known}",
    StatedTwice { light, point } = "stated_twice":
        "\"{light}\" at \"{point}\" is stated twice" / "one reading or placement for each light and point; a placement beside a reading with the distance at which it was metered moves it",
    AmbientStatedTwice { point } = "ambient_stated_twice":
        "ambient light at \"{point}\" is stated twice" / "one entry for each point",
    ExposureTimeMissing = "exposure_time_missing": "ambient light needs the exposure time" / "an exposure time, as \"1/125\"",
    ZoomMissing = "zoom_missing":
        "a table of guide numbers by zoom needs the zoom" / "zoom_mm, a focal length within the table",
    LampWithoutTime = "lamp_without_time":
        "a continuous lamp needs the exposure time, because its light follows it" / "an exposure time, as \"1/125\"",
    SyncTimeMissing = "sync_time_missing":
        "without the sync time it is not known whether high-speed sync is on"
        / "the camera's sync time, as \"1/250\"",
    UnknownDistance { light, point } = "unknown_distance":
        "the distance from \"{light}\" to \"{point}\" is not known"
        / "a distance, as \"2.5 m\", or the positions of both",
    LightOnPoint { light, point } = "light_on_point": "\"{light}\" stands where \"{point}\" is" / "positions at least 1 cm apart",
    AimedAtItself { light } = "aimed_at_itself": "\"{light}\" is aimed at itself" / "an aim at least 1 cm from the light",
    NoPoint = "no_point": "no point is named" / "points, or placements or readings that name them",
    UnlitPoint { point } = "unlit_point":
        "no light and no ambient light reaches \"{point}\""
        / "a reading, a placement or ambient light for this point, or positions of it and a light",
    UnlitReading { point } = "unlit_reading":
        "none of the lights that were on reaches \"{point}\", and no ambient light does"
        / "a point that a light reaches, or a reading or a placement for this point",
    CircularRatios = "circular_ratios":
        "the ratios run in a circle" / "a chain that ends at a point with f_number or stops",
    PackOverdrawn { pack, takes_j, energy_j } = "pack_overdrawn":
        "the settings take {takes_j} J of \"{pack}\", which has {energy_j} J" / "settings that take {energy_j} J at most, all together; one that is left out is full power",
    NotEnclosed { level } = "not_enclosed":
        "the level {level} lies between no two neighbouring frames, the darker of them at the smaller aperture"
        / "frames with levels on both sides of the reference's level",
    TooFewFrames = "too_few_frames":
        "fewer than two frames of different exposure and level remain"
        / "two or more frames that are not clipped, the brighter with the higher level",
    NoReading = "no_reading": "no reading remains" / "one or more readings that agree",
    FarOffRating { stops, least, greatest, unit } = "far_off_rating":
        "the light is {stops} stops off the unit's rating and scale" / "{least} to {greatest} {unit}",
    OutOfRange { what, value, least, greatest, unit } = "out_of_range":
        "{what} {value} is out of range" / "{least} to {greatest} {unit}",
    ShiftOutOfRange { what, value, least, greatest, unit } = "shift_out_of_range":
        "the shift leads out of range: {what} {value} is out of range" / "{least} to {greatest} {unit}",
    OtherKind { text, is, needed, notation } = "other_kind": "\"{text}\" is {is}, where {needed} is needed" / "{notation}",
    BareNumber { kinds } = "bare_number":
        "a bare number does not say what it is"
        / "what the trade writes, as \"f/8\", \"1/125 s\", \"ISO 100\", \"600 J\" or \"2.5 m\"; or a \"kind\" beside it, one of {kinds}",
    DifferentKinds { from_text, from, to_text, to } = "different_kinds":
        "{from_text} is {from} and {to_text} {to}; give two of one kind" / "two values of one kind",
}
