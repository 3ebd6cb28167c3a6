//! What the lens takes from the light, which a hand-held meter does not see.

use crate::light::{
    quantity::{
        FNumber, Stops,
        marks::{self, Engraved, Mark, Step},
        nominal::Nominal,
    },
    set::{
        close_up::CloseUp,
        filter::{self, Filter},
    },
};

/// Lens corrections.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Lens {
    /// How near it is focused; `None` at infinity.
    pub close_up: Option<CloseUp>,
    /// Transmission loss in stops, negative.
    pub transmission: Option<Stops>,
    /// Aperture errors: the engraved mark and its error in stops, positive if brighter.
    pub mark_corrections: Vec<(FNumber, Stops)>,
    /// The filters on it.
    pub filters: Vec<Filter>,
}

impl Lens {
    /// The total correction at an aperture, stops.
    pub fn stops(&self, f_number: FNumber) -> f64 {
        self.stops_at_any() + self.stops_at_mark(f_number)
    }

    /// The part of the correction that is the same at every aperture, stops.
    pub fn stops_at_any(&self) -> f64 {
        self.close_up.map_or(0.0, CloseUp::stops)
            + self.transmission.map_or(0.0, Stops::get)
            + filter::stops(&self.filters)
    }

    /// The error of the mark of an aperture, stops.
    fn stops_at_mark(&self, f_number: FNumber) -> f64 {
        let at_mark = |(mark, _): &&(FNumber, Stops)| (mark.get() / f_number.get() - 1.0).abs() < 1e-3;
        self.mark_corrections.iter().find(at_mark).map_or(0.0, |(_, stops)| stops.get())
    }

    /// An aperture that was found without regard to the errors of marks, with the mark that comes nearest to it with its
    /// own error: that need not be the one whose number is nearest.
    pub fn nominal(&self, f_number: FNumber, step: Step) -> Nominal {
        let nominal = Nominal::f_number(f_number, step);
        if self.mark_corrections.is_empty() {
            return nominal;
        }
        let error = |mark: &Mark| {
            2.0 * (f_number.get() / mark.value).log2()
                + self.stops_at_mark(FNumber::new_unchecked(mark.value))
        };
        // The darker one in a tie, as without errors.
        let marks = marks::series(Engraved::FNumber, step).iter().rev();
        let nearest =
            marks.map(|mark| (error(mark), mark)).min_by_key(|(off, _)| (off.abs() * 1e9).round() as i64);
        let nearest = nearest.filter(|(off, _)| off.abs() < 1.0 - 1e-9);
        Nominal {
            mark: nearest.map(|(_, mark)| mark.text.as_str().into()),
            off_by_stops: nearest.map(|(off, _)| Stops::new_unchecked(off)),
            ..nominal
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mark_is_chosen_by_its_own_error() {
        let lens = |mark: f64, stops: f64| Lens {
            mark_corrections: vec![(FNumber::new_unchecked(mark), Stops::new_unchecked(stops))],
            ..Lens::default()
        };
        let chosen = |lens: &Lens| {
            let nominal = lens.nominal(FNumber::new_unchecked(8.0), Step::Third);
            (nominal.mark, nominal.off_by_stops.map(|off| (off.get() * 1e4).round()))
        };
        // By hand: f/8 with its +0.2 is nearer than f/9, which is a third too dark.
        assert_eq!(chosen(&lens(8.0, 0.2)), (Some("f/8".into()), Some(2000.0)));
        // f/8 would be 0.5 too bright; f/9 has no error of its own, and is a third too dark, f/7.1 as much too bright.
        assert_eq!(chosen(&lens(8.0, 0.5)), (Some("f/9".into()), Some(-3333.0)));
        // f/9 with its +0.3 is 0.0333 too dark. f/8 is right.
        assert_eq!(chosen(&lens(2_f64.powf(19.0 / 6.0), 0.3)), (Some("f/8".into()), Some(0.0)));
        assert_eq!(chosen(&Lens::default()), (Some("f/8".into()), Some(0.0)));
    }
}
