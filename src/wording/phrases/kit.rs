//! The sentences of a kit check.

use crate::{
    light::kit::{
        Optimality,
        summary::{Doubtful, Outcome, Summary, WorstLight},
    },
    wording::{
        format::{at_least, every_shot, names, with_stops},
        phrases::remark,
    },
};

/// The summary for a booking page.
pub fn kit_summary(summary: &Summary) -> String {
    let lead = match &summary.outcome {
        Outcome::Feasible { shots, tightest, doubtful } => {
            feasible(*shots, tightest.as_ref(), doubtful.as_ref())
        }
        Outcome::Infeasible {
            shots,
            missed,
            without_unit,
            too_weak,
            enough_energy_j,
            too_strong,
            is_set_by_pack,
            without_remedy,
        } => {
            let known = if summary.left_out.is_empty() { "" } else { " with the units whose light is known" };
            let lead = match shots {
                1 => format!("The shot cannot be done as asked{known}."),
                shots => format!("{missed} of {shots} shots cannot be done as asked{known}."),
            };
            let sentences = [
                without_unit.as_ref().map(no_unit),
                too_weak.as_ref().map(|light| weak(light, *enough_energy_j)),
                too_strong.as_ref().map(|light| strong(light, *is_set_by_pack)),
                no_remedy(without_remedy, *shots),
            ];
            [lead].into_iter().chain(sentences.into_iter().flatten()).collect::<Vec<_>>().join(" ")
        }
    };
    let left_out = (!summary.left_out.is_empty())
        .then(|| format!("Left out, since their light is not known: {}.", names(&summary.left_out)));
    let mind: Vec<_> = summary.mind.iter().map(remark).collect();
    let mind = (!mind.is_empty()).then(|| format!("Mind: {}", mind.join(" ")));
    [Some(lead), left_out, mind].into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// In what sense the assignment of units is the best one.
pub const fn kit_optimality(optimality: Optimality) -> &'static str {
    match optimality {
        Optimality::ShotByShot => {
            "Each shot is the best that follows the shot before it: most roles reached, then the smallest worst shortfall, then the fewest units moved, then the most to spare in the tightest light."
        }
        Optimality::NotAllWays => {
            "The best that was found, by the same order: roles reached, worst shortfall, units moved, what is to spare in the tightest light. In some shot there are too many ways to use the heads of packs to compare them all."
        }
    }
}

fn feasible(shots: usize, tightest: Option<&WorstLight>, doubtful: Option<&Doubtful>) -> String {
    let phrase = every_shot(shots);
    let (first, others) = phrase.split_at(1);
    let lead = format!("{}{others} can be done with this kit.", first.to_uppercase());
    let Some(WorstLight { shot, role, stops, .. }) = tightest else { return lead };
    let has = match *stops {
        ..0.05 => "nothing to spare".to_owned(),
        stops => format!("{} to spare", tenths(stops)),
    };
    let lead = format!("{lead} The tightest light, \"{role}\" in \"{shot}\", has {has}");
    match doubtful {
        Some(Doubtful::Tightest { lack_stops }) => {
            format!("{lead}, and may be {} short.", tenths(*lack_stops))
        }
        Some(Doubtful::Other(WorstLight { shot, role, stops, .. })) => {
            format!("{lead}. \"{role}\" in \"{shot}\" may be {} short.", tenths(*stops))
        }
        Some(Doubtful::TooStrong(WorstLight { shot, role, stops, .. })) => {
            format!(
                "{lead}. \"{role}\" in \"{shot}\" may be {} too strong at its least setting.",
                tenths(*stops)
            )
        }
        None => format!("{lead}."),
    }
}

/// A sentence for the number of other lights with the same fault; empty if there are none.
fn more(count: usize, one: &str, several: &str) -> String {
    match count {
        0 => String::new(),
        1 => format!(" And one more light {one}."),
        more => format!(" And {more} more lights {several}."),
    }
}

fn no_unit(WorstLight { shot, role, others, .. }: &WorstLight) -> String {
    let more = more(*others, "has none", "have none");
    format!("In \"{shot}\" no unit is left for \"{role}\".{more}")
}

fn weak(WorstLight { shot, role, stops, others }: &WorstLight, enough_energy_j: Option<f64>) -> String {
    let unit = enough_energy_j.map_or_else(String::new, |energy| {
        format!("; a unit like its own of {} J would do", at_least(energy))
    });
    let more = more(*others, "is short", "are short");
    format!("In \"{shot}\" the \"{role}\" light is {} short{unit}.{more}", tenths(*stops))
}

fn strong(WorstLight { shot, role, stops, others }: &WorstLight, is_set_by_pack: bool) -> String {
    let at = too_strong_at(is_set_by_pack);
    let more = more(*others, "is too strong", "are too strong");
    format!("In \"{shot}\" the \"{role}\" light is {} too strong at {at}.{more}", tenths(*stops))
}

/// Stops to a tenth, with their unit.
fn tenths(stops: f64) -> String {
    with_stops(&format!("{stops:.1}"))
}

/// The setting at which a light is too strong.
pub const fn too_strong_at(is_set_by_pack: bool) -> &'static str {
    if is_set_by_pack { "the setting of its pack" } else { "its least setting" }
}

/// A sentence for the shots without a remedy; `None` if there are none.
fn no_remedy(without: &[String], shots: usize) -> Option<String> {
    let first = without.first()?;
    Some(match without.len() {
        _ if shots == 1 => "No single change that would do it was found within the limits.".to_owned(),
        1 => format!("For \"{first}\" no single change that would do it was found within the limits."),
        many => format!("For {many} shots no single change that would do it was found within the limits."),
    })
}
