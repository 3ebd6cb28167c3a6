//! The picture of a supply plan: what to mind, then circuits shot by shot, recycling, batteries and heat.

mod circuits;
mod rows;

use self::rows::{Bar, Bars};
use crate::{
    drawing::canvas::{marks::Mark, notes, paragraph, sheet::Picture, todo},
    light::{
        quantity::Number,
        supply::{Charges, CircuitLoad, Evidence, Heat, Pace, SupplyPlan, Verdict},
    },
    wording::{format::listed, phrases, phrases::supply_picture as words, summary::Summary},
};

/// The most lines of one kind, and the most in the description.
const MAX_LINES: usize = 3;
const MAX_DESCRIBED: usize = 40;

/// Draws an answer of `supply/plan`.
pub fn draw(answer: &SupplyPlan, evidence: &Evidence, width: f64) -> Picture {
    let summary = answer.summary();
    let circuits = circuits::worst_first(answer, evidence);
    let lines = lines(answer, &circuits);
    let described = circuits.iter().map(|(circuit, _)| words::circuit(circuit));
    let described = listed(described.collect::<Vec<_>>().into_iter(), MAX_DESCRIBED);
    let mut picture = Picture::new(width, words::TITLE, &words::description(&summary, &described));
    let mut y = paragraph::headline(&mut picture, &summary);
    y = todo::draw(&mut picture, y, &lines) + 30.0;
    y = circuits::draw(&mut picture, y, &circuits, &evidence.shots);
    for bars in [pace(&evidence.paces), charges(answer), heat(answer)] {
        y = bars.draw(&mut picture, y);
    }
    notes::finish(&mut picture, y, phrases::remarks(&answer.warnings, &answer.cautions));
    picture
}

/// What to do and to mind: shots that are too fast, heads that get too hot, circuits, and charges.
fn lines(answer: &SupplyPlan, circuits: &[circuits::Circuit<'_>]) -> Vec<todo::Line> {
    let line = |mark, name: &str, value, details| todo::Line { mark, name: name.to_owned(), value, details };
    let fast = answer.shots.iter().filter(|shot| shot.holds == Some(false)).map(|shot| {
        let works = answer.units.iter().flat_map(|unit| {
            let of_shot = unit.work.iter().filter(|work| work.shot == shot.name && work.shot_id == shot.id);
            of_shot.filter_map(|work| Some((unit.unit.as_str(), work.setting_that_holds.as_ref()?)))
        });
        line(Mark::Cross, &shot.name, words::fastest(shot), words::settings_that_hold(works))
    });
    let hot = heats(answer).filter(|(_, heat)| heat.within_duty == Some(false));
    let hot = hot.map(|(unit, heat)| line(Mark::Cross, unit, words::heat(heat), words::cooler(heat)));
    let circuits = circuits.iter().map(|(circuit, _)| {
        let mark = match circuit.verdict {
            Verdict::Within => Mark::Check,
            Verdict::Unsure | Verdict::Unknown => Mark::Doubt,
            Verdict::Over => Mark::Cross,
        };
        line(mark, &circuit.name, words::load(circuit), words::verdict(circuit))
    });
    let mut charged: Vec<_> = batteries(answer).collect();
    charged.sort_by_key(|(_, charges)| std::cmp::Reverse(charges.needed));
    let charged = charged
        .into_iter()
        .map(|(name, charges)| line(Mark::Go, name, words::needed(charges), String::new()));
    fast.take(MAX_LINES)
        .chain(hot.take(MAX_LINES))
        .chain(circuits.take(MAX_LINES))
        .chain(charged.take(MAX_LINES))
        .collect()
}

/// The heads with a duty limit.
fn heats(answer: &SupplyPlan) -> impl Iterator<Item = (&str, &Heat)> {
    answer.units.iter().filter_map(|unit| Some((unit.unit.as_str(), unit.heat.as_ref()?)))
}

/// The units and packs with batteries.
fn batteries(answer: &SupplyPlan) -> impl Iterator<Item = (&str, &Charges)> {
    let units = answer.units.iter().map(|unit| (unit.unit.as_str(), unit.charges.as_ref()));
    let packs = answer.packs.iter().map(|pack| (pack.pack.as_str(), pack.charges.as_ref()));
    units.chain(packs).filter_map(|(name, charges)| Some((name, charges?)))
}

/// Recycle times against intervals, the hardest first.
fn pace(paces: &[Pace]) -> Bars {
    let mut paces: Vec<&Pace> = paces.iter().collect();
    paces.sort_by(|a, b| (b.recycle_s / b.interval_s).total_cmp(&(a.recycle_s / a.interval_s)));
    let bars = paces.into_iter().map(|pace| Bar {
        name: pace.name.clone(),
        text: words::pace(pace),
        value: pace.recycle_s,
        doubt: None,
        limit: pace.interval_s,
        is_over: !pace.holds,
    });
    Bars {
        heading: words::PACE,
        axis: words::PACE_AXIS,
        limit: words::INTERVAL,
        fine: words::IN_TIME,
        rows: bars.collect(),
    }
}

/// Charges used and needed, the most first.
fn charges(answer: &SupplyPlan) -> Bars {
    let bars = batteries(answer).map(|(name, charges)| Bar {
        name: name.to_owned(),
        text: words::charges(charges),
        value: charges.used.get(),
        doubt: Some(charges.used.get() / (1.0 - charges.reserve.get())),
        limit: f64::from(charges.needed),
        is_over: false,
    });
    let mut bars: Vec<Bar> = bars.collect();
    bars.sort_by(|a, b| b.value.total_cmp(&a.value));
    Bars {
        heading: words::CHARGES,
        axis: words::CHARGES_AXIS,
        limit: words::WHOLE_CHARGES,
        fine: words::NO_MORE,
        rows: bars,
    }
}

/// The heat of heads against their duty limits, the hottest first.
fn heat(answer: &SupplyPlan) -> Bars {
    let bars = heats(answer).map(|(name, heat)| Bar {
        name: name.to_owned(),
        text: words::heat(heat),
        value: heat.percent(),
        doubt: None,
        limit: 100.0,
        is_over: heat.within_duty == Some(false),
    });
    let mut bars: Vec<Bar> = bars.collect();
    bars.sort_by(|a, b| b.value.total_cmp(&a.value));
    Bars { heading: words::HEAT, axis: words::HEAT_AXIS, limit: words::DUTY, fine: words::WITHIN, rows: bars }
}

/// The load of a circuit in amperes by its high estimate, for sorting.
fn high(circuit: &CircuitLoad) -> Option<f64> {
    circuit.charging_a.map(|amperes| amperes.high).map(Number::get)
}
