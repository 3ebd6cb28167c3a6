//! The points of a set: what a meter reads at each, how far off that is, and whose light it is.

use crate::{
    drawing::{
        canvas::{
            colour::{Colour, Fill},
            legend::Legend,
            marks::{Mark, letter},
            paragraph,
            sheet::{NORMAL, Pen, Picture, SMALL, TextStyle},
        },
        set::{
            Point, Set, Share,
            rows::{self, Headings, Piece, Row, WANTED},
        },
    },
    light::uncertainty::Uncertainty,
    wording::phrases::set_picture as words,
};

/// The most points that are drawn.
const MAX_POINTS: usize = 20;
/// Shares below this are too small for a letter, percent.
const SMALL_SHARE: f64 = 12.0;
/// The fills of shares, in turn: plain, because letters stand on them.
const FILLS: [Colour; 3] = [Colour::Tolerance, Colour::Paper, Colour::Faint];

/// The points in the order in which they are drawn: that of the request, or those that are off most if they are many.
pub fn order(set: &Set<'_>) -> Vec<usize> {
    let mut order: Vec<usize> = (0..set.points.len()).collect();
    if order.len() > MAX_POINTS {
        order.sort_by(|a, b| set.points[*b].badness().total_cmp(&set.points[*a].badness()));
    }
    order
}

/// Draws the points from `top` down. Returns the lower edge.
pub fn draw(picture: &mut Picture, set: &Set<'_>, top: f64) -> f64 {
    let order = order(set);
    let (drawn, rest) = order.split_at(order.len().min(MAX_POINTS));
    let rows: Vec<Row> = drawn.iter().map(|index| row(set, *index)).collect();
    let headings = Headings {
        name: words::POINT,
        reads: words::METER_READS,
        off: if set.is_prediction { words::OFF_PREDICTED } else { words::OFF },
        shares: words::SHARES,
    };
    let mut y = rows::draw(picture, top, headings, &rows);
    let worst = rest.first().map(|index| &set.points[*index]);
    if let Some(worst) = worst {
        let text = words::more_points(rest.len(), worst.error);
        y = paragraph::body(picture, y + 20.0, TextStyle::new(NORMAL), &text) - 14.0;
    }
    y = legend(picture, set, &rows, y + 18.0);
    if let Some(causes) = causes(set) {
        picture.describe(&causes);
        y = paragraph::body(picture, y + 16.0, TextStyle::new(SMALL).in_colour(Colour::Grey), &causes) - 14.0;
    }
    y
}

/// What makes the least sure point uncertain.
fn causes(set: &Set<'_>) -> Option<String> {
    let known = set.points.iter().filter_map(|point| Some((point, point.uncertainty?)));
    let (point, least) = known.max_by(|a, b| a.1.longer_end().total_cmp(&b.1.longer_end()))?;
    Some(words::causes(point.name, least))
}

fn row(set: &Set<'_>, index: usize) -> Row {
    let point = &set.points[index];
    let number = if set.has_plan() { format!("{}  ", index + 1) } else { String::new() };
    let target = point.target.unwrap_or(0.0);
    let off = point.stops.map(|stops| stops - target);
    let [low, high] = point.ends();
    let tolerance = set.tolerance.get();
    Row {
        name: format!("{number}{}", point.name),
        detail: point.wanted.clone(),
        reads: point.reads.clone(),
        spread: point.uncertainty.map_or_else(String::new, |it| words::spread(it.ends())),
        wanted: point.target.map(|_| point.side.within(tolerance)),
        off: off.map(|off| [off + low, off, off + high]),
        value: words::off(point.error),
        shares: pieces(set, &point.shares),
        ..Row::default()
    }
}

/// The share of each light that is large enough for its letter, in the order of the lights, then the others as one.
fn pieces(set: &Set<'_>, shares: &[Share]) -> Vec<Piece> {
    let lights = &set.scene.lights;
    let is_large = |share: &Share| share.percent >= SMALL_SHARE;
    let mut pieces: Vec<Piece> = Vec::new();
    for (index, share) in shares.iter().take(lights.len()).enumerate().filter(|(_, share)| is_large(share)) {
        let letter = letter(index);
        let labels = vec![
            words::share(&lights[index].name, share.percent),
            words::share(&letter, share.percent),
            letter,
        ];
        pieces.push(Piece { percent: share.percent, fill: FILLS[index % FILLS.len()].into(), labels });
    }
    let small = || shares.iter().take(lights.len()).filter(|share| share.percent > 0.0 && !is_large(share));
    let percent: f64 = small().map(|share| share.percent).sum();
    if percent >= 0.5 {
        let most = small().map(|share| share.percent).fold(0.0, f64::max);
        let labels = words::small_shares(small().count(), percent, most);
        pieces.push(Piece { percent, fill: Fill::Colour(Colour::Paper), labels });
    }
    let ambient = shares.get(lights.len()).filter(|share| share.percent > 0.0);
    if let Some(Share { percent, .. }) = ambient {
        let labels = vec![words::share(words::AMBIENT, *percent), words::AMBIENT.to_owned()];
        pieces.push(Piece { percent: *percent, fill: Colour::Beam.into(), labels });
    }
    pieces
}

/// Draws the legend. Returns its lower edge.
fn legend(picture: &mut Picture, set: &Set<'_>, rows: &[Row], y: f64) -> f64 {
    let mut legend = Legend::new([picture.left(), y], picture.right());
    let has = |is: fn(&Row) -> bool| rows.iter().any(is);
    if has(|row| row.off.is_some() && row.miss().is_none()) {
        let label = if set.is_prediction { words::LIGHT_THERE } else { words::ACHIEVED };
        legend.add(picture, label, |picture, at| Mark::Dot.draw(picture, at, 5.0));
    }
    if has(|row| row.miss().is_some()) {
        legend.add(picture, words::MISSED, |picture, at| Mark::Cross.draw(picture, at, 5.0));
    }
    if has(|row| row.wanted.is_some()) {
        let label = words::wanted(set.tolerance);
        legend.swatch(picture, &label, 6.0, Colour::Tolerance, WANTED);
    }
    if has(Row::is_one_sided) {
        legend.add(picture, words::ONE_SIDED, |picture, [x, y]| {
            picture.rectangle([x - 14.0, y - 6.0], [x + 4.0, y + 6.0], Colour::Tolerance, WANTED);
            picture.arrow_head([x + 14.0, y], [1.0, 0.0], Colour::Data);
        });
    }
    if set.points.iter().any(|point| point.uncertainty.is_some()) {
        legend.error_bar(picture, Pen::new(Colour::Ink, 1.5));
    }
    let lights = set.scene.lights.len();
    if set.points.iter().any(|point| point.shares.get(lights).is_some_and(|share| share.percent > 0.0)) {
        let pen = Pen::new(Colour::Ink, 0.75);
        legend.swatch(picture, words::AMBIENT_LIGHT, 6.0, Colour::Beam, pen);
    }
    if picture.room() < rows::BESIDE && has(|row| !row.shares.is_empty()) {
        legend.swatch(picture, words::SHARES, 6.0, Colour::Tolerance, Pen::new(Colour::Ink, 0.75));
    }
    legend.bottom()
}

impl Point<'_> {
    /// How far it is off what is wanted; a point that no light reaches is off most.
    fn badness(&self) -> f64 {
        self.error.map_or(f64::INFINITY, f64::abs)
    }

    /// The 95 % ends of its light, stops.
    fn ends(&self) -> [f64; 2] {
        self.uncertainty.map_or([0.0; 2], Uncertainty::ends)
    }
}
