//! `/v1/supply/plan`.

use axum::response::Response;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::{
        calculation::Calculation,
        extract::Body,
        kit::{KitUnitInput, units},
    },
    light::{
        error::{self, FieldError, InvalidValue},
        interrupt::Interrupt,
        kit::KitUnit,
        quantity::constants::CHARGE_RESERVE,
        supply::{self, Circuit, PlannedShot, Question, SupplyPlan, Use},
    },
    request::{
        fields::{Amperes, Interval, PopCount, Reserve, SettingText, Volts, Watts},
        place::At,
        reader::{Item, NAME_MOST, Read, Reader, field, reads, text},
        schema::{EntryId, Name, SettingInput},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(plan_supply))
}

/// A unit at its setting.
#[derive(ToSchema)]
struct UsedUnitInput {
    /// The unit by its name in the kit, as `big` or `big #2`.
    unit: UnitName,
    /// Its setting; one out of an answer may be sent as it is.
    #[schema(value_type = SettingInput)]
    setting: SettingText,
}
reads!(UsedUnitInput { unit, setting });

impl Item for UsedUnitInput {
    const MOST: usize = 64;
    const WHAT: &'static str = "lights";
}

/// A shot whose lights are set.
#[derive(ToSchema)]
struct PlannedShotInput {
    /// Your own name for this entry, given back with its result.
    #[schema(value_type = Option<EntryId>)]
    id: Option<String>,
    /// Its name, 1 to 64 characters.
    #[schema(value_type = Name)]
    name: String,
    /// Frames that it takes; every light flashes in each. 1 if left out.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1_000_000)]
    pops: Option<PopCount>,
    /// Time from frame to frame, s; as fast as the units recycle if left out.
    seconds_between: Option<Interval>,
    /// Its lights, each unit once.
    #[schema(min_items = 1, max_items = 64)]
    lights: Vec<UsedUnitInput>,
}
reads!(PlannedShotInput { id, name, pops, seconds_between, lights });

impl Item for PlannedShotInput {
    const MOST: usize = 64;
    const WHAT: &'static str = "shots";
}

/// A circuit behind one breaker.
#[derive(ToSchema)]
struct CircuitInput {
    /// Its name, 1 to 64 characters.
    #[schema(value_type = Name)]
    name: String,
    /// Its voltage, V.
    volts: Volts,
    /// What its breaker is for, A.
    breaker_amps: Amperes,
    /// What else is on it, W, or VA where its plate says so; 0 if left out.
    other_w: Option<Watts>,
    /// The units on it, by their names in the kit.
    #[schema(min_items = 1, max_items = 64)]
    units: Vec<UnitName>,
}
reads!(CircuitInput { name, volts, breaker_amps, other_w, units });

impl Item for CircuitInput {
    const LEAST: usize = 0;
    const MOST: usize = 32;
    const WHAT: &'static str = "circuits";
}

/// The name of a unit in the kit, which may end in its number: ` #64`.
#[derive(ToSchema)]
#[schema(min_length = 1, max_length = 68)]
struct UnitName(String);

/// Characters that it may have.
const UNIT_NAME_MOST: usize = NAME_MOST + 4;

impl Read for UnitName {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        text(tree, UNIT_NAME_MOST, at, reader).map(Self)
    }
}

impl Item for UnitName {
    const MOST: usize = 64;
    const WHAT: &'static str = "names of units";
}

/// A plan: a kit, the shots that it does at which settings, and the circuits that it hangs on.
#[derive(ToSchema)]
#[expect(dead_code, reason = "stands in the OpenAPI document only; read field by field")]
struct SupplyPlanRequest {
    /// The kit, as `kit/check` takes it; the units state how they are fed: `recycle_s` or `recycle_by_setting`, `pops_per_charge` of a battery, `draw`, `duty`.
    #[schema(min_items = 1, max_items = 64)]
    kit: Vec<KitUnitInput>,
    /// The shots, in order.
    #[schema(min_items = 1, max_items = 64)]
    shots: Vec<PlannedShotInput>,
    /// The circuits; a unit that is on none is not counted.
    #[schema(max_items = 32)]
    circuits: Option<Vec<CircuitInput>>,
    /// Part of each charge that is held back, 0 to 0.9; 0.2 if left out.
    reserve: Option<Reserve>,
}

pub(crate) struct SupplyChecked(Question);

impl Read for SupplyChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        // Field by field, so that a fault in one does not hide what is wrong with names in another.
        let entries = reader.object(tree, at, &["kit", "shots", "circuits", "reserve"])?;
        let kit: Option<Vec<KitUnitInput>> = field(entries, "kit", at, reader);
        let shots: Option<Vec<PlannedShotInput>> = field(entries, "shots", at, reader);
        let circuits: Option<Option<Vec<CircuitInput>>> = field(entries, "circuits", at, reader);
        let reserve: Option<Option<Reserve>> = field(entries, "reserve", at, reader);
        let kit = units(kit?, &At::Field(at, "kit"), reader);
        let shots_at = At::Field(at, "shots");
        let shots = shots.into_iter().flatten().enumerate();
        let shots =
            shots.map(|(index, shot)| shot.check(&kit, &At::Index(&shots_at, index), reader)).collect();
        let circuits_at = At::Field(at, "circuits");
        let mut taken = Vec::new();
        let circuits = circuits.into_iter().flatten().flatten().enumerate();
        let mut names: Vec<String> = Vec::new();
        let circuits = circuits.map(|(index, circuit)| {
            let at = At::Index(&circuits_at, index);
            reader.keep_name("name", &circuit.name, &mut names, &At::Field(&at, "name"));
            circuit.check(&kit, &mut taken, &at, reader)
        });
        let circuits = circuits.collect();
        let reserve = reserve.flatten().map_or(CHARGE_RESERVE, |reserve| reserve.0);
        Some(Self(Question { kit, shots, circuits, reserve }))
    }
}

/// The unit of that name; a fault where there is none, or where it was named before.
fn unit(
    name: &str,
    kit: &[KitUnit],
    taken: &mut Vec<usize>,
    twice: &str,
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<usize> {
    let Some(unit) = kit.iter().position(|kit| kit.name == name) else {
        return reader.noted(at, || {
            let names: Vec<&str> = kit.iter().map(|kit| kit.name.as_str()).collect();
            let detail = format!("no unit of the kit is called \"{name}\"");
            InvalidValue::new(detail, format!("one of {}", error::names(&names)))
        });
    };
    if taken.contains(&unit) {
        return reader.fault(at, format!("\"{name}\" {twice}"), "each unit once");
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
            let twice = "is in this shot before";
            let Some(unit) = unit(&light.unit.0, kit, &mut taken, twice, &unit_at, reader) else { continue };
            let below = light.setting.check(&kit[unit].unit, &At::Field(&at, "setting"), reader);
            uses.extend(below.map(|below| Use { unit, below }));
        }
        PlannedShot {
            id: self.id,
            name: self.name,
            pops: self.pops.map_or(1, |pops| pops.0),
            seconds_between: self.seconds_between.map(|interval| interval.0),
            uses,
        }
    }
}

impl CircuitInput {
    fn check(self, kit: &[KitUnit], taken: &mut Vec<usize>, at: &At<'_>, reader: &mut Reader) -> Circuit {
        let units_at = At::Field(at, "units");
        let mut units = Vec::new();
        for (index, name) in self.units.iter().enumerate() {
            let twice = "is on a circuit before";
            units.extend(unit(&name.0, kit, taken, twice, &At::Index(&units_at, index), reader));
        }
        Circuit {
            name: self.name,
            volts: self.volts.0,
            breaker_amps: self.breaker_amps.0,
            other_w: self.other_w.map_or(0.0, |watts| watts.0),
            units,
        }
    }
}

impl Calculation for SupplyChecked {
    type Answer = SupplyPlan;
    // Many settings of many units in many shots.
    const HEAVY: bool = true;

    fn answer(&self, _: &dyn Interrupt) -> Result<SupplyPlan, Vec<FieldError>> {
        Ok(supply::plan(&self.0))
    }
}

/// Plan the supply
///
/// What a plan asks of the supply: whether the units recycle within the time from frame to frame, how many charges the batteries need with a reserve, what each unit and each circuit draws on the mean and at the most with all its units recycling at once, and what the heads bear against their duty limits. Where efficiency of charging or power factor are not stated, they are assumed and the answer is a range. Local code and a licensed electrician decide what a circuit may carry.
#[utoipa::path(post, path = "/v1/supply/plan", tag = "planning", request_body = SupplyPlanRequest,
    responses((status = 200, description = "What the plan needs", body = SupplyPlan), Refusals))]
async fn plan_supply(body: Body<SupplyChecked>) -> Result<Response, Problem> {
    body.answer().await
}
