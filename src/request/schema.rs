//! OpenAPI schemas of quantities: a number with bounds, or a text with a pattern.

use utoipa::openapi::{
    ArrayBuilder, KnownFormat, ObjectBuilder, OneOfBuilder, Ref, RefOr, Schema, SchemaFormat, Type,
    extensions::ExtensionsBuilder,
    schema::{AdditionalProperties, ArrayItems},
};

use crate::light::{
    quantity::{
        FNumber, Iso, Joules, Metres, Seconds, Stops,
        bounds::{self, Bounds},
        kind::Kind,
        marks::Step,
        notation::{self, measure::Measure},
        rules::Reading,
        units::Units,
    },
    set::modifier::{KINDS, KindName},
};
use crate::request::{field_schema::looks_like, short_question::MAX_CHARS};

/// A number with bounds.
pub fn number(bounds: Bounds) -> ObjectBuilder {
    ObjectBuilder::new().schema_type(Type::Number).minimum(Some(bounds.least)).maximum(Some(bounds.greatest))
}

/// A whole number with bounds.
pub fn whole_number(bounds: Bounds) -> RefOr<Schema> {
    number(bounds)
        .schema_type(Type::Integer)
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Int32)))
        .into()
}

fn number_or_text(bounds: Bounds, pattern: &str, description: String) -> RefOr<Schema> {
    OneOfBuilder::new()
        .item(number(bounds))
        .item(ObjectBuilder::new().schema_type(Type::String).max_length(Some(64)).pattern(Some(pattern)))
        .description(Some(description))
        .into()
}

/// A measure as a number or a text.
pub fn measure(bounds: Bounds, measure: &Measure) -> RefOr<Schema> {
    let description = sentence(measure.expected, bounds);
    number_or_text(bounds, measure.pattern, description)
}

/// What is expected, and its range, as a sentence.
fn sentence(expected: &str, bounds: Bounds) -> String {
    format!("{}{}; {}.", expected[..1].to_uppercase(), &expected[1..], bounds.range())
}

/// A label as a number or a text, or a setting copied from an answer.
fn setting(description: &str, pattern: &str) -> RefOr<Schema> {
    let bounds = Bounds { what: "setting", unit: "", least: -100.0, greatest: 1e5 };
    let text = ObjectBuilder::new().schema_type(Type::String).max_length(Some(64)).pattern(Some(pattern));
    OneOfBuilder::new()
        .item(number(bounds))
        .item(text)
        .item(Ref::from_schema_name("Setting"))
        .description(Some(description))
        .into()
}

/// A list of two.
pub fn pair(item: RefOr<Schema>) -> ArrayBuilder {
    ArrayBuilder::new().items(item).min_items(Some(2)).max_items(Some(2))
}

/// A list of three.
pub fn three(item: impl Into<ArrayItems>) -> ArrayBuilder {
    ArrayBuilder::new().items(item).min_items(Some(3)).max_items(Some(3))
}

/// A text that the caller is free to choose.
fn name(length: usize, description: &str) -> RefOr<Schema> {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .min_length(Some(1))
        .max_length(Some(length))
        .description(Some(description))
        .into()
}

/// An object whose fields the document does not describe.
fn open(description: &str) -> RefOr<Schema> {
    ObjectBuilder::new()
        .schema_type(Type::Object)
        .additional_properties(Some(AdditionalProperties::FreeForm(true)))
        .description(Some(description))
        .into()
}

fn words(words: &[&str], description: &str) -> RefOr<Schema> {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .enum_values(Some(words.iter().copied()))
        .description(Some(description))
        .into()
}

/// Gives a type a named schema, or declares an empty type for it.
macro_rules! schema {
    ($(#[$doc:meta])* $type:ident as $name:literal: $schema:expr) => {
        $(#[$doc])*
        pub struct $type;
        schema!(of $type as $name: $schema);
    };
    (of $type:ty as $name:literal: $schema:expr) => {
        impl utoipa::PartialSchema for $type {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                $schema
            }
        }

        impl utoipa::ToSchema for $type {
            fn name() -> std::borrow::Cow<'static, str> {
                $name.into()
            }
        }
    };
}
pub(crate) use schema;

fn quantity(kind: Kind, pattern: &str) -> RefOr<Schema> {
    let bounds = kind.bounds();
    number_or_text(bounds, pattern, sentence(kind.expected(), bounds))
}

const RATIO: &str = r"^\s*[0-9.]+\s*:\s*[0-9.]+\s*$";

schema!(
    /// An f-number in a request.
    FNumberInput as "FNumberInput": quantity(Kind::FNumber, r"^\s*([fFƒ]\s*/?\s*)?[0-9.]+(\s*[+-]\s*[0-9./ ]+)?\s*$")
);
schema!(
    /// An exposure time in a request.
    ExposureTimeInput as "ExposureTimeInput":
    quantity(Kind::ExposureTime, r#"^\s*([0-9.]+\s*/\s*[0-9.]+(\s*(s|sec|seconds?|"))?|[0-9.]+\s*(s|sec|seconds?|"))\s*$"#)
);
schema!(
    /// An ISO speed in a request.
    IsoInput as "IsoInput": quantity(Kind::Iso, r"^\s*([iI][sS][oO]\s*)?[0-9.]+\s*$")
);
schema!(
    /// An optical density in a request.
    DensityInput as "DensityInput": quantity(Kind::OpticalDensity, r"^\s*[nN][dD]\s*[0-9.]+\s*$")
);
schema!(
    /// An energy in a request.
    EnergyInput as "EnergyInput": quantity(Kind::Energy, r"^\s*[0-9.]+\s*([kK]?[jJ]|[kK]?[wW][sS]|[jJ]oules?)\s*$")
);
schema!(
    /// A distance in a request.
    DistanceInput as "DistanceInput":
    quantity(Kind::Distance, r#"^\s*[0-9.]+\s*(m|mm|cm|metres?|meters?|ft|feet|foot|'|in|inch|inches|")(\s*[0-9.]+\s*(in|inch|inches|"))?\s*$"#)
);
schema!(
    /// A distance in a request, with how far off it may be.
    DistanceWithinInput as "DistanceWithinInput": OneOfBuilder::new()
        .item(Ref::from_schema_name("DistanceInput"))
        .item(ObjectBuilder::new().schema_type(Type::String).max_length(Some(64)).pattern(Some(
            r#"^\s*[0-9.]+\s*(m|mm|cm|metres?|meters?|ft|feet|foot|'|in|inch|inches|")(\s*[0-9.]+\s*(in|inch|inches|"))?\s*(±|\+/-|\+-)\s*[0-9.]+\s*(m|mm|cm|metres?|meters?|ft|feet|foot|'|in|inch|inches|")(\s*[0-9.]+\s*(in|inch|inches|"))?\s*$"#,
        )))
        .description(Some("A distance, and how far off it may be (the half-width of its 95 % interval), as \"2 m ±3 cm\" or \"8 ft +/- 2 in\"; 4 cm if nothing is said."))
        .into()
);
/// A guide number as a text.
fn guide_text() -> ObjectBuilder {
    let pattern = r"^\s*[gG][nN]\s*[0-9.]+\s*(m|ft)?\s*$";
    ObjectBuilder::new().schema_type(Type::String).max_length(Some(64)).pattern(Some(pattern))
}

schema!(
    /// A guide number in a request.
    GuideInput as "GuideInput": OneOfBuilder::new()
        .item(guide_text())
        .item(Ref::from_schema_name("GuideNumberInput"))
        .description(Some("\"GN 40\" (metres), \"GN 131 ft\", or an object."))
        .into()
);
schema!(
    /// The guide number of a unit in a request.
    UnitGuideInput as "UnitGuideInput": OneOfBuilder::new()
        .item(guide_text())
        .item(Ref::from_schema_name("GuideNumberInput"))
        .item(Ref::from_schema_name("ZoomGuideInput"))
        .description(Some("\"GN 40\" (metres), \"GN 131 ft\", an object, or a table by zoom."))
        .into()
);
schema!(
    /// An f-number or a guide number in a request.
    AmountInput as "AmountInput": OneOfBuilder::new()
        .item(Ref::from_schema_name("FNumberInput"))
        .item(guide_text())
        .item(Ref::from_schema_name("GuideNumberInput"))
        .description(Some("An f-number, as \"f/8\" or \"f/8 +0.3\", or a guide number, as \"GN 40\"."))
        .into()
);
schema!(
    /// Ambient light in a request.
    AmbientOrLux as "AmbientOrLuxInput": OneOfBuilder::new()
        .item(number(bounds::ILLUMINANCE))
        .item(
            ObjectBuilder::new()
                .schema_type(Type::String)
                .max_length(Some(64))
                .pattern(Some(notation::measure::LUX.pattern)),
        )
        .item(Ref::from_schema_name("AmbientLightInput"))
        .description(Some("An illuminance, as 800 (lux) or \"800 lx\", or an object."))
        .into()
);
schema!(
    /// Stops in a request.
    StopsInput as "StopsInput": number_or_text(
        bounds::SHIFT,
        r"^\s*[+-]?\s*[0-9.]+(\s+[0-9.]+)?(\s*/\s*[0-9.]+)?\s*([sS]tops?)?\s*$",
        format!("Stops of exposure, + is brighter: {}; {}.", notation::STOPS_EXPECTED, bounds::SHIFT.range()),
    )
);
schema!(
    /// A value to convert.
    ConvertInput as "ConvertInput": number_or_text(
        Bounds { what: "value", unit: "", least: bounds::EXPOSURE_VALUE.least, greatest: 1e10 },
        r"[0-9]",
        "A number in the unit of its kind (with `kind`), or what the trade writes: \"f/8\", \"f/8 +0.3\", \"1/200 s\", \"ISO 200\", \"600 J\", \"8 ft 6 in\", \"GN 40\", \"GN 131 ft\", \"ND 0.9\" (density), \"ND8\" (factor), \"3:1\", \"62 %\", \"1/4 +0.3\", \"EV 12\", \"800 lx\", \"200 fc\". With `kind`, \"18 %\" is also a reflectance. Each kind has its own range.".to_owned(),
    )
);
schema!(
    /// The name of a part of a request.
    Name as "Name": name(64, "A name, 1 to 64 characters.")
);
schema!(
    /// A caller's own name for an entry.
    EntryId as "EntryId": OneOfBuilder::new()
        .item(ObjectBuilder::new().schema_type(Type::String).min_length(Some(1)).max_length(Some(64)))
        .item(number(bounds::ID).schema_type(Type::Integer))
        .description(Some("Your own id for an entry, a text or a whole number, given back with its result and wherever it is referred to."))
        .into()
);
schema!(
    /// A question in words.
    ShortQuestionInput as "ShortQuestionInput": name(MAX_CHARS, "A question in words, as \"f/8 to f/11\".")
);
schema!(
    /// The name of an entry, where it is referred to.
    EntryNameInput as "EntryName": OneOfBuilder::new()
        .item(ObjectBuilder::new().schema_type(Type::String).min_length(Some(1)).max_length(Some(68)))
        .item(number(bounds::ID).schema_type(Type::Integer))
        .description(Some("The name of an entry, or the id of one that has no name."))
        .into()
);
schema!(
    /// The body of a question in a batch.
    QuestionBody as "QuestionBody": open("The body that the question would have alone.")
);
schema!(
    /// The answer of any calculation.
    AnyAnswer as "AnyAnswer": open("The answer that the question would have alone.")
);
schema!(
    /// Fields that every body of a batch takes that lacks them.
    BodyDefaults as "BodyDefaults": open("Fields for the bodies that lack them.")
);
schema!(
    /// The path of a calculation.
    CalculationPath as "CalculationPath": ObjectBuilder::new()
        .schema_type(Type::String)
        .min_length(Some(1))
        .max_length(Some(64))
        .examples(["/v1/stops/convert"])
        .description(Some("The path of a calculation, one that takes POST."))
        .into()
);
schema!(
    /// The body of an answer in a batch.
    AnswerBody as "AnswerBody": open("The answer, or a problem; `status` says which.")
);
schema!(
    /// This document.
    Document as "OpenApiDocument": open("An OpenAPI 3.1 document.")
);
schema!(of Reading as "NumberReading": words(
    &["marked", "literal"],
    "How numbers are read. `marked`: a mark of the standard series stands for its exact value (f/5.6 is 2^(5/2) = 5.657, 1/60 is 1/64 s). `literal`: every number is what it says.",
));
schema!(of Step as "MarkStep": ObjectBuilder::new()
    .schema_type(Type::String)
    .enum_values(Some(Step::ALL.map(Step::text)))
    // Client generators cannot make identifiers from these words.
    .extensions(Some(ExtensionsBuilder::new().add("enum-varnames", ["whole", "half", "third"]).build()))
    .description(Some("The series of marks in force: whole, half or third stops."))
    .into()
);
schema!(of Units as "LengthUnits": words(
    &Units::ALL.map(Units::text),
    "The units of lengths in an answer. `imperial`: feet beside metres, as `distance_ft` beside `distance_m`; sentences speak of feet. A bare number in a request is in metres all the same; write \"6 ft\".",
));
schema!(of KindName as "ModifierName": words(
    &KINDS.map(|kind| kind.kind.0),
    "The name of a kind of modifier; /v1/modifiers describes each.",
));
schema!(of Kind as "QuantityKind": words(&Kind::ALL.map(Kind::name), "A kind of quantity that stops can be counted in."));
schema!(
    /// A power setting in a request.
    SettingInput as "SettingInput": setting(
        "The label on the unit's own scale: \"7.3\" (dial), \"1/16\" or \"1/4 +0.3\" (fraction), \"62 %\", \"150 J\", or on any scale \"-2 stops\" (below full) and \"full\". A number is the label as it stands on the scale. A setting out of an answer may be sent back as it is; its label counts.",
        "[0-9]|full",
    )
);
schema!(
    /// The setting of a light in a request.
    LightSettingInput as "LightSettingInput": setting(
        "A setting of the light's unit, as in `SettingInput`, or \"off\".",
        "[0-9]|full|off",
    )
);
schema!(
    /// An assumption in a request.
    StatedInput as "StatedInput": OneOfBuilder::new()
        .item(ObjectBuilder::new().schema_type(Type::Number))
        .item(Ref::from_schema_name("StatedRange"))
        .description(Some("An assumption of your own: one number, or low, typical and high."))
        .into()
);
schema!(
    /// A light ratio in a request.
    RatioInput as "RatioInput": quantity(Kind::LightRatio, RATIO)
);
schema!(
    /// A lighting ratio in a request.
    LightingRatioNumber as "LightingRatioNumber": number_or_text(
        bounds::LIGHTING_RATIO,
        RATIO,
        format!("A lighting ratio, as 3 or \"3:1\"; {}.", bounds::LIGHTING_RATIO.range()),
    )
);
schema!(
    /// The size of a source in a request.
    SizeInput as "SizeInput": number_or_text(
        bounds::SIZE,
        r"^\s*[0-9.]+\s*[a-zA-Z'\x22]",
        format!("A length with its unit, as 0.9 (metres), \"90 cm\" or \"3 ft\"; {}.", bounds::SIZE.range()),
    )
);
schema!(
    /// A blur as a length in a request.
    BlurLengthInput as "BlurLengthInput": number_or_text(
        bounds::BLUR_LENGTH,
        r"^\s*[0-9.]+\s*[a-zA-Z'\x22]",
        format!("A length at the subject, as 0.002 (metres) or \"2 mm\"; {}.", bounds::BLUR_LENGTH.range()),
    )
);
schema!(
    /// The effect of a modifier in a request.
    ModifierInput as "ModifierInput": OneOfBuilder::new()
        .item(Ref::from_schema_name("StopsInput"))
        .item(Ref::from_schema_name("ModifierKindInput"))
        .item(Ref::from_schema_name("ModifierEffectInput"))
        .description(Some("What a modifier does to the light on the axis: stops, negative where it darkens, or a kind out of /v1/modifiers, which is roughly known and widens the answer."))
        .into()
);
schema!(
    /// A kind of modifier in a request.
    ModifierKindInput as "ModifierKindInput": ObjectBuilder::new()
        .schema_type(Type::Object)
        .property(
            "kind",
            Ref::builder().ref_location_from_schema_name("ModifierName").description(Some("The kind.")),
        )
        .required("kind")
        .description(Some("A kind of modifier out of /v1/modifiers."))
        .into()
);
schema!(
    /// A coordinate in a request.
    CoordinateInput as "CoordinateInput": number_or_text(
        bounds::COORDINATE,
        r#"^\s*[+-]?\s*[0-9.]+\s*(m|mm|cm|metres?|meters?|ft|feet|foot|'|in|inch|inches|")(\s*[0-9.]+\s*(in|inch|inches|"))?\s*$"#,
        format!("A coordinate with its unit, as -0.4 (metres), \"-40 cm\" or \"6 ft 3 in\"; {}.", bounds::COORDINATE.range()),
    )
);
schema!(
    /// A position in a request.
    PositionInput as "PositionInput": three(Ref::from_schema_name("CoordinateInput"))
        .description(Some("A position [x, y, z], each in metres or with its unit, from wherever you like: x to the right, y away, z up."))
        .into()
);
schema!(
    /// A direction in a request.
    DirectionInput as "DirectionInput": three(number(bounds::DIRECTION_PART))
        .description(Some("A direction [x, y, z]; its length does not matter, but it may not be zero."))
        .into()
);
schema!(
    /// The duration of a flash in a request.
    DurationInput as "DurationInput": number_or_text(
        bounds::DURATION,
        r#"^\s*([0-9.]+\s*/\s*[0-9.]+(\s*(s|sec|seconds?|"))?|[0-9.]+\s*(s|sec|seconds?|"))\s*$"#,
        format!("A duration, as 0.0005 (seconds) or \"1/2000\"; {}.", bounds::DURATION.range()),
    )
);
schema!(
    /// The level of a patch in a request.
    LevelInput as "LevelInput": OneOfBuilder::new()
        .item(number(bounds::PATCH_LEVEL))
        .item(three(number(bounds::PATCH_LEVEL)))
        .description(Some("The level of a patch: one number as of a grey, or [red, green, blue], whose luminance counts."))
        .into()
);

looks_like!(
    FNumber as FNumberInput,
    Seconds as ExposureTimeInput,
    Iso as IsoInput,
    Joules as EnergyInput,
    Metres as DistanceInput,
    Stops as StopsInput,
);
