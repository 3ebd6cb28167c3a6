//! How soft a light is: its angular size, the width of the edge of a shadow, and what is as soft as it.
//!
//! The angular size is 2·atan(D/2d); a shadow's edge is D·b/d wide on a surface b behind the edge that throws it (similar
//! triangles; derived). Two lights are as soft where D/d is the same.

use serde::{Serialize, Serializer};
use utoipa::ToSchema;

use crate::light::{
    quantity::{Feet, Metres, Number, bounds, units::Units},
    remark::{Warning, WarningKind},
    set::placement::Source,
};

/// Shapes whose height over width differ by less than this part count as the same.
const SAME_SHAPE: f64 = 1e-6;

/// What is to be as soft as the light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Other {
    /// The same kind of face at this distance; its size is asked for.
    At(Metres),
    /// This face; its distance is asked for.
    Of(Source),
}

/// A light, and what is asked of its softness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoftnessQuestion {
    /// The face of the source, which is turned to the subject.
    pub source: Source,
    /// From the light to the subject, whose edge throws the shadow.
    pub distance: Metres,
    /// From that edge to the surface that the shadow falls on.
    pub behind: Option<Metres>,
    /// What is to be as soft.
    pub other: Option<Other>,
    /// The units of lengths in the answer.
    pub units: Units,
}

/// How soft a light is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Softness {
    /// The angular size of the light as the subject sees it, degrees.
    #[schema(value_type = WidthAndHeight)]
    pub angular_size_deg: Both<Number>,
    /// The width of the soft edge of a shadow, m: of an upright edge by the width of the light, of a level one by its height. Absent without `behind`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Option<WidthAndHeight>)]
    pub penumbra_m: Option<Both<Metres>>,
    /// The same, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Option<WidthAndHeight>)]
    pub penumbra_ft: Option<Both<Feet>>,
    /// What is as soft; absent without `to_distance` and `to_source`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub as_soft: Option<AsSoft>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

/// A light that is as soft.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AsSoft {
    /// The face of the source at `to_distance`, in a form that requests accept.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Option<Face>)]
    pub source: Option<Source>,
    /// Its size, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Option<WidthAndHeight>)]
    pub source_ft: Option<Both<Feet>>,
    /// The distance of `to_source`, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_m: Option<Metres>,
    /// The same, ft. Only with imperial units.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub distance_ft: Option<Feet>,
}

/// The face of a source: a disc or a rectangle.
#[derive(Serialize, ToSchema)]
#[schema(as = SourceFace)]
pub struct Face {
    /// The diameter of a round face, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    disc_m: Option<Metres>,
    /// The width and height of a rectangular face, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    rectangle_m: Option<[Metres; 2]>,
}

/// A value by the width of a light and one by its height.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Both<T> {
    /// By the width.
    pub width: T,
    /// By the height.
    pub height: T,
}

/// The schema of [`Both`].
#[derive(ToSchema)]
#[expect(dead_code, reason = "for the OpenAPI document only")]
pub struct WidthAndHeight {
    /// By the width of the light.
    width: f64,
    /// By the height of the light; that of a round one is its width.
    height: f64,
}

impl<T> Both<T> {
    fn of([width, height]: [f64; 2], value: impl Fn(f64) -> T) -> Self {
        Self { width: value(width), height: value(height) }
    }
}

impl Source {
    /// Width and height.
    pub fn sides(self) -> [Metres; 2] {
        match self {
            Self::Disc { diameter } => [diameter; 2],
            Self::Rectangle { width, height } => [width, height],
        }
    }

    /// The face, larger by a factor.
    fn scaled(self, by: f64) -> Self {
        let scaled = |length: Metres| Metres::new_unchecked(length.get() * by);
        match self {
            Self::Disc { diameter } => Self::Disc { diameter: scaled(diameter) },
            Self::Rectangle { width, height } => {
                Self::Rectangle { width: scaled(width), height: scaled(height) }
            }
        }
    }
}

impl Serialize for Source {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let face = match *self {
            Self::Disc { diameter } => Face { disc_m: Some(diameter), rectangle_m: None },
            Self::Rectangle { width, height } => Face { disc_m: None, rectangle_m: Some([width, height]) },
        };
        face.serialize(serializer)
    }
}

/// How soft a light is. Between faces of different shapes, softness is compared by the geometric mean of width and height.
pub fn softness(question: &SoftnessQuestion) -> Softness {
    let SoftnessQuestion { source, distance, behind, other, units } = *question;
    let sides = source.sides().map(Metres::get);
    let penumbra = behind.map(|behind| sides.map(|side| side * behind.get() / distance.get()));
    let feet = |lengths: [f64; 2]| {
        (units == Units::Imperial)
            .then(|| Both::of(lengths, |length| Feet::from_metres(Metres::new_unchecked(length))))
    };
    let mut warnings = Vec::new();
    let as_soft = other.map(|other| match other {
        Other::At(to) => {
            let by = to.get() / distance.get();
            let scaled = sides.map(|side| side * by);
            let source_ft = feet(scaled);
            // A round face has one side.
            let beyond = scaled.iter().filter_map(|side| WarningKind::beyond_range(&bounds::SIZE, *side));
            let different = if matches!(source, Source::Disc { .. }) { 1 } else { 2 };
            warnings.extend(beyond.take(different).map(Warning::from));
            AsSoft { source: Some(source.scaled(by)), source_ft, distance_m: None, distance_ft: None }
        }
        Other::Of(face) => {
            let ([width, height], [own_width, own_height]) = (face.sides().map(Metres::get), sides);
            if ((height / width) / (own_height / own_width) - 1.0).abs() > SAME_SHAPE {
                warnings.push(WarningKind::OtherShape.into());
            }
            let by = ((width * height) / (own_width * own_height)).sqrt();
            let to = Metres::new_unchecked(distance.get() * by);
            warnings.extend(WarningKind::beyond_range(&bounds::DISTANCE, to.get()).map(Warning::from));
            AsSoft { source: None, source_ft: None, distance_m: Some(to), distance_ft: units.feet(to) }
        }
    });
    let angle = |side: f64| 2.0 * (side / 2.0).atan2(distance.get()).to_degrees();
    Softness {
        angular_size_deg: Both::of(sides, |side| Number::new_unchecked(angle(side))),
        penumbra_m: penumbra.map(|penumbra| Both::of(penumbra, Metres::new_unchecked)),
        penumbra_ft: penumbra.and_then(feet),
        as_soft,
        warnings,
    }
}
