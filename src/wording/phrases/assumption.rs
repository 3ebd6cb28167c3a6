//! The texts of assumptions: the value, and its source with its grade.

use std::borrow::Cow;

use crate::{
    light::{
        assumption::{Assumption, Estimated, ShareOrigin},
        quantity::{
            Stops,
            constants::{CONSTANT_C, CONSTANT_C_OTHER},
            significant,
        },
    },
    wording::format::range,
};

/// A source that is the request.
const STATED: &str = "stated by the caller";
/// The source of electrical figures that are not stated.
const DATA_SHEET: &str = "from memory, wide on purpose: the maker's data sheet knows";

/// The assumed value.
pub fn assumed_value(assumption: &Assumption) -> String {
    match assumption {
        Assumption::Efficacy { lm_per_j: values, .. }
        | Assumption::LightInCoverage { share: values, .. }
        | Assumption::ChargingEfficiency { range: values }
        | Assumption::PowerFactor { range: values } => range(*values),
        Assumption::ConstantC { constant, .. } => significant(*constant).to_string(),
        Assumption::EvenBeam => "the beam is as strong all over the coverage as on its axis".to_owned(),
        Assumption::SameKind { has_coverages } => {
            let coverages = if *has_coverages {
                "coverages as stated"
            } else {
                "equal coverages, since not both are stated"
            };
            format!("equal efficacy and the same kind of reflector; {coverages}")
        }
        Assumption::GuideNumber { light, guide_number_m } => format!("{light}: {}", range(*guide_number_m)),
        Assumption::BeamModel { light, half_power_at_deg } => {
            format!("{light}: cosine power, half at {half_power_at_deg} degrees off the axis")
        }
        Assumption::ModifierKind { light, kind } => {
            let light = light.as_ref().map_or_else(String::new, |light| format!("{light}: "));
            format!("{light}{}, {}", kind.kind.0, range(kind.stops.map(Stops::get)))
        }
        Assumption::RecycleInProportion => "in proportion to the energy of the flash".to_owned(),
        Assumption::NoToneCurve { contrast: [flat, steep] } => format!(
            "stops by the curve of the space alone; stops_range by tone curves {flat} to {steep} times as steep"
        ),
        Assumption::Repeat { plus_minus_stops, is_stated } => {
            let origin = if *is_stated { "stated" } else { "assumed" };
            format!("{} stop, 95 %, {origin}", significant(*plus_minus_stops))
        }
        Assumption::MeterDigit { is_thirds } => format!("{} stop", if *is_thirds { "1/3" } else { "0.1" }),
    }
}

/// The source of the value, with its grade.
pub fn source(assumption: &Assumption) -> Cow<'static, str> {
    match assumption {
        Assumption::Efficacy { is_stated: true, .. }
        | Assumption::LightInCoverage { origin: ShareOrigin::Stated, .. } => STATED.into(),
        Assumption::Efficacy { is_stated: false, .. } => {
            "common practice: 15 to 50 lm·s per J has been stated for xenon flash, whole unit".into()
        }
        Assumption::LightInCoverage { origin: ShareOrigin::Derived, .. } => {
            "derived: a gain is defined on all the light".into()
        }
        Assumption::LightInCoverage { origin: ShareOrigin::FromMemory, .. } => {
            "from memory, rough: share of the lamp's light inside the stated coverage".into()
        }
        Assumption::ConstantC { constant, estimated } => constant_source(*constant, *estimated).into(),
        Assumption::EvenBeam => {
            "from memory: beams fall towards the edge, so the light in the coverage is rather less".into()
        }
        Assumption::SameKind { .. } => "stated by the caller: against".into(),
        Assumption::GuideNumber { .. } => {
            "from energy and coverage: common practice for efficacy, from memory for the share in the coverage"
                .into()
        }
        Assumption::BeamModel { .. } => "a model (common practice); a measured table is better".into(),
        Assumption::ModifierKind { kind, .. } => kind.source.into(),
        Assumption::ChargingEfficiency { .. } | Assumption::PowerFactor { .. } => DATA_SHEET.into(),
        Assumption::RecycleInProportion => {
            "our assumption where one recycle time is stated; recycle_by_setting knows better".into()
        }
        Assumption::NoToneCurve { .. } => {
            "common practice, wide: rendered files have a tone curve; frames that bracket the change give the true slope (patches/response)".into()
        }
        Assumption::Repeat { is_stated: true, .. } => {
            "stated by the caller; the readings' own scatter is counted beside it".into()
        }
        Assumption::Repeat { is_stated: false, .. } => {
            "our judgement of flash units; it counts for two readings, beside the readings' own scatter".into()
        }
        Assumption::MeterDigit { .. } => {
            "by the f-numbers, which all stand on such steps; where they stand on whole stops, thirds".into()
        }
    }
}

/// The source of the constant C, and what the other constant in use would change.
fn constant_source(constant: f64, estimated: Estimated) -> String {
    let source = if (constant - CONSTANT_C).abs() < 1e-9 {
        "published: ISO 2720:1974, flat receptor, 250 in common use"
    } else {
        STATED
    };
    // Energy is proportional to C, the square of the guide number to 1/C.
    let is_greater = CONSTANT_C_OTHER > constant;
    let (what, is_more) = match estimated {
        Estimated::Energy => ("energy", is_greater),
        Estimated::GuideNumber => ("guide number", !is_greater),
    };
    format!(
        "{source}; not in the range: by the second constant in use ({CONSTANT_C_OTHER:.1}, from memory) the {what} would be {:.2} stop {}",
        (constant / CONSTANT_C_OTHER).log2().abs(),
        if is_more { "more" } else { "less" }
    )
}
