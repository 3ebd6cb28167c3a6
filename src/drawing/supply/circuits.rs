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
    light::supply::{CircuitLoad, Evidence, ShotLoad, SupplyPlan, Verdict},
    wording::phrases::supply_picture as words,
};

/// A circuit with its load in each shot.
pub type Circuit<'a> = (&'a CircuitLoad, &'a [ShotLoad]);

/// The most circuits that are drawn.
const MAX_DRAWN: usize = 4;
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
    let shown = &circuits[..circuits.len().min(MAX_DRAWN)];
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
    let ticks = (0..=steps.len().max(1)).map(|tick| (tick as f64, String::new()));
    let panel = Panel {
        from,
        to,
        x: Axis::with_ticks(words::SHOTS, ticks.collect()),
        y: Axis::linear(words::CURRENT, loads.chain(all).chain([0.0, rated * 1.2]), 4),
        above: 0.0,
    };
    panel.draw(picture);
    for (index, step) in steps.iter().enumerate() {
        draw_step(picture, &panel, index as f64, step, rated);
    }
    let across = |picture: &mut Picture, amperes: f64, pen: Pen| {
        let ends = [0.0, steps.len().max(1) as f64].map(|x| panel.to_sheet(x, amperes));
        picture.line(ends[0], ends[1], pen);
    };
    if let Some(all) = all {
        across(picture, all, ALL);
    }
    across(picture, rated, RATED);
    let [_, y] = panel.to_sheet(0.0, rated);
    let label = TextStyle::new(SMALL).bold().anchored(Anchor::End);
    picture.text([to[0] - 6.0, y - 6.0], label, &words::may_carry(rated));
    label_shots(picture, &panel, shots);
    to[1] + panel::BELOW + 8.0
}

/// Draws the load in one shot.
fn draw_step(picture: &mut Picture, panel: &Panel, index: f64, step: &ShotLoad, rated: f64) {
    let at = |part: f64, amperes: f64| panel.to_sheet(index + part, amperes);
    let none = Pen::new(Colour::Data, 0.0);
    if let Some(load) = step.charging_a {
        picture.rectangle(at(0.0, 0.0), at(1.0, load.low), Colour::Tolerance, none);
        if load.high > load.low {
            picture.rectangle(at(0.0, load.low), at(1.0, load.high), Colour::Beam, DOUBT);
        }
        if load.high > rated {
            picture.rectangle(at(0.0, rated), at(1.0, load.high), Fill::Missing, OVER);
        }
        picture.line(at(0.0, load.typical), at(1.0, load.typical), PEAK);
    }
    if let Some(load) = step.mean_a {
        picture.line(at(0.0, load.typical), at(1.0, load.typical), MEAN);
    }
    let wide = at(1.0, 0.0)[0] - at(0.0, 0.0)[0];
    if step.charging_a.is_none() && wide >= 14.0 {
        let style = TextStyle::new(LARGE).bold().anchored(Anchor::Middle);
        let [x, y] = at(0.5, 0.0);
        picture.text([x, y - 12.0], style, "?");
    }
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
