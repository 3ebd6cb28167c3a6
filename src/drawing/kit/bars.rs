//! Bars from zero: to the left what is lacking, to the right what is to spare or too much.

use crate::{
    drawing::canvas::{
        axis::Axis,
        hatches::HATCHED,
        legend::Legend,
        sheet::{Anchor, FAINT, INK, PAPER, Pen, Picture, RIGHT, Type, WRONG},
    },
    light::kit::{KitCheck, RoleResult},
};

const HALF: f64 = 5.5;
/// Stops that bars and whiskers show at the most, either way; the words tell all.
const MOST: f64 = 15.0;
/// What is cut off at an end of the axis has an arrow in so much of it, px.
const CUT: f64 = 11.0;
const WHISKER: Pen = Pen::new(INK, 1.5);
/// Paper around a whisker, so that it is seen on a dark bar.
const AROUND: Pen = Pen::new(PAPER, 4.0);

/// How a bar looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Spare,
    Lacks,
    /// Filled to the brim, unlike what is lacking.
    TooStrong,
}

impl Kind {
    /// Of a light that has a unit.
    fn of(light: &RoleResult) -> Option<Self> {
        light.error_stops?;
        Some(match light {
            light if light.is_too_strong() => Self::TooStrong,
            light if light.is_missed() => Self::Lacks,
            _ => Self::Spare,
        })
    }

    const fn look(self) -> (&'static str, Pen) {
        match self {
            Self::Spare => (RIGHT, Pen::new(INK, 1.0)),
            Self::Lacks => (HATCHED, Pen::new(WRONG, 1.5)),
            Self::TooStrong => (WRONG, Pen::new(WRONG, 1.5)),
        }
    }

    const fn meaning(self) -> &'static str {
        match self {
            Self::Spare => "to spare at full power",
            Self::Lacks => "lacks light at full power",
            Self::TooStrong => "too strong at its least setting",
        }
    }
}

/// Where the end of a light's bar is, stops: beyond zero to the side on which it misses.
pub fn stands(light: &RoleResult) -> Option<f64> {
    Some(match Kind::of(light)? {
        Kind::Spare => light.headroom_stops?.get(),
        Kind::Lacks => -light.shortfall_stops.get(),
        Kind::TooStrong => light.excess_stops.get(),
    })
}

/// From where to where it may be, stops.
pub fn whisker(light: &RoleResult) -> Option<[f64; 2]> {
    let (end, spread) = (stands(light)?, light.uncertainty_stops?);
    Some([spread.low, spread.high].map(|off| end + off.get()))
}

/// Adds what the bars mean that there are.
pub fn legend(
    legend: &mut Legend,
    picture: &mut Picture,
    any: impl Fn(&dyn Fn(&RoleResult) -> bool) -> bool,
) {
    for kind in [Kind::Spare, Kind::Lacks, Kind::TooStrong] {
        if any(&|light| Kind::of(light) == Some(kind)) {
            let (fill, pen) = kind.look();
            legend.swatch(picture, kind.meaning(), HALF, fill, pen);
        }
    }
    if any(&|light| whisker(light).is_some()) {
        legend.whisker(picture, WHISKER);
    }
}

/// The field of all bars.
pub struct Bars {
    axis: Axis,
    /// From where to where, px.
    field: [f64; 2],
    /// What its left side means, if anything.
    left: Option<&'static str>,
    /// And its right side.
    right: Vec<&'static str>,
}

impl Bars {
    /// As long as an answer wants it.
    pub fn of(answer: &KitCheck, field: [f64; 2]) -> Self {
        let lights = || answer.shots.iter().flat_map(|shot| &shot.lights);
        let ends =
            lights().flat_map(|light| stands(light).into_iter().chain(whisker(light).into_iter().flatten()));
        let ends: Vec<f64> = ends.map(|stops| stops.clamp(-MOST, MOST)).collect();
        let has = |kind| lights().any(|light| Kind::of(light) == Some(kind));
        let left = ends.iter().any(|stops| *stops < 0.0).then_some("lacks");
        let right = [(Kind::Spare, "to spare"), (Kind::TooStrong, "too strong")];
        let right: Vec<_> = right.into_iter().filter(|(kind, _)| has(*kind)).map(|(_, said)| said).collect();
        // Whole stops at the least, to the sides that mean something.
        let least = [
            if left.is_some() { -1.0 } else { 0.0 },
            if right.is_empty() && left.is_some() { 0.0 } else { 2.0 },
        ];
        Self { axis: Axis::of_stops("", ends.into_iter().chain(least), 4), field, left, right }
    }

    /// Where stops stand, to the right; at an end if beyond.
    fn at(&self, stops: f64) -> f64 {
        let [left, right] = self.field;
        left + (right - left) * self.axis.part(stops).clamp(0.0, 1.0)
    }

    /// Writes above all what its sides mean, from `top` down; answers where its last line stands.
    pub fn head(&self, picture: &mut Picture, top: f64, style: Type) -> f64 {
        const LINE: f64 = 13.0;
        let zero = self.at(0.0);
        let last = top + LINE * self.right.len().saturating_sub(1) as f64;
        for (line, said) in self.right.iter().enumerate() {
            picture.text([zero + 6.0, top + LINE * line as f64], style, said);
        }
        picture.text([zero - 6.0, last], style.at(Anchor::End), self.left.unwrap_or_default());
        last
    }

    /// Writes its ticks.
    pub fn ticks(&self, picture: &mut Picture, y: f64, style: Type) {
        let write = |x: f64, said: &str| picture.text([x, y], style.at(Anchor::Middle), said);
        self.axis.along(|stops| self.at(stops), style.size, write);
    }

    /// Draws lines to read by, under the bars.
    pub fn grid(&self, picture: &mut Picture, [top, bottom]: [f64; 2]) {
        for (value, _) in self.axis.ticks() {
            let x = self.at(*value);
            picture.line([x, top], [x, bottom], Pen::new(FAINT, 1.0));
        }
    }

    /// Draws the line that the bars begin at, over them.
    pub fn zero(&self, picture: &mut Picture, [top, bottom]: [f64; 2]) {
        let zero = self.at(0.0);
        picture.line([zero, top], [zero, bottom], Pen::new(INK, 1.5));
    }

    /// Draws a light's bar, and how far that may be off.
    pub fn draw(&self, picture: &mut Picture, y: f64, light: &RoleResult) {
        if let Some((stops, kind)) = stands(light).zip(Kind::of(light)) {
            self.bar(picture, y, stops, kind);
        }
        if let Some(ends) = whisker(light) {
            let ends = ends.map(|stops| (self.at(stops), self.axis.holds(stops)));
            if light.is_too_strong() {
                picture.whisker(ends, y, AROUND);
            }
            picture.whisker(ends, y, WHISKER);
        }
    }

    /// A bar from zero; beyond the axis it ends in an arrow.
    fn bar(&self, picture: &mut Picture, y: f64, stops: f64, kind: Kind) {
        let (zero, end) = (self.at(0.0), self.at(stops));
        let (fill, pen) = kind.look();
        picture.rectangle([zero, y - HALF], [end, y + HALF], fill, pen);
        if !self.axis.holds(stops) {
            let towards = stops.signum();
            picture.rectangle([end, y - HALF], [end - towards * CUT, y + HALF], PAPER, pen);
            picture.arrow_head([end - towards, y], [towards, 0.0], pen.colour);
        }
    }
}
