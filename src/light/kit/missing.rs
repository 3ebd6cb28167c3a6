//! What a kit lacks for a role: figures to ask a lender for.

use serde::Serialize;
use utoipa::ToSchema;

use super::{Role, RoleResult, Shot};
use crate::light::{
    quantity::{GuideFeet, GuideMetres, Joules, Stops},
    unit::Unit,
};

/// What a kit lacks for one role.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MissingLight)]
pub struct Missing {
    /// The shot.
    pub shot: String,
    /// The role.
    pub role: String,
    /// By how much its unit is too weak, stops; null where there is none left.
    pub shortfall_stops: Option<Stops>,
    /// Energy of a unit like it that would do, J, rounded up; null where that is not known.
    pub energy_j: Option<Joules>,
    /// Guide number that would do, m at ISO 100, rounded up.
    pub guide_number_m: Option<GuideMetres>,
    /// The same in feet, rounded up by itself.
    pub guide_number_ft: Option<GuideFeet>,
}

/// What a role lacks: a unit like its own, or any of that guide number; none where it is reached or too strongly lit.
pub fn of(shot: &Shot, role: &Role, light: &RoleResult, unit: Option<&Unit>) -> Option<Missing> {
    if !light.is_missed() || light.is_too_strong() {
        return None;
    }
    let transfer = role.placement.transfer(shot.exposure.iso).typical;
    let lack = light.error_stops.map(|error| -error.get());
    let guide = (transfer > 0.0).then(|| (role.wanted / transfer).sqrt());
    let full = unit.and_then(|unit| unit.energy);
    Some(Missing {
        shot: shot.name.clone(),
        role: role.name.clone(),
        shortfall_stops: lack.map(Stops::computed),
        energy_j: lack.zip(full).map(|(lack, full)| Joules::computed(at_least(full.get() * lack.exp2()))),
        guide_number_m: guide.map(|guide| GuideMetres::computed(at_least(guide))),
        guide_number_ft: guide
            .map(|guide| at_least(GuideFeet::of(GuideMetres::computed(guide)).get()))
            .map(GuideFeet::computed),
    })
}

/// Three digits of a need or whole numbers, the next up so that they suffice; but for the last digits of what is one.
/// Sentences and fields tell the same.
fn at_least(need: f64) -> f64 {
    let parts = match need {
        100.0.. => 1.0,
        10.0.. => 10.0,
        _ => 100.0,
    };
    (need * parts * (1.0 - 1e-9)).ceil() / parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_need_is_rounded_up() {
        let needs = [
            (181.02, "182"),
            (128.0, "128"),
            (90.51, "90.6"),
            (1.415, "1.42"),
            (6144.0 * (1.0 + 1e-12), "6144"),
            (6144.1, "6145"),
            (0.001, "0.01"),
        ];
        for (need, rounded) in needs {
            assert_eq!(at_least(need).to_string(), rounded, "{need}");
        }
    }
}
