//! What a kit lacks for a role: figures to ask a lender for.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    kit::{Role, RoleResult, Shot},
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
    /// How far it is too weak, stops; 60 where no unit is left, which is no light at all.
    pub shortfall_stops: Stops,
    /// 0: what is too strong is no reason to borrow, and is not listed.
    pub excess_stops: Stops,
    /// Whether it has a unit.
    #[serde(skip)]
    #[schema(ignore)]
    pub has_unit: bool,
    /// Energy of a unit like it that would do, J; null where that is not known.
    pub energy_j: Option<Joules>,
    /// Guide number that would do, m at ISO 100.
    pub guide_number_m: Option<GuideMetres>,
    /// The same in feet.
    pub guide_number_ft: Option<GuideFeet>,
}

/// What a role lacks: a unit like its own, or any of that guide number; none where it is reached or too strongly lit.
pub fn of(shot: &Shot, role: &Role, light: &RoleResult, unit: Option<&Unit>) -> Option<Missing> {
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
