//! What the lens takes from the light.

use crate::{
    light::{
        quantity::{FNumber, bounds},
        set::{close_up::CloseUp, filter::Filter, lens::Lens},
    },
    request::{
        declare::request,
        fields::numbers::{Correction, Extension, FocalLength, MagnificationValue, PupilRatio},
        place::At,
        reader::{Reader, lists::Item},
    },
    wording::fault::Fault,
};

request! {
    /// What the lens takes from the light, which a hand-held meter does not see.
    pub struct LensInput {
        /// Image size divided by subject size, 0 to 20; 0 if left out. A close-up loses 2·log2(1 + m/p) stops with the pupil ratio p.
        magnification: Option<MagnificationValue>,
        /// How far the lens is moved out from its place at infinity, mm, in place of `magnification`; needs `focal_length_mm`.
        extension_mm: Option<Extension>,
        /// The focal length, mm; needs `extension_mm`.
        focal_length_mm: Option<FocalLength>,
        /// Diameter of the exit pupil over that of the entrance pupil; 1 if left out.
        pupil_ratio: Option<PupilRatio>,
        /// Filters on it.
        filters: Option<Vec<Filter>>,
        /// Transmission loss of the glass, stops, negative; 0 if left out.
        transmission_stops: Option<Correction>,
        /// Aperture errors at single marks, such as at the ends of a lens's range. The one at the working aperture is applied, if it is listed.
        mark_corrections: Option<Vec<MarkCorrectionInput>>,
    }
    at most one of "the magnification": magnification | extension_mm & focal_length_mm
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

impl Extension {
    /// The magnification of a lens moved out so far (derived: m = extension / f).
    pub fn magnification(self, focal_length: FocalLength, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
        let magnification = bounds::MAGNIFICATION.check(self.0 / focal_length.0);
        reader.checked(&At::Field(at, "extension_mm"), magnification)
    }
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
        let magnification = match self.extension_mm.zip(self.focal_length_mm) {
            Some((extension, focal_length)) => extension.magnification(focal_length, at, reader),
            None => self.magnification.map(|magnification| magnification.0),
        };
        let pupil_ratio = self.pupil_ratio.map_or(1.0, |ratio| ratio.0);
        Lens {
            close_up: magnification.map(|magnification| CloseUp { magnification, pupil_ratio }),
            transmission: self.transmission_stops.map(|stops| stops.0),
            mark_corrections: corrections
                .into_iter()
                .map(|correction| (correction.f_number, correction.stops.0))
                .collect(),
            filters: self.filters.unwrap_or_default(),
        }
    }
}
