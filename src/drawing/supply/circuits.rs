//! The load of circuits shot by shot, against what they may carry.

use crate::{
    drawing::{
        canvas::{
            axis::Axis,
            colour::{Colour, Fill},
            legend::Legend,
            panel::{self, Panel},
            paragraph,
            sheet::{Anchor, LARGE, NORMAL, Pen, Picture, SMALL, TextStyle},
        },
        supply::high,
    },
    light::{
        quantity::Estimate,
        supply::{CircuitLoad, Evidence, ShotLoad, SupplyPlan, Verdict},
    },
    wording::phrases::supply_picture as words,
};

/// A circuit with its load in each shot.
pub type Circuit<'a> = (&'a CircuitLoad, &'a [ShotLoad]);

/// The most circuits that are drawn, on a narrow and on a wide sheet.
const MAX_DRAWN: [usize; 2] = [3, 4];
/// The most shots between which lines are drawn.
const MAX_LINES: usize = 16;
const HEIGHT: f64 = 150.0;

const RATED: Pen = Pen::new(Colour::Ink, 2.5);
const PEAK: Pen = Pen::new(Colour::Data, 3.0);
const MEAN: Pen = Pen::new(Colour::Second, 2.5).dashed("5 3");
const DOUBT: Pen = Pen::new(Colour::Ink, 1.0).dashed("3 3");
const OVER: Pen = Pen::new(Colour::Wrong, 1.5);
const ALL: Pen = Pen::new(Colour::Grey, 2.0).dashed("10 4");

/// The circuits, the worst first.
pub fn worst_first<'a>(answer: &'a SupplyPlan, evidence: &'a Evidence) -> Vec<Circuit<'a>> {
    let steps = evidence.circuits.iter().map(Vec::as_slice);
    let mut all: Vec<Circuit<'_>> = answer.circuits.iter().zip(steps).collect();
    let rank = |circuit: &CircuitLoad| match circuit.verdict {
        Verdict::Over => 0,
        Verdict::Unsure => 1,
        Verdict::Unknown => 2,
        Verdict::Within => 3,
    };
    let part = |circuit: &CircuitLoad| high(circuit).unwrap_or_default() / circuit.breaker_a.get();
    all.sort_by(|(a, _), (b, _)| rank(a).cmp(&rank(b)).then(part(b).total_cmp(&part(a))));
    all
}

/// Draws the first of them, and says what the others are. Returns the position of the next line.
pub fn draw(picture: &mut Picture, top: f64, circuits: &[Circuit<'_>], shots: &[String]) -> f64 {
    let shown = &circuits[..circuits.len().min(MAX_DRAWN[usize::from(!picture.is_narrow())])];
    if shown.is_empty() {
        return top;
    }
    let y = paragraph::body(picture, top, TextStyle::new(LARGE).bold(), words::CIRCUITS);
    let mut y = legend(picture, y, shown) + 16.0;
    for (circuit, steps) in shown {
        y = paragraph::body(picture, y + 8.0, TextStyle::new(NORMAL).bold(), &words::circuit(circuit));
        y = chart(picture, y, circuit, steps, shots);
    }
    let more = &circuits[shown.len()..];
    let over = more.iter().filter(|(circuit, _)| circuit.verdict != Verdict::Within).count();
    let Some(text) = words::more_circuits(more.len(), over) else { return y + 14.0 };
    picture.describe(&text);
    paragraph::details(picture, y, &text) + 14.0
}

/// The load with all units at once, if that is more than in any shot.
fn all_at_once((circuit, steps): &Circuit<'_>) -> Option<f64> {
    let highs = steps.iter().filter_map(|step| step.charging_a).map(|load| load.high);
    let most = highs.fold(0.0, f64::max);
    high(circuit).filter(|high| *high > most * 1.001)
}

fn legend(picture: &mut Picture, top: f64, shown: &[Circuit<'_>]) -> f64 {
    let mut legend = Legend::new([picture.left(), top], picture.right());
    let any = |is: &dyn Fn(&ShotLoad) -> bool| shown.iter().flat_map(|(_, steps)| *steps).any(is);
    legend.line(picture, words::RATED, RATED);
    if any(&|step| step.charging_a.is_some()) {
        legend.line(picture, words::PEAK, PEAK);
    }
    if any(&|step| step.charging_a.is_some_and(|load| load.high > load.low)) {
        legend.swatch(picture, words::DOUBT, 8.0, Colour::Beam, DOUBT);
    }
    if any(&|step| step.mean_a.is_some()) {
        legend.line(picture, words::MEAN, MEAN);
    }
    let is_over = |(circuit, steps): &Circuit<'_>| {
        let rated = circuit.breaker_a.get();
        steps.iter().any(|step| step.charging_a.is_some_and(|load| load.high > rated))
    };
    if shown.iter().any(is_over) {
        legend.swatch(picture, words::OVER, 8.0, Fill::Missing, OVER);
    }
    if shown.iter().any(|circuit| all_at_once(circuit).is_some()) {
        legend.line(picture, words::ALL_AT_ONCE, ALL);
    }
    legend.bottom()
}

/// Draws the load of one circuit. Returns the position of the next line.
fn chart(
    picture: &mut Picture,
    top: f64,
    circuit: &CircuitLoad,
    steps: &[ShotLoad],
    shots: &[String],
) -> f64 {
    let rated = circuit.breaker_a.get();
    let all = all_at_once(&(circuit, steps));
    let loads = steps.iter().flat_map(|step| [step.mean_a, step.charging_a]).flatten().map(|load| load.high);
    let [from, to] = panel::across(picture, top, HEIGHT);
    let count = steps.len().max(1);
    let every = if count > MAX_LINES { count } else { 1 };
    let ticks = (0..=count).step_by(every).map(|tick| (tick as f64, String::new()));
    let panel = Panel {
        from,
        to,
        x: Axis::with_ticks(words::SHOTS, ticks.collect()),
        y: Axis::linear(words::CURRENT, loads.chain(all).chain([0.0, rated * 1.2]), 4),
        above: 0.0,
    };
    panel.draw(picture);
    draw_load(picture, &panel, steps, rated);
    let across = |picture: &mut Picture, amperes: f64, pen: Pen| {
        let ends = [0.0, count as f64].map(|x| panel.to_sheet(x, amperes));
        picture.line(ends[0], ends[1], pen);
    };
    if let Some(all) = all {
        across(picture, all, ALL);
    }
    across(picture, rated, RATED);
    let [_, y] = panel.to_sheet(0.0, rated);
    let (label, words) = (TextStyle::new(SMALL).bold(), words::may_carry(rated));
    let [left, right] = [to[0] - 8.0 - label.width(&words), to[0] - 4.0];
    // On paper, not on what is drawn there.
    picture.rectangle([left, y - 22.0], [right, y - 3.0], Colour::Paper, Pen::new(Colour::Paper, 0.0));
    picture.text([left + 2.0, y - 7.0], label, &words);
    label_shots(picture, &panel, shots);
    to[1] + panel::BELOW + 8.0
}

/// Draws the load as steps, shot by shot.
fn draw_load(picture: &mut Picture, panel: &Panel, steps: &[ShotLoad], rated: f64) {
    let on_sheet = |[x, y]: &[f64; 2]| panel.to_sheet(*x, *y);
    let line = |picture: &mut Picture, steps: &[[f64; 2]], pen: Pen| {
        picture.path(&steps.iter().map(on_sheet).collect::<Vec<_>>(), pen);
    };
    // The area between two lines.
    let area = |picture: &mut Picture, lower: &[[f64; 2]], upper: &[[f64; 2]], fill: Fill, pen: Pen| {
        let points = upper.iter().chain(lower.iter().rev());
        picture.shape(&points.map(on_sheet).collect::<Vec<_>>(), fill, pen);
    };
    let level = |steps: &[[f64; 2]], at: f64| steps.iter().map(|[x, _]| [*x, at]).collect::<Vec<_>>();
    let peak = |value: fn(&Estimate<f64>) -> f64| {
        runs(steps.iter().map(move |step| step.charging_a.as_ref().map(value)))
    };
    let (lows, highs) = (peak(|load| load.low), peak(|load| load.high));
    for (low, high) in lows.iter().zip(&highs) {
        let none = Pen::new(Colour::Data, 0.0);
        area(picture, &level(low, 0.0), low, Fill::Colour(Colour::Tolerance), none);
        if low != high {
            area(picture, low, high, Fill::Colour(Colour::Beam), DOUBT);
        }
    }
    let beyond = steps.iter().map(|step| step.charging_a.map(|load| load.high).filter(|high| *high > rated));
    for high in runs(beyond) {
        area(picture, &level(&high, rated), &high, Fill::Missing, OVER);
    }
    for typical in peak(|load| load.typical) {
        line(picture, &typical, PEAK);
    }
    for mean in runs(steps.iter().map(|step| step.mean_a.map(|load| load.typical))) {
        line(picture, &mean, MEAN);
    }
    let style = TextStyle::new(LARGE).bold().anchored(Anchor::Middle);
    let wide = panel.to_sheet(1.0, 0.0)[0] - panel.to_sheet(0.0, 0.0)[0];
    for (index, step) in steps.iter().enumerate() {
        if step.charging_a.is_none() && wide >= 14.0 {
            let [x, y] = panel.to_sheet(index as f64 + 0.5, 0.0);
            picture.text([x, y - 12.0], style, "?");
        }
    }
}

/// The values of shots as lines of steps, each of shots one after another that have a value.
fn runs(values: impl Iterator<Item = Option<f64>>) -> Vec<Vec<[f64; 2]>> {
    let mut runs: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut goes_on = false;
    for (index, value) in values.enumerate() {
        if let Some(value) = value {
            if !goes_on {
                runs.push(Vec::new());
            }
            if let Some(run) = runs.last_mut() {
                run.extend([[index as f64, value], [index as f64 + 1.0, value]]);
            }
        }
        goes_on = value.is_some();
    }
    runs
}

/// Names the shots below their steps, or numbers them if there is no room.
fn label_shots(picture: &mut Picture, panel: &Panel, shots: &[String]) {
    /// The least room for a name and for a number, px.
    const NAME: f64 = 70.0;
    const NUMBER: f64 = 30.0;
    let style = TextStyle::new(SMALL).in_colour(Colour::Grey).anchored(Anchor::Middle);
    let wide = (panel.to[0] - panel.from[0]) / shots.len().max(1) as f64;
    let every = (NUMBER / wide).ceil().max(1.0) as usize;
    for (index, shot) in shots.iter().enumerate() {
        let [x, y] = panel.to_sheet(index as f64 + 0.5, 0.0);
        let [x, y] = [x, y.max(panel.to[1]) + 18.0];
        if wide >= NAME {
            picture.shortened([x, y], style, words::shot(shot), wide - 8.0);
        } else if index % every == 0 {
            picture.text([x, y], style, &(index + 1).to_string());
        }
    }
}
