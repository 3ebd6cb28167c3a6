//! The exposure settings that affect flash.

use crate::light::quantity::{FNumber, Iso, Seconds, kind::Kind, marks::Step, nominal::Nominal};

/// Aperture and ISO speed. The exposure time does not affect flash.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlashExposure {
    /// Aperture.
    pub f_number: FNumber,
    /// ISO speed.
    pub iso: Iso,
}

impl FlashExposure {
    /// The exposure as text, with the exposure time if given: `f/8, 1/125 s, ISO 160`.
    pub fn said(self, time: Option<Seconds>, step: Step) -> String {
        let time = time.map(|time| Nominal::new(Kind::ExposureTime, time.get(), step));
        let all = [
            Some(Nominal::f_number(self.f_number, step)),
            time,
            Some(Nominal::new(Kind::Iso, self.iso.get(), step)),
        ];
        all.iter().flatten().map(Nominal::exact_text).collect::<Vec<_>>().join(", ")
    }
}
