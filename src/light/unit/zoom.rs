//! The guide number of a zoom head, from its maker's table: by the focal length that its beam covers.
//!
//! Between two rows a straight line in the logarithms of both (our choice: a guide number that goes with a power of the
//! focal length is met exactly). Beyond the ends the head does not go.

use crate::light::{
    error::InvalidValue,
    quantity::{GuideMetres, significant},
};

/// Guide numbers by zoom, and the zoom in use.
#[derive(Debug, Clone, PartialEq)]
pub struct Zoom {
    /// Rows of focal length, mm, rising, and guide number at full power, m at ISO 100.
    pub rows: Vec<[f64; 2]>,
    /// The focal length in use, mm; `None` if the request does not say.
    pub at_mm: Option<f64>,
}

impl Zoom {
    /// The guide number at a focal length. An error beyond the ends of the table.
    ///
    /// ```
    /// use stopwright::light::unit::zoom::Zoom;
    /// let zoom = Zoom { rows: vec![[24.0, 28.0], [96.0, 56.0]], at_mm: None };
    /// // Half-way in the logarithms: √(24·96) = 48, √(28·56) = 39.598.
    /// assert!((zoom.guide_number(48.0).unwrap().get() - 39.598).abs() < 1e-3);
    /// assert!(zoom.guide_number(105.0).is_err());
    /// ```
    pub fn guide_number(&self, at_mm: f64) -> Result<GuideMetres, InvalidValue> {
        let after = self.rows.partition_point(|row| row[0] < at_mm);
        let before = after.checked_sub(1).and_then(|before| self.rows.get(before));
        match (before, self.rows.get(after)) {
            (_, Some([focal, guide])) if (focal - at_mm).abs() < 1e-9 => {
                Ok(GuideMetres::new_unchecked(*guide))
            }
            (Some([from, low]), Some([to, high])) => {
                let part = (at_mm / from).ln() / (to / from).ln();
                Ok(GuideMetres::new_unchecked(low * (high / low).powf(part)))
            }
            _ => {
                let end = |row: Option<&[f64; 2]>| row.map_or(0.0, |row| row[0]);
                let (least, greatest) = (end(self.rows.first()), end(self.rows.last()));
                let value = significant(at_mm);
                Err(InvalidValue::OutOfRange {
                    what: "zoom of this head",
                    value,
                    least,
                    greatest,
                    unit: "mm",
                })
            }
        }
    }
}
