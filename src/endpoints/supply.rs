//! `/v1/supply/plan`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw},
        extract::Body,
        kit::{KitUnitInput, units},
    },
    light::{
        error::InvalidPart,
        id::Id,
        interrupt::Interrupt,
        kit::KitUnit,
        quantity::{Stops, constants::CHARGE_RESERVE},
        set::packs::check_taken,
        supply::{
            self, Bank, Circuit, Device, Evidence, PackUse, PlannedShot, Rating, SupplyPlan, SupplyQuestion,
            Use,
        },
        unit::{pack::Pack, scale::Scale},
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{
            self, Amperes, FrameCount, Interval, PackEntry, PowerFactor, Reserve, SettingText, UseHours,
            VoltAmperes, Volts, Watts, begin_packs, outlet_faults,
        },
        options::Options,
        place::At,
        reader::{
            Read, Reader,
            lists::{Item, Partly},
            values::{EntryName, MAX_NAME_CHARS, entry_name},
        },
        references::{self, find},
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
        /// Its setting; a setting from an answer is accepted unchanged. Full power if left out, or that of the other heads on its pack.
        setting: Option<SettingText>,
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
    /// A device on a circuit that draws the same power all the time: a lamp, a computer, a fan.
    struct DeviceInput {
        /// Your own id for this entry, returned with its name.
        id: Option<Id>,
        /// Its name, 1 to 64 characters; if left out, the text of its `id`, or `device 1` and so on.
        name: Option<String> as Name,
        /// Its power, W.
        watts: Watts,
        /// Its watts divided by its volt-amperes; 1, or down to 0.7, if left out.
        power_factor: Option<PowerFactor>,
    }
}

impl Item for DeviceInput {
    const MIN: usize = 0;
    const MAX: usize = 64;
    const PLURAL: &'static str = "devices";
}

request! {
    /// A circuit, and what limits it: exactly one of `breaker_a` and `generator_va`.
    struct CircuitInput {
        /// Your own id for this entry, returned with its result.
        id: Option<Id>,
        /// Its name, 1 to 64 characters; if left out, the text of its `id`, or `circuit 1` and so on.
        name: Option<String> as Name,
        /// Its voltage, V.
        volts: Volts,
        /// Rated current of its breaker, A.
        breaker_a: Option<Amperes>,
        /// For a generator: the apparent power that it gives all the time, VA.
        generator_va: Option<VoltAmperes>,
        /// Other load on it, W, or VA if that is what the rating plate states; 0 if left out.
        other_w: Option<Watts>,
        /// The devices on it.
        devices: Option<Vec<DeviceInput>>,
        /// The units on it, by their names in the kit. Any head of a pack stands for the pack.
        units: Option<Vec<UnitName>>,
        /// The packs on it, by their names.
        packs: Option<Vec<PackName>>,
    }
    exactly one of "the limit of the circuit": breaker_a | generator_va
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

/// The name of a pack.
struct PackName(EntryName);

looks_like!(UnitName as EntryNameInput, PackName as EntryNameInput);

impl Read for PackName {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        EntryName::read(value, at, reader).map(Self)
    }
}

impl Item for PackName {
    const MAX: usize = PackEntry::MAX;
    const PLURAL: &'static str = "names of packs";
}

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
    /// A plan: a kit, its shots with their settings, and the circuits that power it; or circuits alone, with what is on them.
    struct SupplyPlanRequest {
        /// The packs that heads of the kit are on. A pack recycles and draws for all its heads, by their energy together.
        packs: Option<Vec<PackEntry>>,
        /// The kit, as in `/v1/kit/check`; it may be left out if no unit is named. The units state their supply: `recycle_s` or `recycle_by_setting`, `flashes_per_charge` of a battery, `draw`, `duty`.
        kit: Option<Vec<KitUnitInput>>,
        /// The shots, in order. Left out where circuits are asked about: the units on them are then at full power, and recycle all at once.
        shots: Partly<Option<Vec<PlannedShotInput>>>,
        /// The circuits; a unit on none of them is not counted.
        circuits: Partly<Option<Vec<CircuitInput>>>,
        /// Fraction of each charge kept in reserve, 0 to 0.9; 0.2 if left out.
        reserve: Partly<Option<Reserve>>,
        /// How long the circuits are in use, h, for the energy that they draw.
        hours: Partly<Option<UseHours>>,
    }
}

impl Read for SupplyQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        begin_packs(value, reader);
        let request = SupplyPlanRequest::read(value, at, reader)?;
        request.check_parts(at, reader)?;
        let SupplyPlanRequest { packs, kit, shots, circuits, reserve, hours } = request;
        let packs = fields::packs(packs);
        let kit = units(kit.unwrap_or_default(), &At::Field(at, "kit"), reader);
        let shots_at = At::Field(at, "shots");
        let shots = shots.0.into_iter().flatten().flatten().enumerate();
        let shots = shots
            .map(|(index, shot)| shot.check(&packs, &kit, &At::Index(&shots_at, index), reader))
            .collect();
        let circuits_at = At::Field(at, "circuits");
        let mut taken = OnCircuits::default();
        let circuits = circuits.0.into_iter().flatten().flatten().enumerate();
        let mut names: Vec<String> = Vec::new();
        let circuits = circuits.filter_map(|(index, circuit)| {
            let at = At::Index(&circuits_at, index);
            let name_at = At::Field(&at, "name");
            let name = references::name_or_id(circuit.name.clone(), circuit.id.as_ref());
            let name = name.unwrap_or_else(|| format!("circuit {}", index + 1));
            reader.check_unique(&name, &mut names, &name_at);
            circuit.check(name, (&packs, &kit), &mut taken, &at, reader)
        });
        let circuits = circuits.collect();
        let reserve = reserve.0.flatten().map_or(CHARGE_RESERVE, |reserve| reserve.0);
        let hours = hours.0.flatten().map(|hours| hours.0);
        Some(Self { packs, kit, shots, circuits, reserve, hours })
    }
}

impl SupplyPlanRequest {
    /// Checks that something is asked, and that there is a kit where units are named.
    fn check_parts(&self, at: &At<'_>, reader: &mut Reader) -> Option<()> {
        let circuits = || self.circuits.0.iter().flatten().flatten();
        let has_shots = !matches!(self.shots, Partly(Some(None)));
        // A list that could not be read counts as one.
        if !has_shots
            && matches!(&self.circuits.0, Some(circuits) if circuits.as_ref().is_none_or(Vec::is_empty))
        {
            let expected = format!("{}, or circuits", Vec::<PlannedShotInput>::expected());
            reader.push_fault::<()>(&At::Field(at, "shots"), Fault::Missing { expected });
        }
        let names_units = has_shots || circuits().any(|circuit| circuit.units.is_some());
        if names_units && self.kit.is_none() {
            let expected = Vec::<KitUnitInput>::expected();
            return reader.push_fault(&At::Field(at, "kit"), Fault::Missing { expected });
        }
        Some(())
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
    let unit = find(name, "unit of the kit", kit.iter().map(|kit| kit.name.as_str()), at, reader)?;
    if taken.contains(&unit) {
        return reader.push_fault_with(at, || twice(name.to_owned()));
    }
    taken.push(unit);
    Some(unit)
}

impl PlannedShotInput {
    fn check(self, packs: &[Pack], kit: &[KitUnit], at: &At<'_>, reader: &mut Reader) -> PlannedShot {
        let lights_at = At::Field(at, "lights");
        let mut taken = Vec::new();
        let mut lights = Vec::new();
        for (index, light) in self.lights.into_iter().enumerate() {
            let at = At::Index(&lights_at, index);
            let unit_at = At::Field(&at, "unit");
            let twice = |name| Fault::UnitInShotBefore { name };
            let Some(unit) = find_unit(&light.unit.0, kit, &mut taken, twice, &unit_at, reader) else {
                continue;
            };
            let below = match &light.setting {
                Some(setting) => {
                    let below = setting.check(&kit[unit].unit, &At::Field(&at, "setting"), reader);
                    if below.is_none() {
                        continue;
                    }
                    below
                }
                None => None,
            };
            lights.push(UsedUnit { index, unit, below });
        }
        for (index, pack) in packs.iter().enumerate() {
            check_heads(index, pack, kit, &mut lights, &lights_at, reader);
        }
        let uses: Vec<Use> = lights
            .iter()
            .map(|light| Use { unit: light.unit, below: light.below.unwrap_or(Stops::ZERO) })
            .collect();
        let used = PackUse::of(packs, kit, &uses);
        for PackUse { pack, below } in &used {
            let pack = &packs[*pack];
            reader.checked(&lights_at, check_taken(pack, Scale::energy_at(pack.energy, *below).get()));
        }
        let name = references::named(self.name, self.id.as_ref(), &At::Field(at, "name"), reader);
        PlannedShot {
            id: self.id,
            name: name.unwrap_or_default(),
            frames: self.frames.map_or(1, |frames| frames.0),
            interval_s: self.interval_s.map(|interval| interval.0),
            uses,
            packs: used,
        }
    }
}

/// A light of a shot: its index there, its unit, and its setting if it states one.
struct UsedUnit {
    index: usize,
    unit: usize,
    below: Option<Stops>,
}

/// Checks the outlets of the heads on a pack, and gives them their common setting if the pack has one.
fn check_heads(
    index: usize,
    pack: &Pack,
    kit: &[KitUnit],
    lights: &mut [UsedUnit],
    at: &At<'_>,
    reader: &mut Reader,
) {
    let mut heads: Vec<&mut UsedUnit> =
        lights.iter_mut().filter(|light| kit[light.unit].unit.is_on(index)).collect();
    let outlet = |unit: usize| kit[unit].unit.head.and_then(|head| head.outlet);
    let plugged: Vec<_> =
        heads.iter().map(|head| (kit[head.unit].name.as_str(), outlet(head.unit))).collect();
    for (nth, fault) in outlet_faults(pack, &plugged) {
        reader.push_fault::<()>(&At::Field(&At::Index(at, heads[nth].index), "unit"), fault);
    }
    let common = heads.iter().find_map(|head| head.below).filter(|_| pack.is_set_as_one());
    let Some(common) = common else { return };
    for head in &mut heads {
        let own = *head.below.get_or_insert(common);
        if (own.get() - common.get()).abs() > 1e-9 {
            let ways = [common, own].map(|below| pack.scale.label(below)).into();
            let fault = Fault::Conflict { what: "the setting of a pack", ways };
            reader.push_fault::<()>(&At::Field(&At::Index(at, head.index), "setting"), fault);
        }
    }
}

/// What is on circuits so far.
#[derive(Default)]
struct OnCircuits {
    units: Vec<usize>,
    packs: Vec<usize>,
}

impl CircuitInput {
    fn check(
        self,
        name: String,
        (packs, kit): (&[Pack], &[KitUnit]),
        before: &mut OnCircuits,
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Option<Circuit> {
        let (units_at, packs_at) = (At::Field(at, "units"), At::Field(at, "packs"));
        let (mut units, mut banks) = (Vec::new(), Vec::new());
        let mut add = |pack: usize, at: &At<'_>, reader: &mut Reader| {
            let bank = Bank::Pack(pack);
            if before.packs.contains(&pack) {
                let fault = || Fault::PackOnCircuitBefore { pack: packs[pack].name.clone() };
                reader.push_fault_with::<()>(at, fault);
            } else if !banks.contains(&bank) {
                banks.push(bank);
            }
        };
        for (index, PackName(EntryName(name))) in self.packs.iter().flatten().enumerate() {
            let at = At::Index(&packs_at, index);
            let names = packs.iter().map(|pack| pack.name.as_str());
            if let Some(pack) = find(name, "pack", names, &at, reader) {
                add(pack, &at, reader);
            }
        }
        for (index, name) in self.units.iter().flatten().enumerate() {
            let at = At::Index(&units_at, index);
            let twice = |name| Fault::UnitOnCircuitBefore { name };
            let Some(unit) = find_unit(&name.0, kit, &mut before.units, twice, &at, reader) else { continue };
            units.push(unit);
            if let Some(head) = kit[unit].unit.head {
                add(head.pack, &at, reader);
            }
        }
        before.packs.extend(banks.iter().filter_map(|bank| match bank {
            Bank::Pack(pack) => Some(*pack),
            Bank::Unit(_) => None,
        }));
        let own = units.iter().filter(|&&unit| kit[unit].unit.head.is_none()).map(|&unit| Bank::Unit(unit));
        let banks = own.chain(banks).collect();
        let generator = || self.generator_va.map(|generator| Rating::Generator(generator.0));
        let breaker = self.breaker_a.map(|breaker| Rating::Breaker(breaker.0));
        let devices = self.devices.into_iter().flatten().enumerate();
        Some(Circuit {
            id: self.id,
            name,
            volts: self.volts.0,
            // One of them; a request with neither was refused by the reader.
            rating: breaker.or_else(generator)?,
            other_w: self.other_w.map_or(0.0, |watts| watts.0),
            devices: devices.map(|(index, device)| device.named(index)).collect(),
            units,
            banks,
        })
    }
}

impl DeviceInput {
    fn named(self, index: usize) -> Device {
        let name = references::name_or_id(self.name, self.id.as_ref());
        Device {
            id: self.id,
            name: name.unwrap_or_else(|| format!("device {}", index + 1)),
            watts: self.watts.0,
            power_factor: self.power_factor.map(|factor| factor.0),
        }
    }
}

impl Calculation for SupplyQuestion {
    type Answer = SupplyPlan;
    const OPTIONS: Options = Options::MARKS_DRAWN;
    // It may have many settings of many units in many shots.
    const HEAVY: bool = true;
    const PICTURE: Option<Draw<Self, SupplyPlan>> =
        Some(|question, answer, width| drawing::supply(answer, &Evidence::of(question), width));

    fn answer(&self, _: &dyn Interrupt) -> Result<SupplyPlan, Vec<InvalidPart>> {
        Ok(supply::plan(self))
    }
}

/// Plan the supply
///
/// What a plan needs from its power supply, or how much a circuit carries: whether the units recycle within the time between frames, how many charges the batteries need with a reserve, the mean draw of each unit and each circuit and its maximum with all units recycling at once, and the load of the heads relative to their duty limits. Heads on a pack recycle and draw with it: one recycle time by their energy together, one draw and one battery. A charging efficiency, power factor or modelling lamp that is not stated is assumed, and the answer is then a range; where such a lamp decides, the verdict on a circuit is `unknown`. A circuit may have a breaker or a generator, and devices beside units. Without shots, the units on circuits are at full power and recycle all at once; without units no kit is needed: `volts`, `breaker_a` and the watts of the devices are enough. `hours` gives the energy that each circuit draws. Local code and a licensed electrician decide what a circuit may carry.
#[utoipa::path(post, path = "/v1/supply/plan", tag = "planning", request_body = SupplyPlanRequest,
    responses((status = 200, description = "What the plan needs", body = SupplyPlan)))]
async fn plan_supply(body: Body<SupplyQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
