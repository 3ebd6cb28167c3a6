//! `/v1/kit/check` and `/v1/kit/compare`.

use std::collections::BTreeSet;

use axum::response::Response;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    drawing::{self, Picture},
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::FieldError,
        interrupt::Interrupt,
        kit::{self, KitCheck, KitComparison, KitUnit, NamedKit, Question, Role, Shot},
        quantity::{FNumber, Metres, Stops},
        set::{
            exposure::FlashExposure,
            limits::Limits,
            modifier::Modifier,
            placement::{Placement, Source},
        },
        unit::Unit,
    },
    request::{
        fields::{
            Count, ExposureInput, Interval, LimitsInput, PopCount, Pops, Price, SourceInput, UnitInput,
        },
        place::At,
        reader::{Item, Read, Reader, reads},
        schema::{DistanceInput, EntryId, FNumberInput, ModifierInput, Name, StopsInput},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(check_kit)).routes(routes!(compare_kits))
}

/// Most units of a kit, counted one by one.
const UNITS_MOST: usize = 64;

/// A unit of the kit.
#[derive(ToSchema)]
pub(crate) struct KitUnitInput {
    /// The unit; energy alone is not enough, for how far it reaches is then not known. Its name is told in the answer; where it has none, `unit 1` and so on.
    #[schema(value_type = UnitInput)]
    unit: Unit,
    /// How many of it there are; 1 if left out. Three are named `big`, `big #2`, `big #3`.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 64)]
    count: Option<Count>,
}
reads!(KitUnitInput { unit, count });

impl Item for KitUnitInput {
    const MOST: usize = UNITS_MOST;
    const WHAT: &'static str = "units";
}

/// The light of one role: exactly one of `f_number` and `stops`.
#[derive(ToSchema)]
struct RoleInput {
    /// The role, as `key`; unlike all others of the shot.
    #[schema(value_type = Name)]
    role: String,
    /// The aperture that a meter should read at the subject, of this light alone.
    #[schema(value_type = Option<FNumberInput>)]
    f_number: Option<FNumber>,
    /// The same as stops against the working exposure.
    #[schema(value_type = Option<StopsInput>)]
    stops: Option<Stops>,
    /// From the light to the subject.
    #[schema(value_type = DistanceInput)]
    distance: Metres,
    /// What its modifier does against the unit as it is rated: stops, negative where it darkens, or a kind out of `modifiers`.
    #[schema(value_type = Option<ModifierInput>)]
    modifier_stops: Option<Modifier>,
    /// The face of its modifier: the finite-source factor comes on top.
    #[schema(value_type = Option<SourceInput>)]
    source: Option<Source>,
    /// Flashes of its unit in one exposure; 1 if left out.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1000)]
    pops: Option<Pops>,
}
reads!(RoleInput { role, f_number, stops, distance, modifier_stops, source, pops });

impl Item for RoleInput {
    const MOST: usize = 16;
    const WHAT: &'static str = "lights";
}

/// A shot.
#[derive(ToSchema)]
struct ShotInput {
    /// Your own name for this entry, given back with its result.
    #[schema(value_type = Option<EntryId>)]
    id: Option<String>,
    /// Its name, 1 to 64 characters.
    #[schema(value_type = Name)]
    name: String,
    /// Its exposure.
    exposure: ExposureInput,
    /// Its lights; each is one unit alone.
    #[schema(min_items = 1, max_items = 16)]
    lights: Vec<RoleInput>,
    /// Frames that it takes, for units whose charge is known; 1 if left out.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1_000_000)]
    pops: Option<PopCount>,
    /// Time from frame to frame, s, for units whose recycle time is known. Of frames as many as may come where `pops` is left out; a single one (`pops` 1) waits for none.
    seconds_between: Option<Interval>,
}
reads!(ShotInput { id, name, exposure, lights, pops, seconds_between });

impl Read for Shot {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = ShotInput::read(tree, at, reader)?;
        let exposure = form.exposure.flash();
        let lights_at = At::Field(at, "lights");
        let mut roles: Vec<Role> = Vec::new();
        let mut names: Vec<String> = Vec::new();
        for (index, light) in form.lights.into_iter().enumerate() {
            let at = At::Index(&lights_at, index);
            reader.keep_name("role", &light.role, &mut names, &At::Field(&at, "role"));
            if let Some(role) = light.check(exposure, &at, reader) {
                roles.push(role);
            }
        }
        let is_single = form.pops.as_ref().is_some_and(|pops| pops.0 == 1);
        Some(Self {
            id: form.id,
            name: form.name,
            exposure,
            roles,
            pops: form.pops.map_or(1, |pops| pops.0),
            seconds_between: form.seconds_between.filter(|_| !is_single).map(|interval| interval.0),
        })
    }

    fn expected() -> String {
        ShotInput::expected()
    }
}

impl Item for Shot {
    const MOST: usize = 64;
    const WHAT: &'static str = "shots";
}

impl RoleInput {
    fn check(self, exposure: FlashExposure, at: &At<'_>, reader: &mut Reader) -> Option<Role> {
        let is_f_number = self.f_number.is_some();
        let wanted = match (self.f_number, self.stops) {
            (Some(f_number), None) => f_number.squared(),
            (None, Some(stops)) => exposure.f_number.squared() * stops.factor(),
            _ => {
                return reader.fault(
                    at,
                    "the light wanted is told in exactly one way",
                    "exactly one of f_number, stops",
                );
            }
        };
        let mut placement = Placement::at(self.distance);
        placement.source = self.source;
        if let Some(modifier) = self.modifier_stops {
            placement.modifier = modifier.stops();
        }
        let kind = self.modifier_stops.and_then(Modifier::kind);
        let pops = self.pops.map_or(1, |pops| pops.0);
        let wanted = wanted / f64::from(pops);
        Some(Role { name: self.role, wanted, pops, is_f_number, placement, modifier: kind })
    }
}

/// The units of a kit one by one, by their names.
pub(crate) fn units(kit: Vec<KitUnitInput>, at: &At<'_>, reader: &mut Reader) -> Vec<KitUnit> {
    let mut units: Vec<KitUnit> = Vec::new();
    let mut names = BTreeSet::new();
    let mut total = 0;
    for (index, entry) in kit.into_iter().enumerate() {
        let place = At::Index(at, index).place();
        let name = entry.unit.name.clone().unwrap_or_else(|| format!("unit {}", index + 1));
        total += entry.count.map_or(1, |count| count.0 as usize);
        // Beyond the limit nothing more is named, only counted.
        for _ in units.len()..total.min(UNITS_MOST) {
            // The first that is free: its own name, then `name #2` and so on.
            let mut called = name.clone();
            let mut count = 1;
            while !names.insert(called.clone()) {
                count += 1;
                called = format!("{name} #{count}");
            }
            units.push(KitUnit { name: called, unit: entry.unit.clone(), place: place.clone() });
        }
    }
    if total > UNITS_MOST {
        reader.fault::<()>(at, format!("the kit has {total} units"), format!("at most {UNITS_MOST}"));
    }
    units
}

/// A kit and the shots that it is to do.
#[derive(ToSchema)]
struct KitCheckRequest {
    /// The kit.
    #[schema(min_items = 1, max_items = 64)]
    kit: Vec<KitUnitInput>,
    /// The shots, in order.
    #[schema(value_type = Vec<ShotInput>, min_items = 1, max_items = 64)]
    shots: Vec<Shot>,
    /// How far remedies may go.
    #[schema(value_type = Option<LimitsInput>)]
    limits: Option<Limits>,
}
reads!(KitCheckRequest { kit, shots, limits });

pub(crate) struct KitCheckChecked(Question);

impl Read for KitCheckChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = KitCheckRequest::read(tree, at, reader)?;
        Some(Self(Question {
            kit: units(form.kit, &At::Field(at, "kit"), reader),
            shots: form.shots,
            limits: form.limits.unwrap_or_default(),
            step: reader.rules.step,
            units: reader.rules.units,
        }))
    }
}

impl Calculation for KitCheckChecked {
    type Answer = KitCheck;
    const HEAVY: bool = true;
    const PICTURE: Option<fn(&Self, &KitCheck) -> Picture> =
        Some(|request, answer| drawing::kit(&request.0, answer));

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<KitCheck, Vec<FieldError>> {
        kit::check(&self.0, interrupt)
    }
}

/// Check a kit
///
/// Whether a kit can do a shoot: which unit serves which role of each shot, at which setting, and with how much to spare; or what is lacking, in stops, joules and guide number, and what would do it. Every role is reached by one unit alone. The units are assigned so that as many roles as possible are reached, then the worst shortfall is least, then the fewest units move from shot to shot, then the tightest light has the most to spare. `summary` is a sentence for a booking page.
#[utoipa::path(post, path = "/v1/kit/check", tag = "planning", request_body = KitCheckRequest,
    responses((status = 200, description = "What the kit can do", body = KitCheck), Refusals))]
async fn check_kit(body: Body<KitCheckChecked>) -> Result<Response, Problem> {
    body.answer().await
}

/// A kit with a name.
#[derive(ToSchema)]
struct NamedKitInput {
    /// Its name, as of a room, 1 to 64 characters.
    #[schema(value_type = Name)]
    name: String,
    /// Its price, in whatever all prices are in.
    price: Option<Price>,
    /// The kit.
    #[schema(min_items = 1, max_items = 64)]
    kit: Vec<KitUnitInput>,
}
reads!(NamedKitInput { name, price, kit });

impl Item for NamedKitInput {
    const MOST: usize = 16;
    const WHAT: &'static str = "kits";
}

/// Several kits and one brief.
#[derive(ToSchema)]
struct KitCompareRequest {
    /// The kits.
    #[schema(min_items = 1, max_items = 16)]
    kits: Vec<NamedKitInput>,
    /// The shots of the brief, in order.
    #[schema(value_type = Vec<ShotInput>, min_items = 1, max_items = 64)]
    shots: Vec<Shot>,
    /// How far remedies may go.
    #[schema(value_type = Option<LimitsInput>)]
    limits: Option<Limits>,
}
reads!(KitCompareRequest { kits, shots, limits });

pub(crate) struct KitCompareChecked(Vec<NamedKit>, Question);

impl Read for KitCompareChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = KitCompareRequest::read(tree, at, reader)?;
        let kits_at = At::Field(at, "kits");
        let kits = form.kits.into_iter().enumerate().map(|(index, entry)| {
            let at = At::Index(&kits_at, index);
            NamedKit {
                name: entry.name,
                price: entry.price.map(|price| price.0),
                kit: units(entry.kit, &At::Field(&at, "kit"), reader),
            }
        });
        let kits = kits.collect();
        let brief = Question {
            kit: Vec::new(),
            shots: form.shots,
            limits: form.limits.unwrap_or_default(),
            step: reader.rules.step,
            units: reader.rules.units,
        };
        Some(Self(kits, brief))
    }
}

impl Calculation for KitCompareChecked {
    type Answer = KitComparison;
    const HEAVY: bool = true;

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<KitComparison, Vec<FieldError>> {
        let Self(kits, brief) = self;
        kit::compare(kits, brief, interrupt)
    }
}

/// Compare kits
///
/// Several kits, as of a studio's rooms, against one brief: those that can do it first, the cheapest of them where prices are given, each with the reason for its place.
#[utoipa::path(post, path = "/v1/kit/compare", tag = "planning", request_body = KitCompareRequest,
    responses((status = 200, description = "The ranking", body = KitComparison), Refusals))]
async fn compare_kits(body: Body<KitCompareChecked>) -> Result<Response, Problem> {
    body.answer().await
}
