//! Places in a request: on the stack while it is read (`At`), as a JSON pointer (`Pointer`), and for a part that `light`
//! refused.

use std::fmt::Write as _;

use serde::{Serialize, Serializer};

use crate::light::error::{Entry, Field, Part, ShotPart};

/// A place in a request, linked to its parents on the stack. The JSON pointer is built only when a fault needs it.
#[derive(Clone, Copy)]
pub enum At<'p> {
    /// The whole request.
    Root,
    /// A field of an object.
    Field(&'p At<'p>, &'p str),
    /// An element of a list.
    Index(&'p At<'p>, usize),
}

impl At<'_> {
    /// The place as a JSON pointer.
    pub fn pointer(&self) -> Pointer {
        match self {
            Self::Root => Pointer::root(),
            Self::Field(parent, name) => parent.pointer().field(name),
            Self::Index(parent, index) => parent.pointer().index(*index),
        }
    }
}

/// A location in a request, as a JSON pointer (RFC 6901). The empty pointer is the whole request.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct Pointer(String);

impl Pointer {
    /// The whole request.
    pub fn root() -> Self {
        Self::default()
    }

    /// The field `name` of the object at this location.
    #[must_use]
    pub fn field(&self, name: &str) -> Self {
        Self(format!("{}/{}", self.0, name.replace('~', "~0").replace('/', "~1")))
    }

    /// The element `index` of the array at this location.
    #[must_use]
    pub fn index(&self, index: usize) -> Self {
        let mut pointer = self.0.clone();
        // Writing to a String cannot fail.
        let _ = write!(pointer, "/{index}");
        Self(pointer)
    }

    /// The pointer as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// For the parts of a question, below.
impl Pointer {
    fn from_names(names: &[&str]) -> Self {
        names.iter().fold(Self::root(), |pointer, name| pointer.field(name))
    }

    fn element(list: &str, index: usize) -> Self {
        Self::from_names(&[list]).index(index)
    }

    fn with(self, field: Option<Field>) -> Self {
        let Some(field) = field else { return self };
        self.field(match field {
            Field::Name => "name",
            Field::Unit => "unit",
            Field::Light => "light",
            Field::Point => "point",
            Field::Distance => "distance",
            Field::Position => "position",
            Field::Aim => "aim",
            Field::Setting => "setting",
            Field::Hold => "hold",
            Field::Pops => "pops",
            Field::Filters => "filters",
            Field::FNumber => "f_number",
            Field::Iso => "iso",
            Field::ExposureTime => "exposure_time",
            Field::SyncTime => "sync_time",
            Field::GuideNumber => "guide_number",
            Field::Zoom => "zoom_mm",
        })
    }
}

/// The place where a request states this part.
impl From<Part> for Pointer {
    fn from(part: Part) -> Self {
        match part {
            Part::FNumber => Self::from_names(&["exposure", "f_number"]),
            Part::Iso => Self::from_names(&["exposure", "iso"]),
            Part::ExposureTime => Self::from_names(&["exposure", "exposure_time"]),
            Part::SyncTime => Self::from_names(&["exposure", "sync_time"]),
            Part::LensFilters => Self::from_names(&["lens", "filters"]),
            Part::Lights => Self::from_names(&["lights"]),
            Part::Ratio => Self::from_names(&["ratio"]),
            Part::Kit(None) => Self::from_names(&["kit"]),
            Part::Kit(Some(kit)) => Self::element("kits", kit).field("kit"),
            Part::Shots => Self::from_names(&["shots"]),
            Part::Circuit(index) => Self::element("circuits", index),
            Part::Response => Self::from_names(&["response"]),
            Part::ReferenceLevel => Self::from_names(&["reference"]),
            Part::Light(index, field) => Self::element("lights", index).with(field),
            Part::Points => Self::from_names(&["points"]),
            Part::Point(index, field) => Self::element("points", index).with(field),
            Part::TargetPoint(index) => Self::element("points", index).field("target").field("to"),
            Part::TargetFNumber(index) => Self::element("points", index).field("target").field("f_number"),
            Part::RatioValue => Self::from_names(&["ratio", "value"]),
            Part::Contribution(Entry::Reading(index), field) => Self::element("readings", index).with(field),
            Part::Contribution(Entry::Placement(index), field) => {
                Self::element("placements", index).with(field)
            }
            Part::Ambient(index, field) => Self::element("ambient", index).with(field),
            Part::Reflectors => Self::from_names(&["reflectors"]),
            Part::Reflector(index) => Self::element("reflectors", index),
            Part::Blocker(index) => Self::element("blockers", index),
            Part::Room => Self::from_names(&["room"]),
            Part::Unit => Self::from_names(&["unit"]),
            Part::KitUnit { kit, entry } => Self::from(Part::KitEntry { kit, entry }).field("unit"),
            Part::KitEntry { kit, entry } => Self::from(Part::Kit(kit)).index(entry),
            Part::Reference(field) => Self::from_names(&["reference"]).with(Some(field)),
            Part::Candidate(index, field) => Self::element("candidates", index).with(Some(field)),
            Part::MaxPops => Self::from_names(&["max_pops"]),
            Part::Shot(index, part) => {
                let shot = Self::element("shots", index);
                match part {
                    ShotPart::FNumber => shot.field("exposure").field("f_number"),
                    ShotPart::Iso => shot.field("exposure").field("iso"),
                    ShotPart::ExposureTime => shot.field("exposure").field("exposure_time"),
                    ShotPart::SyncTime => shot.field("exposure").field("sync_time"),
                    ShotPart::LensFilters => shot.field("lens").field("filters"),
                    ShotPart::Role(index, field) => shot.field("lights").index(index).with(Some(field)),
                }
            }
            Part::FlashFNumber => Self::from_names(&["flash_f_number"]),
            Part::AmbientLight => Self::from_names(&["ambient"]),
            Part::From => Self::from_names(&["from"]),
            Part::To => Self::from_names(&["to"]),
            Part::Shift => Self::from_names(&["shift"]),
            Part::Frames => Self::from_names(&["frames"]),
            Part::OtherFrames => Self::from_names(&["other", "frames"]),
            Part::Readings => Self::from_names(&["readings"]),
            Part::Reading(index) => Self::element("readings", index),
            Part::Own(field) => Self::root().with(Some(field)),
            Part::Packs => Self::from_names(&["packs"]),
            Part::Pack(index) => Self::element("packs", index),
            Part::KitPack { kit, pack } => {
                let packs = Self::element("kits", kit).field("packs");
                pack.map_or_else(|| packs.clone(), |pack| packs.index(pack))
            }
            Part::RoundSettings(round) => Self::element("rounds", round).field("settings"),
            Part::RoundReading(round, reading) => {
                Self::element("rounds", round).field("readings").index(reading)
            }
            Part::Metered(field) => Self::from_names(&["metered"]).with(Some(field)),
        }
    }
}

/// Written in an answer as its pointer in the request.
impl Serialize for Part {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(Pointer::from(*self).as_str())
    }
}
