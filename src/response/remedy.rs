//! Remedies and patches in an answer.

use serde::{Serialize, Serializer};
use utoipa::ToSchema;

use crate::{
    light::{
        id::Id,
        quantity::{Feet, GuideFeet, GuideMetres, Joules, Metres, Number, Stops, nominal::Nominal},
        remedy::{Change, ChangeKind, Named, Operation, Patch, Remedy, Subject, Then, To},
        unit::Setting,
    },
    response::written::written_as,
    wording::phrases,
};

/// A change that makes the set-up work.
#[derive(Serialize, ToSchema)]
#[schema(as = Remedy)]
struct WrittenRemedy {
    /// What is done, all of it together.
    changes: Vec<WrittenChange>,
    /// The same as a JSON Patch (RFC 6902) of the request as it was sent; in a batch, of the body with its defaults. Apply it and send the request again, and the answer is what `then` says.
    patch: Vec<WrittenOperation>,
    /// What the answer is then.
    then: WrittenThen,
    /// The remedy as a sentence.
    text: String,
}

/// One thing that is done.
#[derive(Serialize, ToSchema)]
#[schema(as = Change)]
struct WrittenChange {
    /// What is changed.
    change: ChangeKind,
    /// The light that is changed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    light: Option<String>,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    light_id: Option<Id>,
    /// The pack that is changed, with all its heads.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pack: Option<String>,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pack_id: Option<Id>,
    /// The candidate that is changed; absent if it has no name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    candidate: Option<String>,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    candidate_id: Option<Id>,
    /// The shot in which something is changed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    shot: Option<String>,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    shot_id: Option<Id>,
    /// The role whose light is changed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    role: Option<String>,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    role_id: Option<Id>,
    /// The point that a distance is from, if the light has several; the start of the line along which a light with a position moves, if that is not its aim.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    point: Option<String>,
    /// Its id.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    point_id: Option<Id>,
    /// The change of exposure, or of the light's power, stops; + is brighter. Absent if it is not a number of stops.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    by_stops: Option<Stops>,
    /// What is set or chosen, absolute.
    to: WrittenTo,
}

/// What is set or chosen: the fields that belong to the kind of change.
#[derive(Default, Serialize, ToSchema)]
#[schema(as = ChangeTo)]
struct WrittenTo {
    /// `aperture`: the aperture.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    f_number: Option<Nominal>,
    /// `iso`: the ISO speed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    iso: Option<Nominal>,
    /// `exposure_time`: the exposure time.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    exposure_time: Option<Nominal>,
    /// `filter`: one more filter.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    filter: Option<WrittenFilter>,
    /// `setting`: the setting of a light that is held at another.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    setting: Option<Setting>,
    /// `setting`: what a meter is to read of the flash alone, if no unit is named.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    flash_f_number: Option<Nominal>,
    /// `distance`: the distance, m. If the light has several, this is the one from `point`; the others change in proportion.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    distance_m: Option<Metres>,
    /// The same, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    distance_ft: Option<Feet>,
    /// `distance`: the position of a light that has one, [x, y, z], m; `distance_m` is then along its line from `point`, or from its aim.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Vec<f64>>, nullable = false, min_items = 3, max_items = 3)]
    position: Option<[Metres; 3]>,
    /// `pops`: flashes in one exposure.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pops: Option<u32>,
    /// `ratio`: the lighting ratio, to 1, in the counting of the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    ratio: Option<Number>,
    /// `unit`: a unit like it of at least this energy, J.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    energy_j: Option<Joules>,
    /// `unit`: a unit of at least this guide number, m at ISO 100.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    guide_number_m: Option<GuideMetres>,
    /// The same guide number in feet.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    guide_number_ft: Option<GuideFeet>,
    /// `off`: true; the light is switched off.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    off: Option<bool>,
}

/// A neutral-density filter.
#[derive(Serialize, ToSchema)]
#[schema(as = NeutralDensity)]
struct WrittenFilter {
    /// Its effect, stops; negative.
    stops: Stops,
    /// Its mark, in a form that requests accept.
    mark: String,
}

/// What the answer is with a remedy.
#[derive(Serialize, ToSchema)]
#[schema(as = RemedyOutcome)]
struct WrittenThen {
    /// Always true. In a kit, of the shot.
    feasible: bool,
    /// The worst error of all points, or of all roles of a shot, stops.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    worst_error_stops: Option<Stops>,
    /// The error of the unit, candidate or role that is changed, stops.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    error_stops: Option<Stops>,
    /// How much ambient light brightens the picture, stops.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    brightening_stops: Option<Stops>,
}

/// One operation of a JSON Patch (RFC 6902).
#[derive(Serialize, ToSchema)]
#[schema(as = PatchOperation)]
struct WrittenOperation {
    /// What is done.
    op: Op,
    /// Where: a JSON pointer into the request; for a query, `/` and the parameter's name.
    path: String,
    /// The new value.
    #[schema(value_type = serde_json::Value)]
    value: serde_json::Value,
}

/// What an operation does.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
#[schema(as = PatchOp)]
enum Op {
    /// Adds a value, to an object or to a list.
    Add,
    /// Replaces a value.
    Replace,
}

written_as!(Remedy as WrittenRemedy, |it| WrittenRemedy {
    changes: it.changes.iter().map(written_change).collect(),
    patch: it.patch.operations.iter().map(written_operation).collect(),
    then: written_then(it.then),
    text: phrases::remedy(it),
});

/// A patch alone is its list of operations.
impl Serialize for Patch {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.operations.iter().map(written_operation))
    }
}

impl utoipa::PartialSchema for Patch {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        utoipa::openapi::ArrayBuilder::new()
            .items(utoipa::openapi::Ref::from_schema_name(WrittenOperation::name()))
            .description(Some("A JSON Patch (RFC 6902) of the request as it was sent."))
            .into()
    }
}

impl ToSchema for Patch {
    fn name() -> std::borrow::Cow<'static, str> {
        "Patch".into()
    }

    fn schemas(all: &mut Vec<(String, utoipa::openapi::RefOr<utoipa::openapi::Schema>)>) {
        all.push((
            WrittenOperation::name().into_owned(),
            <WrittenOperation as utoipa::PartialSchema>::schema(),
        ));
        WrittenOperation::schemas(all);
    }
}

fn written_operation(operation: &Operation) -> WrittenOperation {
    WrittenOperation {
        op: if operation.replaces { Op::Replace } else { Op::Add },
        path: operation.path.clone(),
        value: operation.value.clone(),
    }
}

fn written_then(then: Then) -> WrittenThen {
    let (mut worst_error_stops, mut error_stops, mut brightening_stops) = (None, None, None);
    match then {
        Then::WorstError(stops) => worst_error_stops = Some(stops),
        Then::Error(stops) => error_stops = Some(stops),
        Then::Brightening(stops) => brightening_stops = Some(stops),
    }
    WrittenThen { feasible: true, worst_error_stops, error_stops, brightening_stops }
}

fn written_change(change: &Change) -> WrittenChange {
    let [mut light, mut pack, mut candidate, mut shot, mut role] = [const { None }; 5];
    match &change.subject {
        Subject::Whole => {}
        Subject::Light(it) => light = Some(it),
        Subject::Pack(it) => pack = Some(it),
        Subject::Candidate(it) => candidate = Some(it),
        Subject::Shot(it) => shot = Some(it),
        Subject::Role { shot: of, role: it } => (shot, role) = (Some(of), Some(it)),
    }
    let [light, pack, candidate, shot, role] =
        [light, pack, candidate, shot, role].map(|it| it.cloned().unwrap_or_default());
    let point = match &change.to {
        To::Distance { point, .. } | To::Position { point, .. } => point.clone().unwrap_or_default(),
        _ => Named::default(),
    };
    WrittenChange {
        change: change.to.kind(),
        light: light.name,
        light_id: light.id,
        pack: pack.name,
        pack_id: pack.id,
        candidate: candidate.name,
        candidate_id: candidate.id,
        shot: shot.name,
        shot_id: shot.id,
        role: role.name,
        role_id: role.id,
        point: point.name,
        point_id: point.id,
        by_stops: change.by_stops,
        to: written_to(&change.to),
    }
}

fn written_to(to: &To) -> WrittenTo {
    let none = WrittenTo::default();
    match to {
        To::FNumber(mark) => WrittenTo { f_number: Some(mark.clone()), ..none },
        To::Iso(mark) => WrittenTo { iso: Some(mark.clone()), ..none },
        To::ExposureTime(mark) => WrittenTo { exposure_time: Some(mark.clone()), ..none },
        To::Filter(filter) => {
            let filter = WrittenFilter { stops: filter.stops, mark: filter.mark() };
            WrittenTo { filter: Some(filter), ..none }
        }
        To::Setting { to, .. } => WrittenTo { setting: Some(to.clone()), ..none },
        To::Flash(reads) => WrittenTo { flash_f_number: Some(reads.clone()), ..none },
        To::Distance { to, units, .. } => {
            WrittenTo { distance_m: Some(*to), distance_ft: units.feet(*to), ..none }
        }
        To::Position { distance, to, units, .. } => WrittenTo {
            distance_m: Some(*distance),
            distance_ft: units.feet(*distance),
            position: Some(to.0.map(Metres::new_unchecked)),
            ..none
        },
        To::Pops(pops) => WrittenTo { pops: Some(*pops), ..none },
        To::Ratio { ratio, .. } => WrittenTo { ratio: Some(Number::new_unchecked(*ratio)), ..none },
        To::Energy { energy, .. } => WrittenTo { energy_j: Some(*energy), ..none },
        To::Guide { guide, .. } => {
            WrittenTo { guide_number_m: Some(*guide), guide_number_ft: Some(GuideFeet::of(*guide)), ..none }
        }
        To::Off => WrittenTo { off: Some(true), ..none },
    }
}
