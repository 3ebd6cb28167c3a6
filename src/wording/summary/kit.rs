//! Summaries for a booking page: kits, comparisons of kits, and their supply.

use crate::{
    light::{
        kit::{KitCheck, KitComparison},
        remark::CautionKind,
        supply::SupplyPlan,
    },
    wording::{
        phrases::{kit_summary, supply_summary},
        summary::Summary,
    },
};

impl Summary for KitCheck {
    fn summary(&self) -> String {
        kit_summary(&self.summary)
    }
}

impl Summary for SupplyPlan {
    fn summary(&self) -> String {
        let is_cautioned = self.cautions.iter().any(|caution| matches!(caution.kind, CautionKind::MainsLoad));
        supply_summary(&self.summary, is_cautioned)
    }
}

impl Summary for KitComparison {
    fn summary(&self) -> String {
        let able = self.ranking.iter().filter(|kit| kit.feasible).count();
        let Some(best) = self.ranking.first() else { return "There is no kit.".to_owned() };
        let reason = kit_summary(&best.reason);
        match able {
            0 if self.ranking.len() == 1 => format!("\"{}\" cannot do it. {reason}", best.name),
            _ if self.ranking.len() == 1 => format!("\"{}\" can do it. {reason}", best.name),
            0 => format!(
                "None of the {} kits can do it; \"{}\" comes nearest. {reason}",
                self.ranking.len(),
                best.name
            ),
            able => format!(
                "{able} of {} kits can do it; \"{}\" comes first. {reason}",
                self.ranking.len(),
                best.name
            ),
        }
    }
}
