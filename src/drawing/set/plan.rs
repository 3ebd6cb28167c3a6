//! A plan of the set from above, to scale: lights as lettered circles, numbered points, and lines between them, on a
//! grid.

use crate::{
    drawing::{
        canvas::{
            colour::{Colour, Fill},
            labels::Labels,
            legend::Legend,
            sheet::{Anchor, NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
            text,
        },
        set::{MARGIN, Set, WIDTH, lights, places::LightPosition, surroundings},
    },
    light::{quantity::units::Units, set::geometry::Position},
    wording::{format, phrases::set_picture as words},
};

/// The largest size of the plan, px.
const MAX_SIZE: SheetPoint = [WIDTH - 2.0 * MARGIN - 60.0, 560.0];
const MIN_HEIGHT: f64 = 160.0;
const LEFT: f64 = MARGIN + 50.0;
/// The margin around lights and points, m; and the smallest margin, px, for the circles.
const PADDING: f64 = 0.6;
const MIN_PADDING: f64 = 30.0;
/// The most grid lines in one direction.
const GRID_LINES: f64 = 24.0;
/// The most lines from lights to points that stay legible. If there are more, each light has only the line to the point
/// where it gives the most light.
const MAX_LINES: usize = 40;
const STRONGEST: Pen = Pen::new(Colour::Data, 1.25);
const OTHER: Pen = Pen::new(Colour::Grey, 0.75).dashed("4 3");
const AIM: Pen = Pen::new(Colour::Ink, 2.0);

/// Converts positions in the room to points on the sheet.
pub struct Scale {
    /// The lower left corner of the plan in the room, m.
    from: SheetPoint,
    /// Pixels per metre.
    pub px: f64,
    /// The lower left corner of the plan on the sheet, px.
    corner: SheetPoint,
}

impl Scale {
    /// The place of a position on the sheet.
    pub fn to_sheet(&self, Position([x, y, _]): Position) -> SheetPoint {
        [self.corner[0] + (x - self.from[0]) * self.px, self.corner[1] - (y - self.from[1]) * self.px]
    }
}

/// Draws the plan from `top` down, if the position of at least one light and one point is known. Returns its lower
/// edge.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let lights = &set.places;
    let points: Vec<(usize, Position)> = set
        .scene
        .points
        .iter()
        .enumerate()
        .filter_map(|(index, point)| point.position.map(|position| (index, position)))
        .collect();
    if lights.is_empty() || points.is_empty() {
        return top;
    }
    let aims = lights.iter().filter_map(|placed_light| placed_light.aim);
    let all = lights.iter().map(|placed_light| placed_light.at);
    let all = all.chain(points.iter().map(|(_, at)| *at)).chain(aims).chain(surroundings::corners(set.scene));
    let mut low = [f64::MAX; 2];
    let mut high = [f64::MIN; 2];
    for Position([x, y, _]) in all {
        low = [low[0].min(x), low[1].min(y)];
        high = [high[0].max(x), high[1].max(y)];
    }
    // Pixels per metre at which both margins are kept: the one in metres and the one in pixels.
    let [in_metres, in_px] = [[PADDING, 0.0], [0.0, MIN_PADDING]].map(|[metres, px]| {
        let along = |axis: usize| (MAX_SIZE[axis] - 2.0 * px) / (high[axis] - low[axis] + 2.0 * metres);
        along(0).min(along(1))
    });
    let px = in_metres.min(in_px);
    let around = PADDING.max(MIN_PADDING / px);
    for axis in [0, 1] {
        low[axis] -= around;
        high[axis] += around;
    }
    let size = [high[0] - low[0], high[1] - low[1]];
    let height = (size[1] * px).max(MIN_HEIGHT);
    // A narrow plan is centred.
    let spare = [(MAX_SIZE[0] / px - size[0]) / 2.0, (height / px - size[1]) / 2.0];
    let from = [low[0] - spare[0], low[1] - spare[1]];
    let to = [high[0] + spare[0], high[1] + spare[1]];
    picture.text([MARGIN, top + 12.0], TextStyle::new(NORMAL).bold(), words::PLAN);
    let frame = legend(picture, set, top) + 8.0;
    let scale = Scale { from, px, corner: [LEFT, frame + height] };
    grid(picture, &scale, to, set.units);
    let mut labels = Labels::default();
    let within = [[LEFT, frame], [LEFT + MAX_SIZE[0], scale.corner[1]]];
    surroundings::draw(picture, &mut labels, set.scene, &scale, within);
    let marks: Vec<SheetPoint> = points.iter().map(|(_, at)| scale.to_sheet(*at)).collect();
    let places = circles(lights, &marks, &scale, within);
    for place in &places {
        labels.reserve(*place, [15.0, 15.0]);
    }
    lines(picture, set, &scale);
    for mark in &marks {
        labels.mark(*mark, 5.0);
    }
    for (((index, _), mark), point) in
        points.iter().zip(&marks).zip(points.iter().map(|(index, _)| &set.scene.points[*index]))
    {
        let facing = point
            .normal
            .and_then(|normal| arrow(picture, *mark, normal.0, 22.0, Pen::new(Colour::Ink, 1.25)));
        if let Some(tip) = facing {
            labels.reserve(tip, [5.0, 5.0]);
        }
        picture.rectangle(
            [mark[0] - 4.0, mark[1] - 4.0],
            [mark[0] + 4.0, mark[1] + 4.0],
            Colour::Ink,
            Pen::new(Colour::Paper, 1.0),
        );
        let style = TextStyle::new(SMALL).bold();
        let number = (index + 1).to_string();
        let named = format!("{number} {}", text::shortened(&point.name, SMALL, 120.0));
        let is_labelled = labels.beside(picture, *mark, 8.0, style, &named, within)
            || labels.beside(picture, *mark, 8.0, style, &number, within);
        if !is_labelled {
            labels.with_leader(picture, *mark, style, &number, within);
        }
    }
    for (placed_light, place) in lights.iter().zip(&places) {
        let true_place = scale.to_sheet(placed_light.at);
        picture.line(true_place, *place, Pen::new(Colour::Ink, 0.75));
        picture.circle(true_place, 2.5, Colour::Ink, Pen::new(Colour::Ink, 0.0));
    }
    for (placed_light, place) in lights.iter().zip(&places) {
        let letter = lights::place_letter(placed_light);
        lights::circle(picture, *place, &letter, is_off(set, placed_light), is_lamp(set, placed_light));
    }
    scale.corner[1] + 54.0
}

fn is_off(set: &Set<'_>, placed_light: &LightPosition) -> bool {
    set.settings[placed_light.light].is_off
}

fn is_lamp(set: &Set<'_>, placed_light: &LightPosition) -> bool {
    set.scene.lights[placed_light.light].unit.lamp.is_some()
}

/// Draws the legend of what the plan has. Returns its lower edge.
fn legend(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let mut legend = Legend::new([MARGIN + 210.0, top + 8.0], WIDTH - MARGIN);
    legend.line(picture, words::STRONGEST, STRONGEST);
    legend.line(picture, words::OTHER_POINTS, OTHER);
    legend.line(picture, words::AIM, AIM);
    surroundings::explain(picture, set.scene, &mut legend);
    if set.places.iter().any(|placed_light| is_lamp(set, placed_light)) {
        legend.add(picture, words::LAMP, |picture, at| lights::circle(picture, at, "", false, true));
    }
    for (index, pack) in set.scene.packs.iter().enumerate() {
        let heads: Vec<String> = set.scene.heads(index).map(lights::letter).collect();
        if !heads.is_empty() {
            legend.text(picture, &words::heads_of(&pack.name, &heads));
        }
    }
    if set.places.iter().any(|placed_light| is_off(set, placed_light)) {
        legend.add(picture, words::LIGHT_OFF, |picture, at| lights::circle(picture, at, "", true, false));
    }
    legend.bottom()
}

/// The centre of each light's circle: its position, or beside it if another circle or a point is there.
fn circles(
    lights: &[LightPosition],
    marks: &[SheetPoint],
    scale: &Scale,
    [low, high]: [SheetPoint; 2],
) -> Vec<SheetPoint> {
    const DIRECTIONS: [SheetPoint; 8] = [
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
    for placed_light in lights {
        let [x, y] = scale.to_sheet(placed_light.at);
        let around = (1..6).flat_map(|ring| {
            DIRECTIONS
                .map(|[right, down]| [x + right * 30.0 * f64::from(ring), y + down * 30.0 * f64::from(ring)])
        });
        let is_inside = |[x, y]: &SheetPoint| *x > low[0] && *x < high[0] && *y > low[1] && *y < high[1];
        let is_free = |candidate: &SheetPoint| {
            let far = |[x, y]: &SheetPoint| (x - candidate[0]).hypot(y - candidate[1]);
            is_inside(candidate)
                && placed.iter().all(|other| far(other) >= 29.0)
                && marks.iter().all(|mark| far(mark) >= 18.0)
        };
        let place = std::iter::once([x, y]).chain(around).find(is_free).unwrap_or([x, y]);
        placed.push(place);
    }
    placed
}

/// Draws lines from lights to the points that they light, and arrows for their aim.
fn lines(picture: &mut Picture, set: &Set<'_>, scale: &Scale) {
    let given = |light: usize, point: usize| set.points.get(point)?.shares.get(light)?.stops;
    let pairs = set
        .places
        .iter()
        .flat_map(|placed_light| placed_light.points.iter().map(move |point| (placed_light, *point)));
    let lit: Vec<_> =
        pairs.filter(|(placed_light, point)| given(placed_light.light, *point).is_some()).collect();
    let is_strongest = |placed_light: &LightPosition, point: usize| {
        let lights = |other: &usize| given(placed_light.light, *other) <= given(placed_light.light, point);
        placed_light.points.iter().all(lights)
    };
    for (placed_light, point) in &lit {
        let strongest = is_strongest(placed_light, *point);
        if lit.len() > MAX_LINES && !strongest {
            continue;
        }
        let pen = if strongest { STRONGEST } else { OTHER };
        if let Some(at) = set.scene.points[*point].position {
            picture.line(scale.to_sheet(placed_light.at), scale.to_sheet(at), pen);
        }
    }
    for placed_light in &set.places {
        if let Some(aim) = placed_light.aim {
            let along = [0, 1, 2].map(|axis| aim.0[axis] - placed_light.at.0[axis]);
            arrow(picture, scale.to_sheet(placed_light.at), along, 34.0, AIM);
        }
    }
}

/// Draws the horizontal direction as an arrow. Returns its tip, or `None` if it points straight up or down.
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

/// Draws the grid, with coordinates at the edges.
fn grid(picture: &mut Picture, scale: &Scale, to: SheetPoint, units: Units) {
    let metres = units.metres(1.0).get();
    let span = (to[0] - scale.from[0]).max(to[1] - scale.from[1]) / metres;
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];
    let step = steps.into_iter().find(|step| span / step <= GRID_LINES).unwrap_or(1000.0);
    let across = |from: f64, to: f64| {
        let (first, last) = ((from / metres / step).ceil() as i64, (to / metres / step).floor() as i64);
        (first..=last).map(move |line| line as f64 * step)
    };
    let style = TextStyle::new(SMALL).in_colour(Colour::Grey);
    let [left, bottom] = scale.corner;
    let [right, top] = scale.to_sheet(Position([to[0], to[1], 0.0]));
    let mut before = f64::MIN;
    for value in across(scale.from[0], to[0]) {
        let [x, _] = scale.to_sheet(Position([value * metres, 0.0, 0.0]));
        picture.line([x, top], [x, bottom], Pen::new(Colour::Faint, 1.0));
        let label = format::number(value);
        if x - before > text::width(&label, SMALL) + 8.0 {
            picture.text([x, bottom + 18.0], style.anchored(Anchor::Middle), &label);
            before = x;
        }
    }
    for value in across(scale.from[1], to[1]) {
        let [_, y] = scale.to_sheet(Position([0.0, value * metres, 0.0]));
        picture.line([left, y], [right, y], Pen::new(Colour::Faint, 1.0));
        if step * metres * scale.px > 18.0 {
            picture.text([left - 6.0, y + 4.0], style.anchored(Anchor::End), &format::number(value));
        }
    }
    picture.rectangle([left, top], [right, bottom], Fill::None, Pen::new(Colour::Ink, 1.0));
    picture.text(
        [f64::midpoint(left, right), bottom + 42.0],
        TextStyle::new(NORMAL).anchored(Anchor::Middle),
        &words::plan_x(units, step),
    );
    picture.vertical_text(
        [MARGIN + 10.0, f64::midpoint(top, bottom)],
        TextStyle::new(NORMAL).anchored(Anchor::Middle),
        &words::plan_y(units),
    );
}
