//! `/v1/supply/plan`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    endpoints::{
        calculation::Calculation,
        extract::Body,
        kit::{KitUnitInput, units},
    },
    light::{
        error::{InvalidPart, InvalidValue},
        id::Id,
        interrupt::Interrupt,
        kit::KitUnit,
        quantity::constants::CHARGE_RESERVE,
        supply::{self, Circuit, PlannedShot, SupplyPlan, SupplyQuestion, Use},
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{Amperes, FrameCount, Interval, Reserve, SettingText, Volts, Watts},
        place::At,
        reader::{
            Read, Reader,
            lists::{Item, Partly},
            values::{MAX_NAME_CHARS, entry_name},
        },
        references,
        schema::{EntryNameInput, Name},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(plan_supply))
}

request! {
    /// A unit and its setting.
    struct UsedUnitInput {
        /// The unit, by its name in the kit, such as `big` or `big #2`.
        unit: UnitName,
        /// Its setting; a setting from an answer is accepted unchanged.
        setting: SettingText,
    }
}

impl Item for UsedUnitInput {
    const MAX: usize = 64;
    const PLURAL: &'static str = "lights";
}

request! {
    /// A shot whose settings are known.
    struct PlannedShotInput {
        /// Your own id for this entry, returned with its result.
        id: Option<Id>,
        /// Its name, 1 to 64 characters; the text of its `id` if left out.
        name: Option<String> as Name,
        /// Number of frames; every light flashes in each. 1 if left out.
        frames: Option<FrameCount>,
        /// Time between frames, s; as fast as the units recycle if left out.
        interval_s: Option<Interval>,
        /// Its lights, each unit at most once.
        lights: Vec<UsedUnitInput>,
    }
}

impl Item for PlannedShotInput {
    const MAX: usize = 64;
    const PLURAL: &'static str = "shots";
}

request! {
    /// A circuit with its breaker.
    struct CircuitInput {
        /// Your own id for this entry, returned with its result.
        id: Option<Id>,
        /// Its name, 1 to 64 characters; the text of its `id` if left out.
        name: Option<String> as Name,
        /// Its voltage, V.
        volts: Volts,
        /// Rated current of its breaker, A.
        breaker_a: Amperes,
        /// Other load on it, W, or VA if that is what the rating plate states; 0 if left out.
        other_w: Option<Watts>,
        /// The units on it, by their names in the kit.
        units: Vec<UnitName>,
    }
}

impl Item for CircuitInput {
    const MIN: usize = 0;
    const MAX: usize = 32;
    const PLURAL: &'static str = "circuits";
}

/// The name of a unit in the kit, which may end in a number such as ` #64`.
struct UnitName(String);

/// Maximum number of characters in it.
const MAX_UNIT_NAME_CHARS: usize = MAX_NAME_CHARS + 4;

looks_like!(UnitName as EntryNameInput);

impl Read for UnitName {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        entry_name(value, MAX_UNIT_NAME_CHARS, at, reader).map(Self)
    }
}

impl Item for UnitName {
    const MAX: usize = 64;
    const PLURAL: &'static str = "names of units";
}

request! {
    /// A plan: a kit, its shots with their settings, and the circuits that power it.
    struct SupplyPlanRequest {
        /// The kit, as in `/v1/kit/check`. The units state their supply: `recycle_s` or `recycle_by_setting`, `flashes_per_charge` of a battery, `draw`, `duty`.
        kit: Vec<KitUnitInput>,
        /// The shots, in order.
        shots: Partly<Vec<PlannedShotInput>>,
        /// The circuits; a unit on none of them is not counted.
        circuits: Partly<Option<Vec<CircuitInput>>>,
        /// Fraction of each charge kept in reserve, 0 to 0.9; 0.2 if left out.
        reserve: Partly<Option<Reserve>>,
    }
}

impl Read for SupplyQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let SupplyPlanRequest { kit, shots, circuits, reserve } = SupplyPlanRequest::read(value, at, reader)?;
        let kit = units(kit, &At::Field(at, "kit"), reader);
        let shots_at = At::Field(at, "shots");
        let shots = shots.0.into_iter().flatten().enumerate();
        let shots =
            shots.map(|(index, shot)| shot.check(&kit, &At::Index(&shots_at, index), reader)).collect();
        let circuits_at = At::Field(at, "circuits");
        let mut taken = Vec::new();
        let circuits = circuits.0.into_iter().flatten().flatten().enumerate();
        let mut names: Vec<String> = Vec::new();
        let circuits = circuits.map(|(index, circuit)| {
            let at = At::Index(&circuits_at, index);
            let name_at = At::Field(&at, "name");
            let name = references::named(circuit.name.clone(), circuit.id.as_ref(), &name_at, reader);
            let name = name.unwrap_or_default();
            reader.check_unique(&name, &mut names, &name_at);
            circuit.check(name, &kit, &mut taken, &at, reader)
        });
        let circuits = circuits.collect();
        let reserve = reserve.0.flatten().map_or(CHARGE_RESERVE, |reserve| reserve.0);
        Some(Self { kit, shots, circuits, reserve })
    }
}

/// Finds a unit by name. A fault if there is none, or `twice` if it is already in `taken`.
fn find_unit(
    name: &str,
    kit: &[KitUnit],
    taken: &mut Vec<usize>,
    twice: fn(String) -> Fault,
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<usize> {
    let Some(unit) = kit.iter().position(|kit| kit.name == name) else {
        return reader.push_fault_with(at, || {
            let known = kit.iter().map(|kit| kit.name.clone()).collect();
            InvalidValue::UnknownName { what: "unit of the kit", name: name.to_owned(), known }.into()
        });
    };
    if taken.contains(&unit) {
        return reader.push_fault_with(at, || twice(name.to_owned()));
    }
    taken.push(unit);
    Some(unit)
}

impl PlannedShotInput {
    fn check(self, kit: &[KitUnit], at: &At<'_>, reader: &mut Reader) -> PlannedShot {
        let lights_at = At::Field(at, "lights");
        let mut taken = Vec::new();
        let mut uses = Vec::new();
        for (index, light) in self.lights.into_iter().enumerate() {
            let at = At::Index(&lights_at, index);
            let unit_at = At::Field(&at, "unit");
            let twice = |name| Fault::UnitInShotBefore { name };
            let Some(unit) = find_unit(&light.unit.0, kit, &mut taken, twice, &unit_at, reader) else {
                continue;
            };
            let below = light.setting.check(&kit[unit].unit, &At::Field(&at, "setting"), reader);
            uses.extend(below.map(|below| Use { unit, below }));
        }
        let name = references::named(self.name, self.id.as_ref(), &At::Field(at, "name"), reader);
        PlannedShot {
            id: self.id,
            name: name.unwrap_or_default(),
            frames: self.frames.map_or(1, |frames| frames.0),
            interval_s: self.interval_s.map(|interval| interval.0),
            uses,
        }
    }
}

impl CircuitInput {
    fn check(
        self,
        name: String,
        kit: &[KitUnit],
        taken: &mut Vec<usize>,
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Circuit {
        let units_at = At::Field(at, "units");
        let mut units = Vec::new();
        for (index, name) in self.units.iter().enumerate() {
            let twice = |name| Fault::UnitOnCircuitBefore { name };
            units.extend(find_unit(&name.0, kit, taken, twice, &At::Index(&units_at, index), reader));
        }
        Circuit {
            id: self.id,
            name,
            volts: self.volts.0,
            breaker_a: self.breaker_a.0,
            other_w: self.other_w.map_or(0.0, |watts| watts.0),
            units,
        }
    }
}

impl Calculation for SupplyQuestion {
    type Answer = SupplyPlan;
    // It may have many settings of many units in many shots.
    const HEAVY: bool = true;

    fn answer(&self, _: &dyn Interrupt) -> Result<SupplyPlan, Vec<InvalidPart>> {
        Ok(supply::plan(self))
    }
}

/// Plan the supply
///
/// What a plan needs from its power supply: whether the units recycle within the time between frames, how many charges the batteries need with a reserve, the mean draw of each unit and each circuit and its maximum with all units recycling at once, and the load of the heads relative to their duty limits. A charging efficiency, power factor or modelling lamp that is not stated is assumed, and the answer is then a range; where such a lamp decides, the verdict on a circuit is `unknown`. Local code and a licensed electrician decide what a circuit may carry.
#[utoipa::path(post, path = "/v1/supply/plan", tag = "planning", request_body = SupplyPlanRequest,
    responses((status = 200, description = "What the plan needs", body = SupplyPlan)))]
async fn plan_supply(body: Body<SupplyQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
