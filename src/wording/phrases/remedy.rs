//! The sentences of remedies.

use crate::{
    light::{
        quantity::{Metres, Stops, nominal::Nominal, significant, units::Units},
        remedy::{Action, Borrowed, By, Change, Controls, Gathering, Need, Remedy, Then, Turn},
    },
    wording::format::{at_least, format_length, format_stops},
};

/// The most distances of a moved light that are listed besides the first.
const MAX_LISTED_DISTANCES: usize = 4;
/// The end of a remedy that changes an exposure time or speed at which something was metered.
const METER_ANEW: &str = "at which they were taken: meter anew, or move them alike.";

/// The sentence of a remedy.
pub fn remedy(remedy: &Remedy) -> String {
    let by = &remedy.by;
    let pops = by.pops.unwrap_or_default();
    let change_stops = by.stops.map_or(0.0, Stops::get);
    match &remedy.action {
        Action::Camera { controls, then, has_metered_targets, has_readings } => {
            let metered = if *has_metered_targets { metered_note(remedy.change) } else { "" };
            let has_speed = matches!(controls, Controls::Iso(_) | Controls::LensAndIso { .. });
            let readings = if *has_readings && has_speed {
                format!(" Readings hold for the ISO speed {METER_ANEW}")
            } else {
                String::new()
            };
            format!("{}{metered}{readings}", camera(controls, change_stops, then))
        }
        Action::ExposureTime { turn, then, has_metered_ambient } => {
            let (verb, beware) = if turn.stops < 0.0 {
                ("Shorten", "no shorter than the camera's flash sync time")
            } else {
                ("Lengthen", "mind blur by ambient light")
            };
            let [turn, then, note] = [turned(turn), after(then), ambient_note(*has_metered_ambient)];
            format!("{verb} the exposure time {turn}{then}; {beware}. Only ambient light changes.{note}")
        }
        Action::ShortenTime { to, is_sync_known } => {
            let sync = if *is_sync_known { "" } else { ", if the camera's sync time allows it" };
            format!("Shorten the exposure time to {}{sync}. Flash does not change.", to.label())
        }
        Action::ReduceAmbient { sync_time } => format!(
            "{}Take away {} of the ambient light: switch off, flag, draw the blinds.",
            shortened_first(sync_time.as_ref()),
            format_stops(change_stops)
        ),
        Action::RaiseFlash { sync_time, f_number, iso } => {
            let lens = f_number.as_ref().map(|mark| format!("close the lens to {}", mark.label()));
            let speed = iso.as_ref().map(|mark| format!("lower the ISO speed to {}", mark.label()));
            let filter = format!("put {} of neutral density on the lens", format_stops(change_stops));
            let options: Vec<String> = lens.into_iter().chain(speed).chain([filter]).collect();
            format!(
                "{}Raise the flash {}, and take as much away from flash and ambient light at the camera: {}. Where a mark takes a little more, raise the flash by that.",
                shortened_first(sync_time.as_ref()),
                format_stops(change_stops),
                options.join(", or ")
            )
        }
        Action::Ratio { counted_by } => {
            let ratio = by.ratio.map_or(0.0, |ratio| significant(ratio.get()));
            format!("Ask for {ratio}:1 counted by {counted_by}.")
        }
        Action::Turn { light, to, then, fixed_at, may_be_off } => {
            let off = if *may_be_off { " or off" } else { "" };
            format!("Let \"{light}\" be turned to {to}{}; it is fixed at {fixed_at}{off}.", after(then))
        }
        Action::Fire { light, then, gathering } => {
            let note = gathering.map_or_else(String::new, gathering_note);
            format!("Fire \"{light}\" {pops} times in one exposure{}.{note}", after(then))
        }
        Action::FireRole { role } => {
            format!("Fire \"{role}\" {pops} times in one exposure and set the lights anew.")
        }
        Action::FireUnit { at } => format!("Fire {pops} times in one exposure, at {at}."),
        Action::MoveInSpace { light, from, line_from_point, units, then } => {
            let start =
                line_from_point.as_ref().map_or_else(|| "its aim".to_owned(), |point| format!("\"{point}\""));
            let [x, y, z] = by.position.unwrap_or([*from; 3]).map(|part| significant(part.get()));
            format!(
                "Move \"{light}\" along its line from {start}, {}: to the position [{x}, {y}, {z}] m{}.",
                from_to(*from, by, *units),
                after(then)
            )
        }
        Action::MoveByDistances { light, from, distances, units, then } => format!(
            "Move \"{light}\" {}{}{}.",
            from_to(*from, by, *units),
            other_distances(distances, *units),
            after(then)
        ),
        Action::MoveRole { role, from, units } => {
            format!("Move the light of \"{role}\" {} and set the lights anew.", from_to(*from, by, *units))
        }
        Action::MoveUnit { from, units, then } => {
            let moved = from_to(*from, by, *units);
            format!("Move the light {moved}, by the inverse-square law{}.", after(then))
        }
        Action::StrongerUnit { pops } => {
            let energy = by.energy_j.map_or_else(String::new, |energy| at_least(energy.get()));
            let fired = if *pops == 1 { String::new() } else { format!(", fired {pops} times") };
            format!("Use a unit like it of at least {energy} J{fired}.")
        }
        Action::Borrow { units } => {
            let units: Vec<String> = units.iter().map(borrowed).collect();
            format!("Borrow {}.", units.join(", and "))
        }
    }
}

/// A change at the camera; `all_stops` is its sum.
fn camera(controls: &Controls, all_stops: f64, then: &Then) -> String {
    let is_brighter = all_stops > 0.0;
    let what = match controls {
        Controls::Lens(turn) => {
            format!("{} the lens {}", if is_brighter { "Open" } else { "Close" }, turned(turn))
        }
        Controls::Iso(turn) => {
            format!("{} the ISO speed {}", if is_brighter { "Raise" } else { "Lower" }, turned(turn))
        }
        Controls::LensAndIso { lens, iso } => {
            let [open, raise] = if is_brighter { ["Open", "raise"] } else { ["Close", "lower"] };
            format!("{open} the lens {}, and {raise} the ISO speed {}", turned(lens), turned(iso))
        }
        Controls::NeutralDensity { density, mark } => {
            let filter = mark.as_ref().map_or_else(
                || format!("density {}", significant(*density)),
                |mark| mark.clone().into_owned(),
            );
            format!("Put {} of neutral density ({filter}) on the lens", format_stops(all_stops))
        }
    };
    format!("{what}{}. Ambient light changes alike.", after(then))
}

/// A change to a mark: `1/3 stop, to f/7.1`.
fn turned(turn: &Turn) -> String {
    format!("{}, to {}", format_stops(turn.stops), turn.mark)
}

/// What to set after a change, as a clause.
fn after(then: &Then) -> String {
    match then {
        Then::Nothing => String::new(),
        Then::SetLights => ", and set the lights anew".to_owned(),
        Then::ChooseUnits => ", and choose units and settings anew".to_owned(),
        Then::SetUnit { to, pops: 1 } => format!(", and set the unit to {to}"),
        Then::SetUnit { to, pops } => format!(", and fire the unit {pops} times at {to}"),
    }
}

/// What a change at the lens means for targets given as an f-number.
const fn metered_note(change: Change) -> &'static str {
    match change {
        Change::Aperture => " Change what is wanted as an f-number by as much, for a meter reads it.",
        Change::NeutralDensity => {
            " Ask for what is wanted as an f-number higher by as much: the meter at the subject has no filter before it."
        }
        _ => "",
    }
}

/// What a change of exposure time means for ambient light that was metered.
fn ambient_note(is_metered: bool) -> String {
    if is_metered {
        format!(" Readings of ambient light hold for the exposure time {METER_ANEW}")
    } else {
        String::new()
    }
}

fn gathering_note(gathering: Gathering) -> String {
    let Gathering { open_s, is_longer, is_metered } = gathering;
    let Some(open) = open_s else {
        return " Ambient light gathers as long as the shutter is open for it: keep it out between the flashes."
            .to_owned();
    };
    format!(
        " At full power that takes {} s, in which ambient light gathers; it is reckoned with{}.{}",
        significant((open * 100.0).round() / 100.0),
        if is_longer { ": set the exposure time to that" } else { "" },
        ambient_note(is_longer && is_metered)
    )
}

/// A first sentence, if the exposure time is shortened to the sync time.
fn shortened_first(sync_time: Option<&Nominal>) -> String {
    sync_time.map_or_else(String::new, |sync| {
        format!("Shorten the exposure time to {}, the sync time. Then: ", sync.exact_label())
    })
}

fn from_to(from: Metres, by: &By, units: Units) -> String {
    let to = by.distance_m.unwrap_or(from);
    format!("from {} to {}", format_length(from, units), format_length(to, units))
}

/// A moved light's other distances, as a clause; empty if there are none.
fn other_distances(distances: &[(String, Metres)], units: Units) -> String {
    let Some(((first, _), others)) = distances.split_first() else { return String::new() };
    if others.len() > MAX_LISTED_DISTANCES {
        return format!(" from \"{first}\", its other distances in proportion");
    }
    let others = others
        .iter()
        .map(|(point, distance)| format!("{} from \"{point}\"", format_length(*distance, units)));
    format!(" from \"{first}\" (then {})", others.collect::<Vec<_>>().join(", "))
}

/// A unit to borrow.
fn borrowed(unit: &Borrowed) -> String {
    let role = &unit.role;
    match &unit.need {
        Need::Energy { like, energy } => {
            let like = like.as_ref().map_or_else(|| "its own".to_owned(), |own| format!("\"{own}\""));
            format!("a unit like {like} of at least {} J for \"{role}\"", at_least(energy.get()))
        }
        Need::Guide { metres, feet, is_one_more } => {
            let more = if *is_one_more { "one more unit" } else { "a unit" };
            let [metres, feet] = [metres.get(), feet.get()].map(at_least);
            format!("{more} of at least guide number {metres} m ({feet} ft) for \"{role}\"")
        }
    }
}
