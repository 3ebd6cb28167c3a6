//! `/v1/kit/check` and `/v1/kit/compare`.

use std::collections::BTreeSet;

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw, patches_of},
        extract::Body,
    },
    light::{
        error::{InvalidPart, InvalidValue},
        id::Id,
        interrupt::Interrupt,
        kit::{
            self, KitCheck, KitComparison, KitQuestion, KitUnit, MAX_UNITS, NamedKit, Role, RoleTarget, Shot,
        },
        quantity::{FNumber, Stops},
        remedy::Patch,
        set::{
            filter::Filter,
            lens::Lens,
            limits::Limits,
            modifier::Modifier,
            placement::{Placement, Source},
        },
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{
            Count, DistanceWithin, ExposureInput, FocalLength, FrameCount, Interval, LensInput, PackEntry,
            Pops, Price, StockUnit, begin_packs, packs, zoomed_if_stated,
        },
        options::Options,
        place::At,
        reader::{Read, Reader, lists::Item},
        references,
        schema::Name,
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(check_kit)).routes(routes!(compare_kits))
}

request! {
    /// A unit in the kit.
    pub(crate) struct KitUnitInput {
        /// Your own id for this entry, returned wherever its units are named.
        id: Option<Id>,
        /// The unit. One that lacks what is needed is left out, and listed in `lacks`; an energy alone does not give the light at a distance. The answer uses its name, or the text of its `id`, or `unit 1` and so on.
        unit: StockUnit,
        /// The zoom of its head, mm: a table of guide numbers is read there, and it is the coverage of a unit that states none.
        zoom_mm: Option<FocalLength>,
        /// How many of this unit the kit has; 1 if left out. Three are called `big`, `big #2`, `big #3`.
        count: Option<Count>,
    }
}

impl Item for KitUnitInput {
    const MAX: usize = MAX_UNITS;
    const PLURAL: &'static str = "units";
}

request! {
    /// A light in a role, with its target: at most one of `f_number` and `stops`; the working exposure if both are left out.
    struct RoleInput {
        /// Your own id for this entry, returned wherever the role is named.
        id: Option<Id>,
        /// The role, such as `key`; unique in the shot; the text of its `id` if left out.
        role: Option<String> as Name,
        /// What would be set on the lens for this light alone.
        f_number: Option<FNumber>,
        /// The same in stops relative to the working exposure.
        stops: Option<Stops>,
        /// Distance from the light to the subject; with how far it may be off at 95 % as text, such as "2 m ±3 cm".
        distance: DistanceWithin,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        modifier_stops: Option<Modifier>,
        /// The face of its modifier. The finite-source factor is then applied as well.
        source: Option<Source>,
        /// Filters on it.
        filters: Option<Vec<Filter>>,
        /// Flashes per exposure; 1 if left out.
        pops: Option<Pops>,
    }
    at most one of "the light wanted": f_number | stops
}

impl Item for RoleInput {
    const MAX: usize = 16;
    const PLURAL: &'static str = "lights";
}

request! {
    /// A shot.
    struct ShotInput {
        /// Your own id for this entry, returned with its result.
        id: Option<Id>,
        /// Its name, 1 to 64 characters; the text of its `id` if left out.
        name: Option<String> as Name,
        /// Its exposure.
        exposure: ExposureInput,
        /// What the lens takes from the light.
        lens: Option<LensInput>,
        /// Its lights; each is served by a single unit.
        lights: Vec<RoleInput>,
        /// Number of frames, for units whose battery charge is known; 1 if left out.
        frames: Option<FrameCount>,
        /// Time between frames, s, for units whose recycle time is known. If `frames` is left out, any number of frames is assumed; with `frames` 1 there is no wait.
        interval_s: Option<Interval>,
    }
}

looks_like!(Shot as ShotInput);

impl Read for Shot {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ShotInput::read(value, at, reader)?;
        let (exposure, shutter) = (input.exposure.flash(), input.exposure.shutter());
        let lights_at = At::Field(at, "lights");
        let mut roles: Vec<Role> = Vec::new();
        let mut names: Vec<String> = Vec::new();
        for (index, light) in input.lights.into_iter().enumerate() {
            let at = At::Index(&lights_at, index);
            let role_at = At::Field(&at, "role");
            let name = references::named(light.role.clone(), light.id.as_ref(), &role_at, reader);
            if let Some(name) = name {
                reader.check_unique(&name, &mut names, &role_at);
                roles.extend(light.check(name));
            }
        }
        let lens = match input.lens {
            Some(lens) => lens.check(&At::Field(at, "lens"), reader),
            None => Lens::default(),
        };
        let name = references::named(input.name, input.id.as_ref(), &At::Field(at, "name"), reader)?;
        let is_single = input.frames.is_some_and(|frames| frames.0 == 1);
        Some(Self {
            id: input.id,
            name,
            exposure,
            shutter,
            lens,
            roles,
            frames: input.frames.map_or(1, |frames| frames.0),
            interval_s: input.interval_s.filter(|_| !is_single).map(|interval| interval.0),
        })
    }

    fn expected() -> String {
        ShotInput::expected()
    }
}

impl Item for Shot {
    const MAX: usize = 64;
    const PLURAL: &'static str = "shots";
}

impl RoleInput {
    /// `None` if it does not state one light, which the reader has refused.
    fn check(self, name: String) -> Option<Role> {
        let target = match (self.f_number, self.stops) {
            (Some(f_number), None) => RoleTarget::FNumber(f_number),
            (None, stops) => RoleTarget::Stops(stops.unwrap_or(Stops::ZERO)),
            _ => return None,
        };
        let DistanceWithin { distance, within } = self.distance;
        let mut placement = Placement::at(distance);
        placement.sure.distance = within;
        placement.source = self.source;
        if let Some(modifier) = self.modifier_stops {
            placement.modifier = modifier.stops();
            placement.kind = modifier.kind();
        }
        Some(Role {
            name,
            id: self.id,
            target,
            pops: self.pops.map_or(1, |pops| pops.0),
            placement,
            filters: self.filters.unwrap_or_default(),
        })
    }
}

/// Adds a fault at each shot without a time that a unit of these kits needs: a lamp its exposure time, high-speed sync the
/// sync time.
fn check_times<'k>(
    kit: &(impl Iterator<Item = &'k KitUnit> + Clone),
    shots: &[Shot],
    at: &At<'_>,
    reader: &mut Reader,
) {
    let shots_at = At::Field(at, "shots");
    for (index, shot) in shots.iter().enumerate() {
        let at = At::Index(&shots_at, index);
        let at = At::Field(&at, "exposure");
        if let Some(lacking) = kit.clone().find_map(|kit| kit.unit.through(shot.shutter).err()) {
            let at = At::Field(&at, lacking.field());
            reader.push_fault::<()>(&at, InvalidValue::from(lacking));
        }
    }
}

/// The units of a kit one by one, each with a unique name.
pub(crate) fn units(kit: Vec<KitUnitInput>, at: &At<'_>, reader: &mut Reader) -> Vec<KitUnit> {
    let mut units: Vec<KitUnit> = Vec::new();
    let mut names = BTreeSet::new();
    let mut total = 0;
    for (index, entry) in kit.into_iter().enumerate() {
        let Some(unit) = zoomed_if_stated(entry.unit.0, entry.zoom_mm, &At::Index(at, index), reader) else {
            continue;
        };
        let name = references::name_or_id(unit.name.clone(), entry.id.as_ref());
        let name = name.unwrap_or_else(|| format!("unit {}", index + 1));
        total += entry.count.map_or(1, |count| count.0 as usize);
        // Units over the limit are counted only.
        for _ in units.len()..total.min(MAX_UNITS) {
            // The first unused name: its own, then `name #2` and so on.
            let mut called = name.clone();
            let mut count = 1;
            while !names.insert(called.clone()) {
                count += 1;
                called = format!("{name} #{count}");
            }
            units.push(KitUnit { name: called, id: entry.id.clone(), unit: unit.clone(), entry: index });
        }
    }
    if total > MAX_UNITS {
        reader.push_fault::<()>(at, Fault::TooManyUnits { count: total, most: MAX_UNITS });
    }
    units
}

request! {
    /// A kit, and the shots to do with it.
    struct KitCheckRequest {
        /// The packs that heads of the kit are on.
        packs: Option<Vec<PackEntry>>,
        /// The kit.
        kit: Vec<KitUnitInput>,
        /// The shots, in order.
        shots: Vec<Shot>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
}

impl Read for KitQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        begin_packs(value, reader);
        let input = KitCheckRequest::read(value, at, reader)?;
        let kit = units(input.kit, &At::Field(at, "kit"), reader);
        check_times(&kit.iter(), &input.shots, at, reader);
        Some(Self {
            kit,
            packs: packs(input.packs),
            shots: input.shots,
            limits: input.limits.unwrap_or_default(),
            rules: reader.rules,
        })
    }
}

impl Calculation for KitQuestion {
    type Answer = KitCheck;
    const OPTIONS: Options = Options::ALL_DRAWN;
    const HEAVY: bool = true;
    const PICTURE: Option<Draw<Self, KitCheck>> = Some(drawing::kit);

    fn patches(answer: &mut KitCheck) -> Vec<&mut Patch> {
        answer.shots.iter_mut().flat_map(|shot| patches_of(&mut shot.remedies)).collect()
    }

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<KitCheck, Vec<InvalidPart>> {
        Ok(kit::check(self, interrupt))
    }
}

/// Check a kit
///
/// Whether a kit can do a shoot: which unit serves which role of each shot, at which setting, and how much power is to spare; or what is lacking, in stops, joules and guide number, with remedies. An entry of the kit that lacks what the check needs is listed in `lacks`, and the rest is answered. `keeps_pace` says whether the units recycle between frames; it does not change `feasible`. Every role is served by a single unit. The units are assigned so that as many roles as possible are reached, then the worst shortfall is smallest, then the fewest units move from shot to shot, then the tightest light has the most to spare. Units may be heads on `packs`: heads that are used in one shot share their pack's energy, and its setting unless the outlets are set apart; outlets that want more together than the pack has are all lowered alike. `optimality` says whether all ways to use such heads were compared. `summary` is a sentence for a booking page.
#[utoipa::path(post, path = "/v1/kit/check", tag = "planning", request_body = KitCheckRequest,
    responses((status = 200, description = "What the kit can do", body = KitCheck)))]
async fn check_kit(body: Body<KitQuestion>) -> Result<Response, Problem> {
    body.answer().await
}

request! {
    /// A kit with a name.
    struct NamedKitInput {
        /// Your own id for this entry, returned with its result.
        id: Option<Id>,
        /// Its name, such as that of a room, 1 to 64 characters; the text of its `id` if left out.
        name: Option<String> as Name,
        /// Its price, in any currency or unit, the same for all kits.
        price: Option<Price>,
        /// The packs that heads of this kit are on.
        packs: Option<Vec<PackEntry>>,
        /// The kit.
        kit: Vec<KitUnitInput>,
    }
}

/// A kit that was read, with names of packs of its own.
struct NamedKitEntry(NamedKitInput);

looks_like!(NamedKitEntry as NamedKitInput);

impl Read for NamedKitEntry {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        begin_packs(value, reader);
        NamedKitInput::read(value, at, reader).map(Self)
    }

    fn expected() -> String {
        NamedKitInput::expected()
    }
}

impl Item for NamedKitEntry {
    const MAX: usize = 64;
    const PLURAL: &'static str = "kits";
}

request! {
    /// Several kits, and the shots of one brief.
    struct KitCompareRequest {
        /// The kits.
        kits: Vec<NamedKitEntry>,
        /// The shots of the brief, in order.
        shots: Vec<Shot>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
}

pub(crate) struct KitCompareQuestion(Vec<NamedKit>, KitQuestion);

impl Read for KitCompareQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = KitCompareRequest::read(value, at, reader)?;
        let kits_at = At::Field(at, "kits");
        let kits = input.kits.into_iter().enumerate().filter_map(|(index, NamedKitEntry(entry))| {
            let at = At::Index(&kits_at, index);
            Some(NamedKit {
                name: references::named(entry.name, entry.id.as_ref(), &At::Field(&at, "name"), reader)?,
                id: entry.id,
                price: entry.price.map(|price| price.0),
                kit: units(entry.kit, &At::Field(&at, "kit"), reader),
                packs: packs(entry.packs),
            })
        });
        let kits: Vec<NamedKit> = kits.collect();
        check_times(&kits.iter().flat_map(|named| &named.kit), &input.shots, at, reader);
        let brief = KitQuestion {
            kit: Vec::new(),
            packs: Vec::new(),
            shots: input.shots,
            limits: input.limits.unwrap_or_default(),
            rules: reader.rules,
        };
        Some(Self(kits, brief))
    }
}

impl Calculation for KitCompareQuestion {
    type Answer = KitComparison;
    const OPTIONS: Options = Options::MARKS_DRAWN;
    const HEAVY: bool = true;
    const PICTURE: Option<Draw<Self, KitComparison>> = Some(|_, answer, width| drawing::kits(answer, width));

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<KitComparison, Vec<InvalidPart>> {
        let Self(kits, brief) = self;
        Ok(kit::compare(kits, brief, interrupt))
    }
}

/// Compare kits
///
/// Ranks several kits, such as those of a studio's rooms, for one brief: those that can do it come first: of these, those that keep the pace, then those that may (a recycle time is not known), then those that do not, cheapest first if prices are given. Each has the reason for its rank, and for each shot the worst role and how far it is off.
#[utoipa::path(post, path = "/v1/kit/compare", tag = "planning", request_body = KitCompareRequest,
    responses((status = 200, description = "The ranking", body = KitComparison)))]
async fn compare_kits(body: Body<KitCompareQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
