//! Changes that make a set-up work: what is done, and what that changes in the question. Each was tried by answering the
//! changed question.

use crate::light::{
    error::Part,
    id::Id,
    quantity::{
        FNumber, GuideMetres, Iso, Joules, Metres, Seconds, Stops, bounds, nominal::Nominal, significant,
        units::Units, words::words,
    },
    set::{filter::NeutralDensity, geometry::Position},
    unit::{Setting, Unit},
};

/// The most remedies of an answer, or of a shot.
pub const MAX_REMEDIES: usize = 8;

words! {
    /// What a remedy changes.
    pub enum ChangeKind as "ChangeKind" {
        /// The aperture.
        Aperture = "aperture",
        /// The ISO speed.
        Iso = "iso",
        /// The exposure time.
        ExposureTime = "exposure_time",
        /// A filter on a light or on the lens.
        Filter = "filter",
        /// The power setting of a light.
        Setting = "setting",
        /// The distance of a light.
        Distance = "distance",
        /// The number of flashes in one exposure.
        Pops = "pops",
        /// The lighting ratio.
        Ratio = "ratio",
        /// The flash unit: a stronger one, or one more.
        Unit = "unit",
        /// A light that is switched off.
        Off = "off",
    }
}

/// A change that makes the set-up work.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// What is done, all of it together.
    pub changes: Vec<Change>,
    /// What is set afterwards.
    pub afterwards: Afterwards,
    /// The same as a change of the question.
    pub patch: Patch,
    /// The answer to the changed question.
    pub then: Then,
}

/// One thing that is done.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// What it is done to.
    pub subject: Subject,
    /// The change of exposure, or of a light's power, stops; + is brighter.
    pub by_stops: Option<Stops>,
    /// What is set or chosen.
    pub to: To,
}

/// A name with the id that stands beside it in the request.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Named {
    /// The name.
    pub name: Option<String>,
    /// The id.
    pub id: Option<Id>,
}

impl Named {
    /// A name with its id.
    pub fn new(name: &str, id: Option<&Id>) -> Self {
        Self { name: Some(name.to_owned()), id: id.cloned() }
    }
}

/// What something is done to.
#[derive(Debug, Clone, PartialEq)]
pub enum Subject {
    /// The camera, or the whole set-up.
    Whole,
    /// A light of a set.
    Light(Named),
    /// A pack of a set, with all its heads.
    Pack(Named),
    /// A candidate to replace a unit.
    Candidate(Named),
    /// The camera in one shot.
    Shot(Named),
    /// The light of a role in a shot.
    Role {
        /// The shot.
        shot: Named,
        /// The role.
        role: Named,
    },
}

/// What is set or chosen.
#[derive(Debug, Clone, PartialEq)]
pub enum To {
    /// An aperture.
    FNumber(Nominal),
    /// An ISO speed.
    Iso(Nominal),
    /// An exposure time.
    ExposureTime(Nominal),
    /// One more filter.
    Filter(NeutralDensity),
    /// A setting of a light that is held at another.
    Setting {
        /// The new setting.
        to: Setting,
        /// The setting at which it is held.
        held_at: Setting,
    },
    /// The power of a flash, by what a meter is to read of it alone.
    Flash(Nominal),
    /// A distance.
    Distance {
        /// The present distance.
        from: Metres,
        /// The new distance.
        to: Metres,
        /// The point that both are from, if there are several.
        point: Option<Named>,
        /// Whether other distances of the light change in proportion.
        has_others: bool,
        /// The units of lengths.
        units: Units,
    },
    /// A position.
    Position {
        /// The present distance from the start of the line along which the light moves.
        from: Metres,
        /// The new distance from there.
        distance: Metres,
        /// The new position.
        to: Position,
        /// The point at which the line starts; the light's aim if `None`.
        point: Option<Named>,
        /// The units of lengths.
        units: Units,
    },
    /// Flashes in one exposure.
    Pops(u32),
    /// A lighting ratio to 1, and how it is counted.
    Ratio {
        /// The ratio.
        ratio: f64,
        /// The counting, as a word of the request.
        counting: &'static str,
    },
    /// A unit like it of at least this energy.
    Energy {
        /// The energy.
        energy: Joules,
        /// The name of the unit that it is like.
        like: Option<String>,
        /// Whether it replaces the unit, rather than being one more.
        replaces: bool,
    },
    /// A unit of at least this guide number.
    Guide {
        /// The guide number.
        guide: GuideMetres,
        /// Whether it replaces the unit, rather than being one more.
        replaces: bool,
    },
    /// The light is switched off.
    Off,
}

impl To {
    /// What it changes.
    pub const fn kind(&self) -> ChangeKind {
        match self {
            Self::FNumber(_) => ChangeKind::Aperture,
            Self::Iso(_) => ChangeKind::Iso,
            Self::ExposureTime(_) => ChangeKind::ExposureTime,
            Self::Filter(_) => ChangeKind::Filter,
            Self::Setting { .. } | Self::Flash(_) => ChangeKind::Setting,
            Self::Distance { .. } | Self::Position { .. } => ChangeKind::Distance,
            Self::Pops(_) => ChangeKind::Pops,
            Self::Ratio { .. } => ChangeKind::Ratio,
            Self::Energy { .. } | Self::Guide { .. } => ChangeKind::Unit,
            Self::Off => ChangeKind::Off,
        }
    }
}

/// What is set after the changes.
#[derive(Debug, Clone, PartialEq)]
pub enum Afterwards {
    /// Nothing.
    Nothing,
    /// The lights of a set.
    Lights,
    /// The units of a kit and their settings.
    Units,
    /// A unit.
    Unit {
        /// The label of its setting.
        label: String,
        /// Its flashes in one exposure.
        pops: u32,
    },
}

/// The answer to the changed question.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Then {
    /// The worst error of several, stops.
    WorstError(Stops),
    /// The error of one unit, candidate or role, stops.
    Error(Stops),
    /// How much ambient light brightens the picture, stops.
    Brightening(Stops),
}

/// A change of the question, and the same as a patch of the request.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Patch {
    /// The new values, by part of the question.
    pub edits: Vec<Edit>,
    /// The operations on the request as it was sent (RFC 6902). Written in `request::patch`, since the question does not
    /// know the request.
    pub operations: Vec<Operation>,
}

impl From<Vec<Edit>> for Patch {
    fn from(edits: Vec<Edit>) -> Self {
        Self { edits, operations: Vec::new() }
    }
}

/// One operation of a JSON Patch (RFC 6902).
#[derive(Debug, Clone, PartialEq)]
pub struct Operation {
    /// Whether there is a value at the path already.
    pub replaces: bool,
    /// The path, a JSON pointer.
    pub path: String,
    /// The new value.
    pub value: serde_json::Value,
}

/// A new value of one part of a question.
#[derive(Debug, Clone, PartialEq)]
pub struct Edit {
    /// The part.
    pub part: Part,
    /// Its new value.
    pub value: NewValue,
}

/// A new value. A filter or a unit may also be added to a list.
#[derive(Debug, Clone, PartialEq)]
pub enum NewValue {
    /// An aperture.
    FNumber(FNumber),
    /// An ISO speed.
    Iso(Iso),
    /// An exposure time.
    Seconds(Seconds),
    /// A distance.
    Metres(Metres),
    /// A position.
    Position(Position),
    /// The label of a setting.
    Label(String),
    /// The settings of a round: the names of lights with their labels.
    Settings(Vec<(String, String)>),
    /// `true` or `false`.
    Flag(bool),
    /// A whole number.
    Count(u32),
    /// A lighting ratio to 1.
    Number(f64),
    /// A guide number.
    Guide(GuideMetres),
    /// One more filter at the end of a list.
    AddFilter(NeutralDensity),
    /// Another unit.
    Unit(Box<Unit>),
    /// One more unit at the end of a list of units.
    AddUnit(Box<Unit>),
    /// A meter's reading of ambient light.
    Reading {
        /// The aperture.
        f_number: FNumber,
        /// The exposure time.
        exposure_time: Seconds,
        /// The ISO speed.
        iso: Iso,
    },
}

impl Edit {
    /// A new value of a part.
    pub const fn new(part: Part, value: NewValue) -> Self {
        Self { part, value }
    }
}

impl NewValue {
    /// Whether a request takes it: what is written is within the bounds of its field.
    fn is_accepted(&self) -> bool {
        let of_unit = |unit: &Unit| {
            let energy = unit.energy.map(|energy| (bounds::ENERGY, energy.get()));
            [energy, unit.guide_number.map(|guide| (bounds::GUIDE_NUMBER, guide.get()))]
                .into_iter()
                .flatten()
                .collect()
        };
        let written = match self {
            Self::FNumber(f_number) => vec![(bounds::F_NUMBER, f_number.get())],
            Self::Iso(iso) => vec![(bounds::ISO, iso.get())],
            Self::Seconds(time) => vec![(bounds::EXPOSURE_TIME, time.get())],
            Self::Metres(length) => vec![(bounds::DISTANCE, length.get())],
            Self::Position(position) => position.0.map(|it| (bounds::COORDINATE, it)).into(),
            Self::Label(_) | Self::Settings(_) | Self::Flag(_) => Vec::new(),
            Self::Count(count) => vec![(bounds::POPS, f64::from(*count))],
            Self::Number(ratio) => vec![(bounds::LIGHTING_RATIO, *ratio)],
            Self::Guide(guide) => vec![(bounds::GUIDE_NUMBER, guide.get())],
            Self::AddFilter(filter) => vec![(bounds::OPTICAL_DENSITY, filter.density)],
            Self::Unit(unit) | Self::AddUnit(unit) => of_unit(unit),
            Self::Reading { f_number, exposure_time, iso } => vec![
                (bounds::F_NUMBER, f_number.get()),
                (bounds::EXPOSURE_TIME, exposure_time.get()),
                (bounds::ISO, iso.get()),
            ],
        };
        written.into_iter().all(|(bounds, value)| bounds.check(significant(value)).is_ok())
    }
}

/// A remedy with the size of its change, and whether it changes the light at fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Sized {
    /// The remedy.
    pub remedy: Remedy,
    /// The size of its change, stops.
    pub stops: f64,
    /// The light, candidate or role that it changes; `None` for the camera.
    pub light: Option<usize>,
}

/// The first eight remedies whose patches requests take: fewest changes first, then the least change, another ratio after
/// those. If light is too strong, those of the one light at fault come first, and of changes of one size power, distance,
/// a filter on the light, then the lens.
pub fn in_order(mut all: Vec<Sized>, is_too_strong: bool) -> Vec<Remedy> {
    all.retain(|sized| sized.remedy.patch.edits.iter().all(|edit| edit.value.is_accepted()));
    let mut lights = all.iter().filter_map(|sized| sized.light);
    let first = lights.next();
    let at_fault = first.filter(|first| is_too_strong && lights.all(|other| other == *first));
    let rank = |sized: &Sized| match sized.remedy.changes[0].to.kind() {
        _ if !is_too_strong => 0,
        ChangeKind::Setting => 0,
        ChangeKind::Distance => 1,
        ChangeKind::Filter if sized.light.is_some() => 2,
        _ => 3,
    };
    all.sort_by(|a, b| {
        let tenths = |sized: &Sized| (sized.stops * 10.0).round() as i64;
        let key = |sized: &Sized| {
            let is_other = at_fault.is_some() && sized.light != at_fault;
            // Another ratio is another picture, and no number of stops.
            let is_ratio = sized.remedy.changes[0].to.kind() == ChangeKind::Ratio;
            (sized.remedy.changes.len(), is_ratio, is_other, tenths(sized), rank(sized))
        };
        key(a).cmp(&key(b)).then(a.stops.total_cmp(&b.stops))
    });
    all.truncate(MAX_REMEDIES);
    all.into_iter().map(|sized| sized.remedy).collect()
}

/// An error of this size is good enough, and one must be smaller than another by as much to be worth a greater change,
/// stops: half of the tenth that photographers work to.
const BETTER: f64 = 0.05;
/// How much farther than the first change that works a better one is looked for, stops.
const FARTHER: f64 = 1.0;

/// The change that comes nearest to the target: of the candidates with their size in stops, in rising order, the first
/// that works, or a greater one of the same direction that leaves a smaller error. `try_it` answers the error that is
/// left, if it works.
pub fn nearest<C>(
    candidates: impl IntoIterator<Item = (f64, C)>,
    mut try_it: impl FnMut(&C) -> Option<f64>,
) -> Option<(f64, C, f64)> {
    let mut best: Option<(f64, C, f64)> = None;
    let mut first: Option<f64> = None;
    for (stops, candidate) in candidates {
        if let Some(first) = first {
            if stops.signum() != first.signum() {
                continue;
            }
            if stops.abs() > first.abs() + FARTHER || best.as_ref().is_some_and(|(.., error)| *error < BETTER)
            {
                break;
            }
        }
        let Some(error) = try_it(&candidate) else {
            if first.is_some() {
                break;
            }
            continue;
        };
        first.get_or_insert(stops);
        if best.as_ref().is_none_or(|(.., least)| error < least - BETTER) {
            best = Some((stops, candidate, error));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_patch_that_no_request_takes_is_no_remedy() {
        let with = |value: NewValue| Sized {
            remedy: Remedy {
                changes: vec![Change { subject: Subject::Whole, by_stops: None, to: To::Off }],
                afterwards: Afterwards::Nothing,
                patch: vec![Edit::new(Part::FlashFNumber, value)].into(),
                then: Then::Error(Stops::ZERO),
            },
            stops: 1.0,
            light: None,
        };
        let f = |value: f64| NewValue::FNumber(FNumber::new_unchecked(value));
        let reading = |time: f64| NewValue::Reading {
            f_number: FNumber::new_unchecked(8.0),
            exposure_time: Seconds::new_unchecked(time),
            iso: Iso::BASE,
        };
        let is_left = |value: NewValue| in_order(vec![with(value)], false).len() == 1;
        // By src/light/quantity/bounds.rs: f/0.5 to f/512, and 1 µs to an hour.
        assert_eq!([512.0, 544.6, 1254.0, 0.4].map(f).map(is_left), [true, false, false, false]);
        assert_eq!([1e-6, 5e-7, 3601.0].map(reading).map(is_left), [true, false, false]);
    }
}
