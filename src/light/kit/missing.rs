//! Lights that a kit lacks, with figures for a rental house.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    id::Id,
    kit::{
        answer::{Miss, RoleResult},
        question::{Role, Shot},
    },
    quantity::{GuideFeet, GuideMetres, Joules, Stops},
};

/// A light that the kit lacks for one role.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[schema(as = MissingLight)]
pub struct Missing {
    /// The shot's name.
    pub shot: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub shot_id: Option<Id>,
    /// The role's name.
    pub role: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub role_id: Option<Id>,
    /// Why the role is not reached: `too_weak` or `no_unit_left`.
    pub reason: Miss,
    /// How far the light is too weak, stops; if no unit is left, what the strongest unit of the kit would lack here if it were free.
    pub shortfall_stops: Stops,
    /// Always 0: a light that is too strong is no reason to borrow a unit, and is not listed.
    pub excess_stops: Stops,
    /// Whether the role has a unit.
    #[serde(skip)]
    #[schema(ignore)]
    pub has_unit: bool,
    /// Energy of a unit of the same kind that would reach, J; null if not known, or for a head on a pack.
    pub energy_j: Option<Joules>,
    /// Guide number that would reach, m at ISO 100; null if units like it state none.
    pub guide_number_m: Option<GuideMetres>,
    /// The same guide number in feet, or null.
    pub guide_number_ft: Option<GuideFeet>,
}

/// The light that a role lacks: a stronger unit of the same kind, or any unit of that guide number. `None` if the role
/// is reached or its light is too strong. `full` is the energy of its unit at full power.
pub fn missing_light(shot: &Shot, role: &Role, light: &RoleResult, full: Option<Joules>) -> Option<Missing> {
    let reason = light.reason.filter(|reason| *reason != Miss::TooStrong)?;
    let transfer = role.transfer(shot);
    let lack = light.error_stops.map(|error| -error.get());
    let guide = (transfer > 0.0).then(|| GuideMetres::new_unchecked((role.wanted(shot) / transfer).sqrt()));
    Some(Missing {
        shot: shot.name.clone(),
        shot_id: shot.id.clone(),
        role: role.name.clone(),
        role_id: role.id.clone(),
        reason,
        shortfall_stops: light.shortfall_stops,
        excess_stops: light.excess_stops,
        has_unit: light.unit.is_some(),
        energy_j: lack.zip(full).map(|(lack, full)| Joules::new_unchecked(full.get() * lack.exp2())),
        guide_number_m: guide,
        guide_number_ft: guide.map(GuideFeet::of),
    })
}
