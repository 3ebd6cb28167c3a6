//! What a kit is answered: each shot with its roles, and what is missing.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    assumption::Assumption,
    id::Id,
    kit::{assign::Optimality, fit::END_TOLERANCE, lacks::Lacking, missing::Missing, summary::Summary},
    quantity::{Number, Stops, words::words},
    remark::{Caution, Warning},
    remedy::Remedy,
    set::packs::PackResult,
    uncertainty::Uncertainty,
    unit::Setting,
};

/// Whether a kit can do the shots, and what is missing.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KitCheck {
    /// Whether every role of every shot is reached: within half a click of its unit, or within a sixth of a stop beyond full or least power, or where heads of a pack cannot each have a setting of their own.
    pub feasible: bool,
    /// Whether every unit recycles within the `interval_s` of its shots; true where no interval was asked; null if it is not known for a unit, and no other is too slow.
    pub keeps_pace: Option<bool>,
    /// Whether the kit states all that the check needs.
    pub complete: bool,
    /// What entries of the kit lack. A unit whose light is not known is left out; the rest is answered.
    pub lacks: Vec<Lacking>,
    /// What its summary says.
    #[serde(skip)]
    #[schema(ignore)]
    pub summary: Summary,
    /// The shots, in the order of the request.
    pub shots: Vec<ShotResult>,
    /// Lights that the kit lacks.
    pub missing: Vec<Missing>,
    /// How the units were assigned.
    #[schema(value_type = String)]
    pub optimality: Optimality,
    /// The half-widths that were not stated and matter.
    pub assumptions: Vec<Assumption>,
    /// Warnings about the answer.
    pub warnings: Vec<Warning>,
    /// Safety cautions.
    pub cautions: Vec<Caution>,
}

/// The result for one shot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ShotResult {
    /// The shot's id from the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Whether every role is reached.
    pub feasible: bool,
    /// Whether every unit and every pack recycles within `interval_s`; true where no interval was asked; null if it is not known for a unit, and no other is too slow.
    pub keeps_pace: Option<bool>,
    /// The chance that all its roles are reached, 0 to 1, each unit at its best setting: what roles have in common, such as the rating of units of one name, counts once. Null if a role has no unit.
    pub chance_reached: Option<Number>,
    /// The roles, in the order of the request.
    pub lights: Vec<RoleResult>,
    /// The packs whose heads have roles; absent if there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub packs: Vec<PackResult>,
    /// Changes each of which would make the shot feasible; empty if it is. Each was tried by assigning the units again.
    pub remedies: Vec<Remedy>,
}

words! {
    /// Why a role is not reached.
    pub enum Miss as "RoleMiss" {
        /// Other roles of the shot need all usable units of the kit.
        NoUnitLeft = "no_unit_left",
        /// The light is too weak at full power, or as its pack is set or shared.
        TooWeak = "too_weak",
        /// The light is too strong at the least setting, or as its pack is set.
        TooStrong = "too_strong",
    }
}

/// The result for one role.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RoleResult {
    /// The role's name.
    pub role: String,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub role_id: Option<Id>,
    /// The unit's name; null if the kit has no unit left.
    pub unit: Option<String>,
    /// The id of its entry in the kit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub unit_id: Option<Id>,
    /// The setting to dial; of a head on a pack, with the energy that the head gets; null without a unit.
    pub setting: Option<Setting>,
    /// Achieved minus target, stops; positive is too bright; null without a unit.
    pub error_stops: Option<Stops>,
    /// How much more light the unit gives at full power than the target, stops; of a head, at its pack's full setting, shared as it is here; 0 if it needs full power or is too weak; null without a unit.
    pub headroom_stops: Option<Stops>,
    /// How much less light it gives at its least setting, stops; 0 if it needs that or is too strong; null without a unit.
    pub footroom_stops: Option<Stops>,
    /// The chance that the unit can reach the role, 0 to 1: that with its best setting its true light is not too weak at full power, and not too strong at its least, by more than a sixth of a stop. Heads of a pack that are set as one are reached together with the pack's best setting; if one is not reached, it is the chance at the setting that they have. Null without a unit.
    pub chance_reached: Option<Number>,
    /// Why the role is not reached; null if it is.
    pub reason: Option<Miss>,
    /// How far the light is too weak, stops: the whole difference from the target; 0 if the role is reached or the light is too strong. Without a unit (`no_unit_left`): what the strongest unit of the kit would lack here if it were free, which may be 0; `missing` has what would do.
    pub shortfall_stops: Stops,
    /// How far the light is too strong at the unit's least setting, or as its pack is set, stops: the whole difference from the target; 0 if the role is reached, has no unit, or its light is too weak.
    pub excess_stops: Stops,
    /// The uncertainty of the light: of the unit's rating, setting and repeatability, the modifier, the distance, filters, the pack, and the meter against the camera; null without a unit.
    pub uncertainty: Option<Uncertainty>,
    /// Whether the unit had another role, or none, in the shot before; false in the first shot.
    pub moved: bool,
}

/// What has less than this to spare is only just enough, stops: a third of a stop, the usual click of a camera (our
/// judgement).
pub const TIGHT_STOPS: f64 = 1.0 / 3.0;

/// A role is reached surely with this chance: beyond one of two 95 % ends there are 2.5 %.
pub const SURE: f64 = 0.975;

impl ShotResult {
    /// Whether the shot is feasible, but it is doubtful whether a role is reached.
    pub fn is_doubtful(&self) -> bool {
        self.feasible && self.lights.iter().any(RoleResult::is_doubtful)
    }
}

impl RoleResult {
    /// Whether the role is not reached.
    pub const fn is_missed(&self) -> bool {
        self.reason.is_some()
    }

    /// Whether its unit is too strong even at its least setting.
    pub fn is_too_strong(&self) -> bool {
        self.reason == Some(Miss::TooStrong)
    }

    /// Whether it is reached with little to spare, or perhaps not.
    pub fn is_tight(&self) -> bool {
        !self.is_missed()
            && (self.is_doubtful() || self.headroom_stops.is_some_and(|spare| spare.get() < TIGHT_STOPS))
    }

    /// Whether it is too strong because its pack is set for other heads.
    pub fn is_set_by_pack(&self) -> bool {
        self.is_too_strong() && self.footroom_stops.is_some_and(|stops| stops.get() > 0.0)
    }

    /// Whether it is reached, but its chance is less than that of one 95 % end.
    pub fn is_doubtful(&self) -> bool {
        !self.is_missed() && self.chance_reached.is_some_and(|chance| chance.get() < SURE)
    }

    /// How far the light of a doubtful role may be below its target at full power, at the lower 95 % end, stops.
    pub fn may_lack(&self) -> Option<f64> {
        let low = self.uncertainty.as_ref()?.low_stops.get();
        self.may_miss(self.headroom_stops, 1.0, low)
    }

    /// How far it may be above its target at the least setting, at the upper end, stops.
    pub fn may_exceed(&self) -> Option<f64> {
        let high = self.uncertainty.as_ref()?.high_stops.get();
        self.may_miss(self.footroom_stops, -1.0, -high)
    }

    /// How far a doubtful role may be beyond its target, stops, given what it has to spare on that side, and what it may
    /// lose. `None` if that is forgiven.
    fn may_miss(&self, spare: Option<Stops>, sign: f64, lost: f64) -> Option<f64> {
        let spare = spare.filter(|_| self.is_doubtful())?.get();
        // At an end of its scale it may be a little beyond and still reach.
        let missed = sign * self.error_stops.map_or(0.0, Stops::get);
        let left = if spare > 0.0 { spare } else { missed.min(0.0) } + lost;
        (left < -END_TOLERANCE).then_some(-left)
    }
}
