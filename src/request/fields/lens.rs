//! What the lens takes from the light.

use crate::{
    light::{
        quantity::FNumber,
        set::{filter::Filter, lens::Lens},
    },
    request::{
        declare::request,
        fields::numbers::{Correction, MagnificationValue},
        place::At,
        reader::{Reader, lists::Item},
    },
    wording::fault::Fault,
};

request! {
    /// What the lens takes from the light, which a hand-held meter does not see.
    pub struct LensInput {
        /// Image size divided by subject size, 0 to 20; 0 if left out. A close-up loses 2·log2(1+m) stops.
        magnification: Option<MagnificationValue>,
        /// Filters on it.
        filters: Option<Vec<Filter>>,
        /// Transmission loss of the glass, stops, negative; 0 if left out.
        transmission_stops: Option<Correction>,
        /// Aperture errors at single marks, such as at the ends of a lens's range. The one at the working aperture is applied, if it is listed.
        mark_corrections: Option<Vec<MarkCorrectionInput>>,
    }
}

request! {
    /// The aperture error at one mark.
    struct MarkCorrectionInput {
        /// The mark.
        f_number: FNumber,
        /// The error, stops: positive if the picture is brighter than the mark says.
        stops: Correction,
    }
}

impl Item for MarkCorrectionInput {
    const MIN: usize = 0;
    const MAX: usize = 64;
    const PLURAL: &'static str = "corrections";
}

impl LensInput {
    /// Checks that each mark is listed once.
    pub fn check(self, at: &At<'_>, reader: &mut Reader) -> Lens {
        let marks_at = At::Field(at, "mark_corrections");
        let mut marks: Vec<f64> = Vec::new();
        let corrections: Vec<MarkCorrectionInput> = self.mark_corrections.into_iter().flatten().collect();
        for (index, correction) in corrections.iter().enumerate() {
            let mark = correction.f_number.get();
            if marks.iter().any(|before| (before / mark - 1.0).abs() < 1e-3) {
                let at = At::Index(&marks_at, index);
                reader.push_fault::<()>(&At::Field(&at, "f_number"), Fault::MarkStatedTwice);
            }
            marks.push(mark);
        }
        Lens {
            magnification: self.magnification.map_or(0.0, |magnification| magnification.0),
            transmission: self.transmission_stops.map(|stops| stops.0),
            mark_corrections: corrections
                .into_iter()
                .map(|correction| (correction.f_number, correction.stops.0))
                .collect(),
            filters: self.filters.unwrap_or_default(),
        }
    }
}
