//! The picture of a comparison of kits: kits by shots, with the worst light of each shot.

use crate::{
    drawing::{
        canvas::{
            cells::{self, Row},
            legend::Legend,
            marks::Mark,
            notes, paragraph,
            sheet::Picture,
            todo,
        },
        kit::outcome::{self, Outcome, most_telling},
    },
    light::kit::{KitComparison, RankedKit, TIGHT_STOPS},
    wording::{
        format::listed,
        phrases::{self, kits_picture as words},
        summary::Summary,
    },
};

/// The most kits in lines, and in the description.
const MAX_LINES: usize = 3;
const MAX_DESCRIBED: usize = 40;

/// Draws an answer of `kit/compare`.
pub fn draw(answer: &KitComparison, width: f64) -> Picture {
    let summary = answer.summary();
    let described = listed(answer.ranking.iter().map(words::described), MAX_DESCRIBED);
    let mut picture = Picture::new(width, words::TITLE, &words::description(&summary, &described));
    let y = paragraph::headline(&mut picture, &summary);
    let lines: Vec<todo::Line> = answer.ranking.iter().take(MAX_LINES).enumerate().map(line).collect();
    let y = todo::draw(&mut picture, y, &lines);
    let y = grid(&mut picture, y + 28.0, &answer.ranking);
    let best = answer.ranking.first();
    let warnings = best.into_iter().flat_map(|best| {
        // Those that the summary contains are not repeated.
        best.warnings.iter().filter(|warning| !best.reason.mind.contains(warning))
    });
    notes::finish(&mut picture, y + 16.0, warnings.map(phrases::remark));
    picture
}

/// A kit: how many shots it can do, and why.
fn line((index, kit): (usize, &RankedKit)) -> todo::Line {
    let is_tight = kit.keeps_pace == Some(false) || kit.tightest_headroom_stops.get() < TIGHT_STOPS;
    let mark = match (kit.feasible, is_tight) {
        (false, _) => Mark::Cross,
        (true, true) => Mark::Tight,
        (true, false) => Mark::Check,
    };
    // The summary has the reason of the first.
    let details = words::details(kit, index > 0);
    todo::Line { mark, name: kit.name.clone(), value: words::shots(kit), details }
}

/// Draws the kits by those shots that tell them apart. Returns the lower edge.
fn grid(picture: &mut Picture, top: f64, ranking: &[RankedKit]) -> f64 {
    let [most_kits, most_shots] = if picture.is_narrow() { [6, 9] } else { [10, 14] };
    let shown = &ranking[..ranking.len().min(most_kits)];
    let Some(first) = shown.first() else { return top };
    let outcomes: Vec<Vec<Outcome>> =
        shown.iter().map(|kit| kit.shots.iter().map(Outcome::of_shot).collect()).collect();
    let spread = |shot: usize| {
        let spares = || outcomes.iter().filter_map(|kit| kit.get(shot)).map(|outcome| outcome.spare());
        // Of shots that tell kits apart equally well, the harder one.
        (spares().fold(f64::MIN, f64::max) - spares().fold(f64::MAX, f64::min)).min(1e6)
            - 1e-3 * spares().fold(f64::MAX, f64::min).max(-1e3)
    };
    let spreads: Vec<f64> = (0..first.shots.len()).map(spread).collect();
    let columns = most_telling(&spreads, most_shots);
    let names: Vec<String> = columns.iter().map(|shot| first.shots[*shot].name.clone()).collect();
    let rows: Vec<Row> = shown
        .iter()
        .zip(&outcomes)
        .map(|(kit, outcomes)| Row {
            heading: kit.name.clone(),
            cells: columns
                .iter()
                .filter_map(|shot| outcomes.get(*shot))
                .map(|outcome| outcome.cell(""))
                .collect(),
        })
        .collect();
    let y = paragraph::details(picture, top, words::GRID);
    let mut legend = Legend::new([picture.left(), y], picture.right());
    let drawn: Vec<Outcome> =
        outcomes.iter().flat_map(|kit| columns.iter().filter_map(|shot| kit.get(*shot))).copied().collect();
    outcome::legend(&mut legend, picture, &drawn);
    let mut y = cells::draw(picture, legend.bottom() + 4.0, &names, &rows) + 14.0;
    let (kits, shots) = (&ranking[shown.len()..], first.shots.len() - columns.len());
    let able = kits.iter().filter(|kit| kit.feasible).count();
    for text in [words::more_shots(shots), words::more_kits(kits.len(), able)].into_iter().flatten() {
        picture.describe(&text);
        y = paragraph::details(picture, y, &text);
    }
    y
}
