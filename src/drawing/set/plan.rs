//! A plan of the set from above, to scale: beams and faces, lights by their letters, points, the camera, and what stands
//! around them.

use crate::{
    drawing::{
        canvas::{
            colour::{Colour, Fill},
            labels::Labels,
            legend::Legend,
            marks::{self, HALF, letter},
            paragraph,
            sheet::{NORMAL, Pen, Picture, SMALL, SheetPoint, TextStyle},
        },
        set::{Set, beams, places::LightPosition, surroundings},
    },
    light::{
        quantity::units::Units,
        set::{
            geometry::Position,
            polygon::{self, Side},
        },
    },
    wording::phrases::{plan_picture as words, set_picture},
};

/// The greatest height of the plan, px; on a phone it may be as high as it is wide.
const MAX_HEIGHT: f64 = 560.0;
const MIN_HEIGHT: f64 = 180.0;
/// The margin around lights and points, m; and the smallest margin, px, for marks and their names.
const PADDING: f64 = 0.4;
const MIN_PADDING: f64 = 40.0;
/// What stands no farther from the set than this part of its size, or this many metres, is in the plan.
const NEAR: f64 = 0.25;
const NEAR_M: f64 = 1.0;
/// The most positions of lights.
const MAX_PLACES: usize = 48;
/// The most points that show which way they face.
pub const MAX_FACING: usize = 24;
/// The longest name in the plan, px.
const NAME: f64 = 120.0;
const FACING: Pen = Pen::new(Colour::Ink, 1.25);

/// Converts positions in the room to points on the sheet.
pub struct Scale {
    /// The lower left corner of the plan in the room, m.
    from: SheetPoint,
    /// Pixels per metre.
    pub px: f64,
    /// The upper left and lower right corners of the plan on the sheet, px.
    pub within: [SheetPoint; 2],
}

impl Scale {
    /// The scale at which a range of the room, m, fills the sheet below `top`.
    fn new(picture: &Picture, top: f64, [low, high]: [SheetPoint; 2]) -> Self {
        let room = picture.room();
        let max = [room, MAX_HEIGHT.min(room)];
        // Pixels per metre at which both margins are kept: the one in metres and the one in pixels.
        let [in_metres, in_px] = [[PADDING, 0.0], [0.0, MIN_PADDING]].map(|[metres, px]| {
            let along =
                |axis: usize| (max[axis] - 2.0 * px) / (high[axis] - low[axis] + 2.0 * metres).max(PADDING);
            along(0).min(along(1))
        });
        let px = in_metres.min(in_px);
        let around = PADDING.max(MIN_PADDING / px);
        let height = ((high[1] - low[1] + 2.0 * around) * px).clamp(MIN_HEIGHT, max[1].max(MIN_HEIGHT));
        // A narrow plan is centred.
        let from = [(low[0] + high[0] - room / px) / 2.0, (low[1] + high[1] - height / px) / 2.0];
        Self { from, px, within: [[picture.left(), top], [picture.right(), top + height]] }
    }

    /// The place of a position on the sheet.
    pub fn to_sheet(&self, Position([x, y, _]): Position) -> SheetPoint {
        let [[left, _], [_, bottom]] = self.within;
        [left + (x - self.from[0]) * self.px, bottom - (y - self.from[1]) * self.px]
    }

    /// The part of a shape that lies in the plan; no corners if there is none.
    pub fn clipped(&self, shape: &[SheetPoint]) -> Vec<SheetPoint> {
        let [[left, top], [right, bottom]] = self.within;
        let sides = [
            Side::through([left, top, 0.0], [1.0, 0.0, 0.0]),
            Side::through([left, top, 0.0], [0.0, 1.0, 0.0]),
            Side::through([right, bottom, 0.0], [-1.0, 0.0, 0.0]),
            Side::through([right, bottom, 0.0], [0.0, -1.0, 0.0]),
        ];
        let flat = shape.iter().map(|[x, y]| [*x, *y, 0.0]).collect();
        let left = sides.iter().fold(flat, |shape: Vec<_>, side| polygon::clipped(&shape, side));
        left.into_iter().map(|[x, y, _]| [x, y]).collect()
    }
}

/// Draws the plan from `top` down, if the position of at least one light and one point is known. Returns the position of
/// the next line.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    if !set.has_plan() {
        return top;
    }
    // The first positions of all lights come first.
    let mut places = set.places.clone();
    places.sort_by_key(|place| place.number);
    let more = places.len().saturating_sub(MAX_PLACES);
    places.truncate(MAX_PLACES);
    let style = TextStyle::new(NORMAL).bold().without_halo();
    picture.text([picture.left(), top], style, words::PLAN);
    let scale = Scale::new(picture, top + 10.0, extent(set, &places));
    let [from, to] = scale.within;
    beams::beams(picture, set, &places, &scale);
    surroundings::draw(picture, set.scene, &scale);
    beams::faces(picture, set, &places, &scale);
    picture.rectangle(from, to, Fill::None, Pen::new(Colour::Grey, 1.0));
    let mut labels = Labels::default();
    surroundings::reserve(&mut labels, set.scene, &scale);
    let marks = points(picture, &mut labels, set, &scale);
    let circles = lights(picture, &mut labels, set, &places, &marks, &scale);
    let camera = set.scene.camera.as_ref().map(|camera| {
        let at = beams::camera(picture, camera, &scale);
        labels.mark(at, 11.0);
        at
    });
    let style = TextStyle::new(SMALL);
    for (place, at) in places.iter().zip(&circles) {
        let name = style.shortened(&set.scene.lights[place.light].name, NAME);
        let named = words::light_and_setting(&name, &set.settings[place.light].label);
        labels.beside(picture, *at, HALF + 3.0, style.bold(), &named, scale.within);
    }
    for (index, mark) in &marks {
        let number = (index + 1).to_string();
        let named = format!("{number} {}", style.shortened(&set.scene.points[*index].name, NAME));
        let is_named = [&named, &number]
            .into_iter()
            .any(|label| labels.beside(picture, *mark, 8.0, style, label, scale.within));
        if !is_named {
            labels.with_leader(picture, *mark, style, &number, scale.within);
        }
    }
    if let Some(at) = camera {
        labels.beside(picture, at, 13.0, style, words::CAMERA, scale.within);
    }
    surroundings::name(picture, &mut labels, set.scene, &scale);
    let y = scale_bar(picture, &scale, set, to[1] + 20.0);
    let y = legend(picture, set, &places, &scale, y + 6.0);
    let more = if more > 0 { words::more_positions(more) } else { String::new() };
    paragraph::details(picture, y + 18.0, &more) + 4.0
}

/// The least and the greatest coordinates of lights, points and camera, and of what stands near them: a far wall does not
/// shrink the set.
fn extent(set: &Set<'_>, places: &[LightPosition]) -> [SheetPoint; 2] {
    let lights = places.iter().map(|place| place.at);
    let points = set.scene.points.iter().filter_map(|point| point.position);
    let all = lights.chain(points).chain(set.scene.camera.map(|camera| camera.position));
    let around = |range: [SheetPoint; 2], Position([x, y, _]): Position| {
        let [low, high] = range;
        [[low[0].min(x), low[1].min(y)], [high[0].max(x), high[1].max(y)]]
    };
    let [low, high] = all.fold([[f64::MAX; 2], [f64::MIN; 2]], around);
    let near = (NEAR * (high[0] - low[0]).max(high[1] - low[1])).max(NEAR_M);
    let is_near = |Position([x, y, _]): &Position| {
        let is_within = |axis: usize, at: f64| at > low[axis] - near && at < high[axis] + near;
        is_within(0, *x) && is_within(1, *y)
    };
    let near = surroundings::corners(set.scene).into_iter().filter(is_near);
    near.chain(beams::edges(set, places)).fold([low, high], around)
}

/// Draws the points and the way each faces. Returns their indices and where they are.
fn points(
    picture: &mut Picture,
    labels: &mut Labels,
    set: &Set<'_>,
    scale: &Scale,
) -> Vec<(usize, SheetPoint)> {
    let points = set.scene.points.iter().enumerate();
    let marks = points.filter_map(|(index, point)| Some((index, scale.to_sheet(point.position?))));
    let marks: Vec<_> = marks.collect();
    for (index, mark) in &marks {
        // Of many points the arrows would hide each other.
        let normal = set.scene.points[*index].normal.filter(|_| marks.len() <= MAX_FACING);
        if let Some(tip) = normal.and_then(|normal| arrow(picture, *mark, normal.0, 22.0, FACING)) {
            labels.reserve(tip, [5.0, 5.0]);
        }
        labels.mark(*mark, 5.0);
    }
    for (_, [x, y]) in &marks {
        picture.rectangle([x - 4.0, y - 4.0], [x + 4.0, y + 4.0], Colour::Ink, Pen::new(Colour::Paper, 1.0));
    }
    marks
}

/// Draws the lights. Returns where their letters are.
fn lights(
    picture: &mut Picture,
    labels: &mut Labels,
    set: &Set<'_>,
    places: &[LightPosition],
    marks: &[(usize, SheetPoint)],
    scale: &Scale,
) -> Vec<SheetPoint> {
    let circles = circles(places, marks, scale);
    for (place, at) in places.iter().zip(&circles) {
        let true_place = scale.to_sheet(place.at);
        if (true_place[0] - at[0]).hypot(true_place[1] - at[1]) > 0.5 {
            picture.line(true_place, *at, Pen::new(Colour::Ink, 0.75));
            picture.circle(true_place, 2.5, Colour::Ink, Pen::new(Colour::Ink, 0.0));
        }
    }
    for (place, at) in places.iter().zip(&circles) {
        let pen = if set.settings[place.light].is_off { marks::OFF } else { marks::ON };
        marks::lettered(picture, *at, place.light, &place_letter(place), pen);
        labels.mark(*at, HALF + 1.0);
    }
    circles
}

/// The letter of a light at one of its positions: A, A′, A″, A3 and so on.
fn place_letter(place: &LightPosition) -> String {
    let letter = letter(place.light);
    match place.number {
        0 => letter,
        1 => format!("{letter}′"),
        2 => format!("{letter}″"),
        more => format!("{letter}{more}"),
    }
}

/// The centre of each light's mark: its position, or beside it if another mark is there.
fn circles(places: &[LightPosition], marks: &[(usize, SheetPoint)], scale: &Scale) -> Vec<SheetPoint> {
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
    let [low, high] = scale.within;
    let mut placed: Vec<SheetPoint> = Vec::new();
    for place in places {
        let [x, y] = scale.to_sheet(place.at);
        let around = (1..6).flat_map(|ring| {
            DIRECTIONS
                .map(|[right, down]| [x + right * 30.0 * f64::from(ring), y + down * 30.0 * f64::from(ring)])
        });
        let is_inside = |[x, y]: &SheetPoint| {
            *x > low[0] + HALF && *x < high[0] - HALF && *y > low[1] + HALF && *y < high[1] - HALF
        };
        let is_free = |candidate: &SheetPoint| {
            let far = |[x, y]: &SheetPoint| (x - candidate[0]).hypot(y - candidate[1]);
            is_inside(candidate)
                && placed.iter().all(|other| far(other) >= 28.0)
                && marks.iter().all(|(_, mark)| far(mark) >= 18.0)
        };
        let place = std::iter::once([x, y]).chain(around).find(is_free).unwrap_or([x, y]);
        placed.push(place);
    }
    placed
}

/// Draws the horizontal direction as an arrow. Returns its tip, or `None` if it points straight up or down.
pub fn arrow(
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

/// Draws a bar of a round length, and says how the plan lies. Returns the position of the next line.
fn scale_bar(picture: &mut Picture, scale: &Scale, set: &Set<'_>, y: f64) -> f64 {
    let (length, px) = bar_length(scale.px, set.units, picture.room() / 4.0);
    let left = picture.left();
    let ends = [(left, true), (left + px, true)];
    picture.error_bar(ends, y - 5.0, Pen::new(Colour::Ink, 2.0));
    let style = TextStyle::new(SMALL).without_halo();
    let label = words::scale(length, set.units);
    let x = left + px + 8.0;
    picture.text([x, y], style, &label);
    let room = set.scene.room.map(|room| words::room(room.size, set.units)).unwrap_or_default();
    let rest = set_picture::parts(&[words::PLAN_WAY, &room]);
    let x = x + style.width(&label) + 16.0;
    paragraph::write(picture, [x, y], style.in_colour(Colour::Grey), picture.right() - x, &rest)
}

/// The greatest round length that is no longer than `most`, px, in the units of the answer and in pixels.
fn bar_length(px_per_metre: f64, units: Units, most: f64) -> (f64, f64) {
    let px = |length: f64| units.metres(length).get() * px_per_metre;
    let lengths = (-2..4).flat_map(|power| [1.0, 2.0, 5.0].map(|step| step * 10_f64.powi(power)));
    let length = lengths.filter(|length| px(*length) <= most).fold(0.01, f64::max);
    (length, px(length))
}

/// Draws the legend of what the plan has. Returns its lower edge.
fn legend(picture: &mut Picture, set: &Set<'_>, places: &[LightPosition], scale: &Scale, y: f64) -> f64 {
    let mut legend = Legend::new([picture.left(), y], picture.right());
    legend.add(picture, words::POINT_THERE, |picture, [x, y]| {
        picture.rectangle([x - 4.0, y - 4.0], [x + 4.0, y + 4.0], Colour::Ink, Pen::new(Colour::Paper, 1.0));
    });
    beams::explain(picture, set, places, &mut legend);
    surroundings::explain(picture, set.scene, scale, &mut legend);
    legend.bottom()
}
