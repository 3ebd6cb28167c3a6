//! A plan of the set from above, to scale: lights as lettered circles, points by their numbers, lines between them, on
//! a grid.

use crate::{
    drawing::{
        canvas::{
            labels::Labels,
            legend::Legend,
            sheet::{Anchor, BLUE, FAINT, GREY, INK, PAPER, Pen, Picture, SMALL, SheetPoint, Type, USUAL},
            text,
        },
        set::{MARGIN, Set, WIDTH, lights, places::Standing},
    },
    light::{quantity::units::Units, set::geometry::Position},
};

/// Room for the plan, px.
const MOST: SheetPoint = [WIDTH - 2.0 * MARGIN - 60.0, 560.0];
const LEAST_HEIGHT: f64 = 160.0;
const LEFT: f64 = MARGIN + 50.0;
/// Around all that stands in it, m; and px at the least, for the circles.
const AROUND: f64 = 0.6;
const LEAST_AROUND: f64 = 26.0;
/// Lines of the grid in one direction.
const GRID_LINES: f64 = 24.0;
/// Bearing lines that can still be told apart; where there are more, each light has one, to the point that it gives
/// the most.
const LINES: usize = 40;
const MOST_LIT: Pen = Pen::new(BLUE, 1.25);
const LIT: Pen = Pen::new(GREY, 0.75).dashed("4 3");
const AIM: Pen = Pen::new(INK, 2.0);

/// From places in the room to places on the sheet.
struct Scale {
    /// The room's lower left corner, m.
    from: SheetPoint,
    /// Pixels a metre.
    px: f64,
    /// The sheet's lower left corner of the plan.
    corner: SheetPoint,
}

impl Scale {
    fn at(&self, Position([x, y, _]): Position) -> SheetPoint {
        [self.corner[0] + (x - self.from[0]) * self.px, self.corner[1] - (y - self.from[1]) * self.px]
    }
}

/// Draws the plan from `top` down, where any light's and any point's place is known; answers where it ends.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let lamps = &set.places;
    let spots: Vec<(usize, Position)> = set
        .scene
        .spots
        .iter()
        .enumerate()
        .filter_map(|(index, spot)| spot.position.map(|position| (index, position)))
        .collect();
    if lamps.is_empty() || spots.is_empty() {
        return top;
    }
    let aims = lamps.iter().filter_map(|standing| standing.aim);
    let all = lamps.iter().map(|standing| standing.at).chain(spots.iter().map(|(_, at)| *at)).chain(aims);
    let mut low = [f64::MAX; 2];
    let mut high = [f64::MIN; 2];
    for Position([x, y, _]) in all {
        low = [low[0].min(x), low[1].min(y)];
        high = [high[0].max(x), high[1].max(y)];
    }
    // Pixels a metre where all is as far from the frame as it should be, in metres and in pixels.
    let [in_metres, in_px] = [[AROUND, 0.0], [0.0, LEAST_AROUND]].map(|[metres, px]| {
        let along = |axis: usize| (MOST[axis] - 2.0 * px) / (high[axis] - low[axis] + 2.0 * metres);
        along(0).min(along(1))
    });
    let px = in_metres.min(in_px);
    let around = AROUND.max(LEAST_AROUND / px);
    for axis in [0, 1] {
        low[axis] -= around;
        high[axis] += around;
    }
    let size = [high[0] - low[0], high[1] - low[1]];
    let height = (size[1] * px).max(LEAST_HEIGHT);
    // What is narrow stands in the middle of its sheet.
    let spare = [(MOST[0] / px - size[0]) / 2.0, (height / px - size[1]) / 2.0];
    let from = [low[0] - spare[0], low[1] - spare[1]];
    let to = [high[0] + spare[0], high[1] + spare[1]];
    picture.text([MARGIN, top + 12.0], Type::new(USUAL).bold(), "The set from above");
    let mut legend = Legend::new([MARGIN + 170.0, top + 8.0], WIDTH - MARGIN);
    legend.line(picture, "where a light gives most", MOST_LIT);
    legend.line(picture, "other points it lights", LIT);
    legend.line(picture, "aim, or facing", AIM);
    let is_off = |lamp: usize| set.settings[lamp].is_off;
    if lamps.iter().any(|standing| is_off(standing.lamp)) {
        legend.add(picture, "off", |picture, at| lights::circle(picture, at, "", true));
    }
    let frame = legend.bottom() + 8.0;
    let scale = Scale { from, px, corner: [LEFT, frame + height] };
    grid(picture, &scale, to, set.units);
    let mut labels = Labels::default();
    let within = [[LEFT, frame], [LEFT + MOST[0], scale.corner[1]]];
    let marks: Vec<SheetPoint> = spots.iter().map(|(_, at)| scale.at(*at)).collect();
    let places = circles(lamps, &marks, &scale, within);
    for place in &places {
        labels.keep_free(*place, [13.0, 13.0]);
    }
    lines(picture, set, &scale);
    for mark in &marks {
        labels.mark(*mark, 5.0);
    }
    for (((index, _), mark), spot) in
        spots.iter().zip(&marks).zip(spots.iter().map(|(index, _)| &set.scene.spots[*index]))
    {
        let facing =
            spot.normal.and_then(|normal| arrow(picture, *mark, normal.0, 22.0, Pen::new(INK, 1.25)));
        if let Some(tip) = facing {
            labels.keep_free(tip, [5.0, 5.0]);
        }
        picture.rectangle(
            [mark[0] - 4.0, mark[1] - 4.0],
            [mark[0] + 4.0, mark[1] + 4.0],
            INK,
            Pen::new(PAPER, 1.0),
        );
        let style = Type::new(SMALL).bold();
        let number = (index + 1).to_string();
        let named = format!("{number} {}", text::fitted(&spot.name, SMALL, 120.0));
        let told = labels.beside(picture, *mark, 8.0, style, &named, within)
            || labels.beside(picture, *mark, 8.0, style, &number, within);
        if !told {
            labels.led(picture, *mark, style, &number, within);
        }
    }
    for (standing, place) in lamps.iter().zip(&places) {
        let true_place = scale.at(standing.at);
        picture.line(true_place, *place, Pen::new(INK, 0.75));
        picture.circle(true_place, 2.5, INK, Pen::new(INK, 0.0));
    }
    for (standing, place) in lamps.iter().zip(&places) {
        lights::circle(picture, *place, &lights::place_letter(standing), is_off(standing.lamp));
    }
    scale.corner[1] + 42.0
}

/// Where each light's circle is drawn: at its place, or beside it where another's or a point is.
fn circles(
    lamps: &[Standing],
    marks: &[SheetPoint],
    scale: &Scale,
    [low, high]: [SheetPoint; 2],
) -> Vec<SheetPoint> {
    const ROUND: [SheetPoint; 8] = [
        [1.0, 0.0],
        [0.0, -1.0],
        [-1.0, 0.0],
        [0.0, 1.0],
        [0.7, -0.7],
        [-0.7, -0.7],
        [-0.7, 0.7],
        [0.7, 0.7],
    ];
    let mut placed: Vec<SheetPoint> = Vec::new();
    for standing in lamps {
        let [x, y] = scale.at(standing.at);
        let around = (1..6).flat_map(|ring| {
            ROUND.map(|[right, down]| [x + right * 26.0 * f64::from(ring), y + down * 26.0 * f64::from(ring)])
        });
        let is_inside = |[x, y]: &SheetPoint| *x > low[0] && *x < high[0] && *y > low[1] && *y < high[1];
        let is_free = |spot: &SheetPoint| {
            let far = |[x, y]: &SheetPoint| (x - spot[0]).hypot(y - spot[1]);
            is_inside(spot)
                && placed.iter().all(|other| far(other) >= 25.0)
                && marks.iter().all(|mark| far(mark) >= 16.0)
        };
        let place = std::iter::once([x, y]).chain(around).find(is_free).unwrap_or([x, y]);
        placed.push(place);
    }
    placed
}

/// Lines from lights to the points that they light, and arrows where they are aimed.
fn lines(picture: &mut Picture, set: &Set<'_>, scale: &Scale) {
    let given = |lamp: usize, spot: usize| set.points.get(spot)?.parts.get(lamp)?.stops;
    let pairs =
        set.places.iter().flat_map(|standing| standing.points.iter().map(move |spot| (standing, *spot)));
    let lit: Vec<_> = pairs.filter(|(standing, spot)| given(standing.lamp, *spot).is_some()).collect();
    let is_strongest = |standing: &Standing, spot: usize| {
        let lights = |other: &usize| given(standing.lamp, *other) <= given(standing.lamp, spot);
        standing.points.iter().all(lights)
    };
    for (standing, spot) in &lit {
        let strongest = is_strongest(standing, *spot);
        if lit.len() > LINES && !strongest {
            continue;
        }
        let pen = if strongest { MOST_LIT } else { LIT };
        if let Some(at) = set.scene.spots[*spot].position {
            picture.line(scale.at(standing.at), scale.at(at), pen);
        }
    }
    for standing in &set.places {
        if let Some(aim) = standing.aim {
            let along = [0, 1, 2].map(|axis| aim.0[axis] - standing.at.0[axis]);
            arrow(picture, scale.at(standing.at), along, 34.0, AIM);
        }
    }
}

/// An arrow along the floor, and its tip; none for what points straight up or down.
fn arrow(
    picture: &mut Picture,
    [x, y]: SheetPoint,
    [right, away, _]: [f64; 3],
    length: f64,
    pen: Pen,
) -> Option<SheetPoint> {
    let size = right.hypot(away);
    if size < 1e-9 {
        return None;
    }
    let [dx, dy] = [right / size, -away / size];
    let tip = [x + dx * length, y + dy * length];
    picture.line([x, y], [tip[0] - dx * 7.0, tip[1] - dy * 7.0], pen);
    picture.arrow_head(tip, [dx, dy], pen.colour);
    Some(tip)
}

/// A grid, its coordinates at the edges.
fn grid(picture: &mut Picture, scale: &Scale, to: SheetPoint, units: Units) {
    let (unit, metres) = (units.unit(), units.metres(1.0).get());
    let span = (to[0] - scale.from[0]).max(to[1] - scale.from[1]) / metres;
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];
    let step = steps.into_iter().find(|step| span / step <= GRID_LINES).unwrap_or(1000.0);
    let across = |from: f64, to: f64| {
        let (first, last) = ((from / metres / step).ceil() as i64, (to / metres / step).floor() as i64);
        (first..=last).map(move |line| line as f64 * step)
    };
    let style = Type::new(SMALL).in_colour(GREY);
    let [left, bottom] = scale.corner;
    let [right, top] = scale.at(Position([to[0], to[1], 0.0]));
    let mut before = f64::MIN;
    for value in across(scale.from[0], to[0]) {
        let [x, _] = scale.at(Position([value * metres, 0.0, 0.0]));
        picture.line([x, top], [x, bottom], Pen::new(FAINT, 1.0));
        let said = text::number(value);
        if x - before > text::width(&said, SMALL) + 8.0 {
            picture.text([x, bottom + 14.0], style.at(Anchor::Middle), &said);
            before = x;
        }
    }
    for value in across(scale.from[1], to[1]) {
        let [_, y] = scale.at(Position([0.0, value * metres, 0.0]));
        picture.line([left, y], [right, y], Pen::new(FAINT, 1.0));
        if step * metres * scale.px > 14.0 {
            picture.text([left - 6.0, y + 4.0], style.at(Anchor::End), &text::number(value));
        }
    }
    picture.rectangle([left, top], [right, bottom], "none", Pen::new(INK, 1.0));
    let said = format!("x, {unit}; grid of {} {unit}", text::number(step));
    picture.text([f64::midpoint(left, right), bottom + 32.0], Type::new(USUAL).at(Anchor::Middle), &said);
    picture.text_upwards(
        [MARGIN + 8.0, f64::midpoint(top, bottom)],
        Type::new(USUAL).at(Anchor::Middle),
        &format!("y, away, {unit}"),
    );
}
