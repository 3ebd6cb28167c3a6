//! Bars from zero: shortfall to the left, headroom or excess to the right.

use crate::{
    drawing::canvas::{
        axis::Axis,
        colour::{Colour, Fill},
        legend::Legend,
        sheet::{Anchor, Pen, Picture, TextStyle},
    },
    light::kit::{KitCheck, RoleResult},
    wording::phrases::kit_picture,
};

const HALF: f64 = 5.5;
/// The longest bar or error bar, stops, in either direction; the text beside it gives the full value.
const MAX_STOPS: f64 = 15.0;
/// The width left for the arrow of a bar that exceeds the axis, px.
const ARROW: f64 = 11.0;
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
            Self::Spare => (Fill::Colour(Colour::Tolerance), Pen::new(Colour::Ink, 1.0)),
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
pub fn legend(
    legend: &mut Legend,
    picture: &mut Picture,
    any: impl Fn(&dyn Fn(&RoleResult) -> bool) -> bool,
) {
    for kind in [Kind::Spare, Kind::Lacks, Kind::TooStrong] {
        if any(&|light| Kind::from_result(light) == Some(kind)) {
            let (fill, pen) = kind.style();
            legend.swatch(picture, kind.meaning(), HALF, fill, pen);
        }
    }
    if any(&|light| error_bar(light).is_some()) {
        legend.error_bar(picture, ERROR_BAR);
    }
}

/// The column of bars and its axis.
pub struct Bars {
    axis: Axis,
    /// The left and right edges, px.
    field: [f64; 2],
    /// The heading of the negative side, if it is used.
    left: Option<&'static str>,
    /// The headings of the positive side.
    right: Vec<&'static str>,
}

impl Bars {
    /// A column whose axis covers all values of the answer, up to [`MAX_STOPS`].
    pub fn new(answer: &KitCheck, field: [f64; 2]) -> Self {
        let lights = || answer.shots.iter().flat_map(|shot| &shot.lights);
        let ends =
            lights().flat_map(|light| value(light).into_iter().chain(error_bar(light).into_iter().flatten()));
        let ends: Vec<f64> = ends.map(|stops| stops.clamp(-MAX_STOPS, MAX_STOPS)).collect();
        let has = |kind| lights().any(|light| Kind::from_result(light) == Some(kind));
        let left = ends.iter().any(|stops| *stops < 0.0).then_some(kit_picture::LACKS);
        let right = [(Kind::Spare, kit_picture::SPARE), (Kind::TooStrong, kit_picture::EXCESS)];
        let right: Vec<_> =
            right.into_iter().filter(|(kind, _)| has(*kind)).map(|(_, heading)| heading).collect();
        // At least 1 stop to the left and 2 to the right, on the sides that are used.
        let least = [
            if left.is_some() { -1.0 } else { 0.0 },
            if right.is_empty() && left.is_some() { 0.0 } else { 2.0 },
        ];
        Self { axis: Axis::stops("", ends.into_iter().chain(least), 4), field, left, right }
    }

    /// The horizontal position of a value, px, limited to the column.
    fn x(&self, stops: f64) -> f64 {
        let [left, right] = self.field;
        left + (right - left) * self.axis.fraction(stops).clamp(0.0, 1.0)
    }

    /// Writes the headings of both sides from `top` down. Returns the position of the last line.
    pub fn head(&self, picture: &mut Picture, top: f64, style: TextStyle) -> f64 {
        const LINE: f64 = 18.0;
        let zero = self.x(0.0);
        let last = top + LINE * self.right.len().saturating_sub(1) as f64;
        for (line, heading) in self.right.iter().enumerate() {
            picture.text([zero + 6.0, top + LINE * line as f64], style, heading);
        }
        picture.text([zero - 6.0, last], style.anchored(Anchor::End), self.left.unwrap_or_default());
        last
    }

    /// Writes the tick labels.
    pub fn ticks(&self, picture: &mut Picture, y: f64, style: TextStyle) {
        let write = |x: f64, label: &str| picture.text([x, y], style.anchored(Anchor::Middle), label);
        self.axis.label_ticks(|stops| self.x(stops), style.size, write);
    }

    /// Draws the grid lines, which lie under the bars.
    pub fn grid(&self, picture: &mut Picture, [top, bottom]: [f64; 2]) {
        for (value, _) in self.axis.ticks() {
            let x = self.x(*value);
            picture.line([x, top], [x, bottom], Pen::new(Colour::Faint, 1.0));
        }
    }

    /// Draws the zero line, over the bars.
    pub fn zero(&self, picture: &mut Picture, [top, bottom]: [f64; 2]) {
        let zero = self.x(0.0);
        picture.line([zero, top], [zero, bottom], Pen::new(Colour::Ink, 1.5));
    }

    /// Draws a light's bar and its error bar.
    pub fn draw(&self, picture: &mut Picture, y: f64, light: &RoleResult) {
        if let Some((stops, kind)) = value(light).zip(Kind::from_result(light)) {
            self.bar(picture, y, stops, kind);
        }
        if let Some(ends) = error_bar(light) {
            let ends = ends.map(|stops| (self.x(stops), self.axis.contains(stops)));
            if light.is_too_strong() {
                picture.error_bar(ends, y, HALO);
            }
            picture.error_bar(ends, y, ERROR_BAR);
        }
    }

    /// Draws a bar from zero, which ends in an arrow if it exceeds the axis.
    fn bar(&self, picture: &mut Picture, y: f64, stops: f64, kind: Kind) {
        let (zero, end) = (self.x(0.0), self.x(stops));
        let (fill, pen) = kind.style();
        picture.rectangle([zero, y - HALF], [end, y + HALF], fill, pen);
        if !self.axis.contains(stops) {
            let towards = stops.signum();
            picture.rectangle([end, y - HALF], [end - towards * ARROW, y + HALF], Colour::Paper, pen);
            picture.arrow_head([end - towards, y], [towards, 0.0], pen.colour);
        }
    }
}
