//! Bars from zero: shortfall to the left, headroom or excess to the right.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::{Colour, Fill},
        legend::Legend,
        ruler::Ruler,
        sheet::{Pen, Picture},
    },
    light::kit::RoleResult,
    wording::phrases::kit_picture,
};

const HALF: f64 = 7.0;
/// The longest bar or error bar, stops, in either direction; the text beside it gives the full value.
const MAX_STOPS: f64 = 15.0;
const ERROR_BAR: Pen = Pen::new(Colour::Ink, 1.5);
/// A halo around an error bar, so that it is visible on a dark bar.
const HALO: Pen = Pen::new(Colour::Paper, 4.0);

/// What a bar shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Spare,
    Lacks,
    /// Filled with solid colour, unlike the hatched shortfall.
    TooStrong,
}

impl Kind {
    /// The kind of bar for a light, or `None` if it has no unit.
    fn from_result(light: &RoleResult) -> Option<Self> {
        light.error_stops?;
        Some(match light {
            light if light.is_too_strong() => Self::TooStrong,
            light if light.is_missed() => Self::Lacks,
            _ => Self::Spare,
        })
    }

    const fn style(self) -> (Fill, Pen) {
        match self {
            Self::Spare => (Fill::Colour(Colour::Tolerance), Pen::new(Colour::Tight, 2.0)),
            Self::Lacks => (Fill::Missing, Pen::new(Colour::Wrong, 1.5)),
            Self::TooStrong => (Fill::Colour(Colour::Wrong), Pen::new(Colour::Wrong, 1.5)),
        }
    }

    const fn meaning(self) -> &'static str {
        match self {
            Self::Spare => kit_picture::SPARE_MEANING,
            Self::Lacks => kit_picture::LACKS_MEANING,
            Self::TooStrong => kit_picture::EXCESS_MEANING,
        }
    }
}

/// The value of a light's bar, stops: headroom or excess positive, shortfall negative.
pub fn value(light: &RoleResult) -> Option<f64> {
    Some(match Kind::from_result(light)? {
        Kind::Spare => light.headroom_stops?.get(),
        Kind::Lacks => -light.shortfall_stops.get(),
        Kind::TooStrong => light.excess_stops.get(),
    })
}

/// The range of a light's error bar, stops, or `None` if its value has no uncertainty.
pub fn error_bar(light: &RoleResult) -> Option<[f64; 2]> {
    let (end, uncertainty) = (value(light)?, light.uncertainty.as_ref()?);
    Some(uncertainty.ends().map(|off| end + off))
}

/// Adds entries for the kinds of bars in use.
pub fn legend(legend: &mut Legend, picture: &mut Picture, lights: &[&RoleResult]) {
    for kind in [Kind::Spare, Kind::Lacks, Kind::TooStrong] {
        if lights.iter().any(|light| Kind::from_result(light) == Some(kind)) {
            let (fill, pen) = kind.style();
            legend.swatch(picture, kind.meaning(), HALF, fill, pen);
        }
    }
    if lights.iter().any(|light| error_bar(light).is_some()) {
        legend.error_bar(picture, ERROR_BAR);
    }
}

/// A ruler whose axis covers all values of these lights, up to [`MAX_STOPS`].
pub fn ruler(lights: &[&RoleResult], ends: [f64; 2]) -> Ruler {
    let values = lights
        .iter()
        .flat_map(|light| value(light).into_iter().chain(error_bar(light).into_iter().flatten()));
    let values = values.map(|stops| stops.clamp(-MAX_STOPS, MAX_STOPS));
    // At least a stop on each side, so that a short bar looks short.
    Ruler { axis: Axis::stops("", values.chain([-1.0, 1.0]), 5), ends }
}

/// Draws a light's bar from zero, and its error bar.
pub fn draw(picture: &mut Picture, ruler: &Ruler, y: f64, light: &RoleResult) {
    if let Some((stops, kind)) = value(light).zip(Kind::from_result(light)) {
        let (fill, pen) = kind.style();
        ruler.bar(picture, y, HALF, [0.0, stops], fill, pen);
    }
    if let Some(ends) = error_bar(light) {
        let ends = ends.map(|stops| (ruler.x(stops), ruler.axis.contains(stops)));
        if light.is_too_strong() {
            picture.error_bar(ends, y, HALO);
        }
        picture.error_bar(ends, y, ERROR_BAR);
    }
    let zero = ruler.x(0.0);
    picture.line([zero, y - 12.0], [zero, y + 12.0], Pen::new(Colour::Ink, 1.5));
}
