//! [`Fault`]: what can be wrong with a request's shape and fields, with codes and sentences. Those of errors of `light` are
//! in `phrases/invalid_value.rs`.

use crate::{
    light::error::InvalidValue,
    server::problem::MALFORMED,
    wording::phrase::{Phrase, Phrased, Words, phrases},
};

/// Declares [`Fault`] with its codes and sentences in one table.
macro_rules! faults {
    (
        $(
            $name:ident $({ $($field:ident: $type:ty),+ $(,)? })? = $code:literal:
            $detail:literal $(one($count:ident) $singular:literal)? / $expected:literal
        ),+ $(,)?
    ) => {
        /// What is wrong with a request.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Fault {
            /// An error of `light`.
            Light(InvalidValue),
            $(
                #[doc = $detail]
                $name $({ $(#[doc = concat!("The ", stringify!($field), " in the sentence.")] $field: $type),+ })?
            ),+
        }

        phrases! {
            Fault:
            $(
                $name $({ $($field),+ })? = $code: $detail $(one($count) $singular)? / $expected
            ),+
            ; Self::Light(error) => error.sentence()
        }
    };
}

faults! {
    // The shape of a request.
    NotJson { error: String } = "not_json": "cannot be read as JSON: {error}" / "one JSON object",
    TooManyValues { most: usize } = "too_many_values":
        "the JSON has too many values" / "at most {most} values, not counting the names of fields",
    BarePercent { byte: usize } = "bare_percent":
        "the query has a bare % at byte {byte}" / "%25 for a percent sign, %2B for a plus sign",
    NotUtf8 = "not_utf8": "the query is not UTF-8" / "percent-encoded UTF-8",
    TooManyParameters { count: usize, most: usize } = "too_many_parameters":
        "the query has {count} parameters" / "at most {most}",
    QueryBesideBody = "query_beside_body":
        "the query has a parameter, and there is a body too" / "all of the request in the body, or all in the query of a GET",
    Missing { expected: String } = "missing": "this field is missing" / "{expected}",
    WrongType { found: &'static str, expected: String } = "wrong_type": "this is {found}" / "{expected}",
    UnknownField { name: String, known: Vec<&'static str> } = "unknown_field":
        "unknown name \"{name}\"" / "one of {known}",
    MoreUnknownFields { count: usize } = "more_unknown_fields":
        "{count} more unknown names" one(count) "one more unknown name" / "an object with known names only",
    RepeatedField { name: String } = "repeated_field": "\"{name}\" is given more than once" / "each name once",
    TooFew { count: usize, least: usize, expected: String } = "too_few":
        "the list is too short: {count} of at least {least} elements" / "{expected}",
    TooMany { count: usize, most: usize, expected: String } = "too_many":
        "the list is too long: {count} elements of at most {most}" / "{expected}",
    EmptyText { expected: String } = "empty_text": "the text is empty" / "{expected}",
    TooLong { count: usize, most: usize, expected: String } = "too_long":
        "the text is too long: {count} characters of at most {most}" / "{expected}",
    NotWhole { number: f64, least: f64, greatest: f64 } = "not_whole":
        "{number} is not a whole number" / "{least} to {greatest}",
    UnknownWord { word: String, known: Words } = "unknown_word": "\"{word}\" is not known" / "one of {known}",

    // A question in words.
    UnknownQuestion { text: String, forms: Vec<String> } = "unknown_question":
        "\"{text}\" is in no known form" / "a question such as {forms}",
    NothingBetween { first: String, second: String } = "nothing_between":
        "nothing stands between {first} and {second}"
        / "\"{first} + {second}\" for both together (in a query with %2B for the plus sign), or \"{first} to {second}\"",

    GuideWithoutUnit { guide: String } = "guide_without_unit":
        "{guide} does not say its unit, and the distance is in feet" / "\"{guide} ft\", or \"{guide} m\"",

    // One of several ways.
    Conflict { what: &'static str, ways: Vec<String> } = "conflict":
        "{what} is stated in more than one way" / "one of {ways}",

    // Lists.
    NotRisingPair { expected: &'static str } = "not_rising_pair": "the first is greater than the second" / "{expected}",
    NotRisingRange = "not_rising_range":
        "low, typical and high are not in rising order" / "low, typical and high, none below the one before",
    SettingStatedTwice = "setting_stated_twice": "this setting is in the list already" / "each setting once",
    MarkStatedTwice = "mark_stated_twice": "this mark is in the list already" / "each mark once",

    // A unit.
    NoOutput = "no_output": "the unit does not say how much light it gives" / "energy, or guide_number, or both; continuous for a lamp",
    NotOfALamp = "not_of_a_lamp":
        "a continuous lamp is no flash, and has no such field" / "either this or continuous",
    PopsOfLamp = "pops_of_lamp": "a continuous lamp is not fired, so it has no number of flashes" / "1, or no pops",
    JoulesOnLamp = "joules_on_lamp":
        "a continuous lamp has no flash energy to count in joules" / "percent, fraction or dial",
    LossAddsLight = "loss_adds_light": "this loss adds light" / "0 or less, as -1.8",
    TableWithoutZoom = "table_without_zoom":
        "a table by zoom has several guide numbers, and one is needed here" / "one guide number, as \"GN 40\"",
    FocalLengthsNotRising = "focal_lengths_not_rising":
        "this focal length is not longer than the one before" / "rows in rising order of focal length",
    FrameWithoutFocalLength = "frame_without_focal_length":
        "a frame goes with a focal length only" / "focal_length_mm beside it, or no frame_mm",
    FullWithoutDial = "full_without_dial": "only a dial has a label at full" / "no full on this scale",
    LinearStepOnOtherScale = "linear_step_on_other_scale":
        "a linear step goes with percent or joules only" / "click, in stops",
    DialWithoutFull { expected: String } = "dial_without_full":
        "a dial needs its label at full power" / "{expected}",
    NotADialLabel { expected: String } = "not_a_dial_label": "this is not a dial's label" / "{expected}",
    JoulesWithoutEnergy = "joules_without_energy":
        "a scale in joules needs the unit's energy" / "energy beside the scale",
    LeastNotBelowFull = "least_not_below_full":
        "the least energy is not below the full energy" / "less than the unit's energy",
    UnknownDuration = "unknown_duration":
        "the flash duration is not known" / "t0_5_s or t0_1_s for a flash that dies away; both, t0_5_s the shorter, for one that is cut off",
    RecycleTimesFall = "recycle_times_fall":
        "a weaker flash recycles more slowly than a stronger one" / "times that rise with the energy",
    SettingWithoutUnit = "setting_without_unit": "a setting is stated, but not the unit that has it" / "unit beside it",
    UnitInShotBefore { name: String } = "unit_in_shot_before": "\"{name}\" is in this shot already" / "each unit once",
    UnitOnCircuitBefore { name: String } = "unit_on_circuit_before":
        "\"{name}\" is on a circuit already" / "each unit once",
    PackOnCircuitBefore { pack: String } = "pack_on_circuit_before":
        "the pack \"{pack}\" is on a circuit already" / "each pack on one circuit, with all its heads",

    NoPacks = "no_packs":
        "this request takes no packs" / "energy and scale of the unit itself; or packs, where a request takes them",
    CorrectionsOnPack = "corrections_on_pack":
        "corrections are for a unit with a scale of its own" / "offset_stops",
    SupplyOfPack = "supply_of_pack":
        "a head is fed by its pack" / "this field of the pack, and none of the head",
    SharesAndOutlets { shares: usize, outlets: u32 } = "shares_and_outlets":
        "the number of shares is {shares}, and that of outlets {outlets}" / "one share for each outlet",
    ScaleBesideEach = "scale_beside_each":
        "outlets that are set apart have scales of their own" / "scale in each",
    OutletTaken { outlet: u32, light: String } = "outlet_taken":
        "outlet {outlet} is taken by \"{light}\"" / "another outlet",
    PackTooSmall { pack: String, heads: usize, outlets: u32 } = "pack_too_small":
        "\"{pack}\" has {outlets} outlets for {heads} lights" one(outlets) "\"{pack}\" has one outlet for {heads} lights"
        / "an outlet for each light",

    DuplicateId { id: String } = "duplicate_id": "the id \"{id}\" is used already" / "ids that differ",

    TooManyUnits { count: usize, most: usize } = "too_many_units": "the kit has {count} units" / "at most {most}",

    // A set.
    AxisMissing = "axis_missing": "the first row is not the axis" / "[0, an intensity above 0]",
    AnglesNotRising = "angles_not_rising": "this angle is not greater than the one before" / "rows in rising order of angle",
    KindOfModifier { expected: String } = "kind_of_modifier":
        "this names a kind of modifier; stops are expected" / "{expected}",
    NoDirection { expected: &'static str } = "no_direction":
        "the direction has no length" / "{expected}",
    UpAlongNormal = "up_along_normal":
        "the board's height would run along its normal" / "another direction, or none: the height then runs up, or along y on a level board",
    AimWithoutPosition = "aim_without_position":
        "a distance does not say where the light is, so an aim has no effect" / "off_axis_deg, or a position instead of the distance",
    AngleBesidePosition = "angle_beside_position":
        "the angles follow from the positions" / "no angle here, or a distance beside it",
    OffOrFullPower = "off_or_full_power":
        "null is ambiguous: the light may be off, or at full power" / "\"off\", or a label: \"full\" for full power",
    BelowLeast { below: f64, most: f64 } = "below_least":
        "the setting is {below} stops below full" / "at most max_stops_below_full, {most}",
    LightOutputUnknown { light: String } = "light_output_unknown":
        "how much light \"{light}\" gives is not known" / "a reading or a placement of it",
    RatioBelowOne { value: f64, greatest: f64 } = "ratio_below_one":
        "the lighting ratio {value} is below 1" / "1 to {greatest}; the key is the brighter light, so swap key and fill",
    NotTwoLights = "not_two_lights":
        "the shorthand is for two lights" / "two lights, or points instead of ratio",
    KeyIsFill = "key_is_fill": "key and fill are the same light" / "two lights",
    TooManyPoints { count: usize, most: usize } = "too_many_points": "{count} points are named" / "at most {most}",

    // Measurements.
    InReading = "in_reading": "the reading was taken with this in place" / "leave it out; or another reading, if it has changed since",
    DecimalOrList { text: String, decimal: String, list: String } = "decimal_or_list":
        "the comma in \"{text}\" may be a decimal comma, or separate two readings" / "\"{decimal}\", or \"{list}\"",
    MixedKinds { first: &'static str, this: &'static str } = "mixed_kinds":
        "the first reading is {first}, and this is {this}" / "readings of one kind",
    UnknownBits { bits: u32 } = "unknown_bits": "{bits} bits are not known" / "8 or 16",
    LevelBeyondBits { bits: u32, greatest: f64 } = "level_beyond_bits":
        "the level is beyond {bits} bits" / "0 to {greatest}, or \"bits\": 16",
    PointsNotRising = "points_not_rising":
        "the points do not rise" / "levels that rise by 0.01 or more, and stops by 0.001 or more",
    OtherEncoding = "other_encoding": "this differs from what the response has" / "the same, or leave it out",
    LevelsWithoutResponse = "levels_without_response":
        "levels need a response" / "a response out of patches/response, or f_number in every reading",
    ClippedLevel = "clipped_level":
        "the level is at an end of its range, where different light looks the same" / "a level in between, or no such reading",
    MixedReadings = "mixed_readings":
        "the readings are not all stated in one way" / "f_number in all readings, or level in all with a response",
    MixedFrames = "mixed_frames":
        "the exposures of the frames are not all stated in one way" / "stops in all frames, or the same of f_number, exposure_time and iso in all",
    ReferenceWithoutEnergy = "reference_without_energy":
        "the reference states no energy" / "a unit with energy, or energy itself",
    LevelToFindMissing = "level_to_find_missing":
        "frames need the level to find" / "the level of the reference's frame",
    LevelWithoutFrames = "level_without_frames":
        "a level is for frames" / "frames of the other unit, or no level",
    T01Shorter { t0_1_s: f64, t0_5_s: f64 } = "t0_1_shorter":
        "{t0_1_s} s is shorter than t0_5_s, {t0_5_s} s" / "the time above a tenth of the peak, which is the longer",
    NoMagnification = "no_magnification":
        "at this magnification there is no picture" / "0.000001 or more",

    // Guide numbers, colour and falloff.
    SettingAboveFull { stops: f64, most: f64 } = "setting_above_full":
        "a setting is 0 (full) or below, not {stops}" / "stops from -{most} to 0",
    AssumptionBesideUnit = "assumption_beside_unit":
        "a comparison with a known unit needs no such assumption" / "either this or \"against\"",
    KnownUnitIncomplete = "known_unit_incomplete":
        "the known unit states only one of energy and guide_number" / "a unit with both",
    CoverageMissing = "coverage_missing":
        "the coverage is needed" / "a coverage, as its focal_length_mm, or no light_in_coverage",
    GelAddsLight = "gel_adds_light": "a gel takes light" / "0 or less, as -1/2",
    NothingAsked { expected: &'static str } = "nothing_asked": "nothing is asked for" / "{expected}",

    // Arguments of a command.
    NoEqualsSign { text: String } = "no_equals_sign":
        "\"{text}\" has no =" / "name=value, as from=f/8, or name:=JSON",
    NoArgumentName { name: String } = "no_argument_name":
        "\"{name}\" is no name" / "a name before the =, as from, source.disc_m or lights.0.setting",
    ArgumentNotJson { error: String } = "argument_not_json": "cannot be read as JSON: {error}" / "JSON after :=",
    ArgumentRepeated = "argument_repeated": "this is given more than once" / "each name once",
    ElementBeyondEnd { name: String, count: usize } = "element_beyond_end":
        "the list has {count} elements, and none at \"{name}\"" one(count) "the list has {count} element, and none at \"{name}\"" / "a number up to {count}, for a new one; the first is 0",
}

impl Fault {
    /// A coverage beside a unit's own and in its guide number.
    pub fn coverage_stated_twice() -> Self {
        let ways = ["coverage", "coverage in guide_number"].map(str::to_owned);
        Self::Conflict { what: "the coverage", ways: ways.into() }
    }
}

/// All faults of the table.
pub fn phrases() -> Vec<Phrase> {
    let [code, detail, expected] = MALFORMED;
    let malformed = Phrase::new(code, None, [detail, expected], None, &[]);
    [Fault::PHRASES, InvalidValue::PHRASES, &[malformed]].concat()
}

impl From<InvalidValue> for Fault {
    fn from(error: InvalidValue) -> Self {
        Self::Light(error)
    }
}
