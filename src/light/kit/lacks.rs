//! What the entries of a kit lack: fields without which a part of the answer is not known.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::{
    error::Part,
    kit::{
        answer::ShotResult,
        question::{KitQuestion, KitUnit},
    },
    quantity::words::words,
    set::{packs::PackResult, placement::beam_at_full},
    unit::Unit,
};

words! {
    /// What a lacking field is needed for.
    pub enum Purpose as "LackingFor" {
        /// The light of the unit. Without it the unit is left out.
        Light = "light",
        /// Its recycle time, for the pace of a shot.
        Recycle = "recycle",
        /// The power that it draws.
        Draw = "draw",
    }
}

/// What an entry of a kit lacks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Lacking {
    /// JSON pointer of the entry's unit in the request, or of the pack; of the entry itself for its `zoom_mm`.
    #[schema(value_type = String)]
    pub pointer: Part,
    /// Fields of what is there that would do: a list of alternatives, each a list of fields to be added together. One alternative is enough.
    pub needs: Vec<Vec<&'static str>>,
    /// What they are needed for.
    #[serde(rename = "for")]
    pub purpose: Purpose,
}

impl Lacking {
    /// What a unit of a kit, or a pack, lacks.
    fn of(pointer: Part, purpose: Purpose, needs: &[&[&'static str]]) -> Self {
        let needs = needs.iter().map(|fields| fields.to_vec()).collect();
        Self { pointer, needs, purpose }
    }

    /// A unit whose light is not known; `None` if it is.
    pub fn light(kit: &KitUnit) -> Option<Self> {
        let needs: &[&[_]] = match &kit.unit {
            unit if has_light(unit) => return None,
            unit if unit.needs_zoom() => {
                let pointer = Part::KitEntry { kit: None, entry: kit.entry };
                return Some(Self { pointer, needs: vec![vec!["zoom_mm"]], purpose: Purpose::Light });
            }
            Unit { lamp: Some(_), .. } => &[&["coverage"]],
            Unit { energy: Some(_), .. } => &[&["guide_number"], &["coverage"]],
            Unit { coverage: Some(_), .. } => &[&["guide_number"], &["energy"]],
            _ => &[&["guide_number"], &["energy", "coverage"]],
        };
        Some(Self::of(kit.part(), Purpose::Light, needs))
    }

    /// A unit or a pack whose recycle time is not known.
    pub fn recycle(of: Part) -> Self {
        Self::of(of, Purpose::Recycle, &[&["recycle_s"], &["recycle_by_setting"]])
    }

    /// A unit whose draw is not known: a flash states it by its energy, a lamp in `draw`.
    pub fn draw(of: Part, is_lamp: bool) -> Self {
        Self::of(of, Purpose::Draw, if is_lamp { &[&["draw"]] } else { &[&["energy"]] })
    }
}

/// Whether the light of a unit is known.
pub fn has_light(unit: &Unit) -> bool {
    beam_at_full(unit, None).is_some()
}

/// What the entries of a kit lack for a check, an entry once for each purpose, in the order of the kit. A recycle time
/// counts where the unit is used in a shot with an interval.
pub fn lacks(question: &KitQuestion, shots: &[ShotResult]) -> Vec<Lacking> {
    let paced = || question.shots.iter().zip(shots).filter(|(shot, _)| shot.interval_s.is_some());
    let is_used = |kit: &KitUnit| {
        paced().flat_map(|(_, result)| &result.lights).any(|light| light.unit.as_ref() == Some(&kit.name))
    };
    let recycle = |kit: &KitUnit| {
        let is_own = kit.unit.head.is_none() && kit.unit.lacks_recycle();
        (is_own && is_used(kit)).then(|| Lacking::recycle(kit.part()))
    };
    let packs = question.packs.iter().enumerate().filter(|(_, pack)| {
        let is_on = |used: &PackResult| used.pack == pack.name;
        pack.feeding.recycle.is_empty() && paced().any(|(_, result)| result.packs.iter().any(is_on))
    });
    let packs = packs.map(|(index, _)| Lacking::recycle(Part::Pack(index)));
    in_order(question.kit.iter().flat_map(|kit| [Lacking::light(kit), recycle(kit)]).flatten().chain(packs))
}

/// Leaves out what other copies of the same entry lack as well.
pub fn in_order(all: impl Iterator<Item = Lacking>) -> Vec<Lacking> {
    let mut lacks = Vec::new();
    for lacking in all {
        // Copies of an entry follow each other.
        if !lacks.iter().rev().take(2).any(|known| *known == lacking) {
            lacks.push(lacking);
        }
    }
    lacks
}
