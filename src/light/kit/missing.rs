//! Lights that a kit lacks, with figures for a rental house.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    kit::{Role, RoleResult, Shot},
    quantity::{GuideFeet, GuideMetres, Joules, Stops},
    unit::Unit,
};

/// A light that the kit lacks for one role.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MissingLight)]
pub struct Missing {
    /// The shot's name.
    pub shot: String,
    /// The role's name.
    pub role: String,
    /// How far the light is too weak, stops; 60 if no unit is left, so that there is no light at all.
    pub shortfall_stops: Stops,
    /// Always 0: a light that is too strong is no reason to borrow a unit, and is not listed.
    pub excess_stops: Stops,
    /// Whether the role has a unit.
    #[serde(skip)]
    #[schema(ignore)]
    pub has_unit: bool,
    /// Energy of a unit of the same kind that would reach, J; null if not known.
    pub energy_j: Option<Joules>,
    /// Guide number that would reach, m at ISO 100.
    pub guide_number_m: Option<GuideMetres>,
    /// The same guide number in feet.
    pub guide_number_ft: Option<GuideFeet>,
}

/// The light that a role lacks: a stronger unit of the same kind, or any unit of that guide number. `None` if the role
/// is reached or its light is too strong.
pub fn missing_light(shot: &Shot, role: &Role, light: &RoleResult, unit: Option<&Unit>) -> Option<Missing> {
    if !light.is_missed() || light.is_too_strong() {
        return None;
    }
    let transfer = role.placement.transfer(shot.exposure.iso).typical;
    let lack = light.error_stops.map(|error| -error.get());
    let guide = (transfer > 0.0).then(|| GuideMetres::new_unchecked((role.wanted / transfer).sqrt()));
    let full = unit.and_then(|unit| unit.energy);
    Some(Missing {
        shot: shot.name.clone(),
        role: role.name.clone(),
        shortfall_stops: light.shortfall_stops,
        excess_stops: light.excess_stops,
        has_unit: light.unit.is_some(),
        energy_j: lack.zip(full).map(|(lack, full)| Joules::new_unchecked(full.get() * lack.exp2())),
        guide_number_m: guide,
        guide_number_ft: guide.map(GuideFeet::of),
    })
}
