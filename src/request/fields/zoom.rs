//! Guide numbers by zoom, and the zoom in use.

use crate::{
    light::{
        error::InvalidValue,
        quantity::{Iso, units::GuideUnit},
        unit::{Unit, coverage::Coverage, zoom::Zoom},
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{
            coverage::Guide,
            numbers::{FocalLength, GuideValue},
        },
        place::At,
        reader::{Read, Reader, lists::Item},
        schema::UnitGuideInput,
        value::Value,
    },
    wording::fault::Fault,
};

request! {
    /// Guide numbers by zoom, read at `zoom_mm`.
    pub struct ZoomGuideInput {
        /// Metres or feet.
        unit: GuideUnit,
        /// The ISO speed they are stated for; 100 if left out.
        iso: Option<Iso>,
        /// The table, in rising order of focal length; straight in the logarithms between its rows. The head does not go beyond its ends.
        by_zoom: Vec<ZoomRowInput>,
        /// The coverage, if it does not follow the zoom.
        coverage: Option<Coverage>,
    }
}

request! {
    /// The guide number at one zoom.
    pub struct ZoomRowInput {
        /// The focal length on the head, mm.
        focal_length_mm: FocalLength,
        /// The guide number there, in the table's `unit`.
        value: GuideValue,
    }
}

impl Item for ZoomRowInput {
    const MIN: usize = 2;
    const MAX: usize = 32;
    const PLURAL: &'static str = "rows";
}

/// The guide number of a unit, or a table by zoom.
pub enum UnitGuide {
    /// One.
    One(Guide),
    /// A table by zoom, and the coverage that was stated with it.
    ByZoom(Zoom, Option<Coverage>),
}

looks_like!(UnitGuide as UnitGuideInput);

impl UnitGuide {
    /// The coverage that was stated with it.
    pub const fn coverage(&self) -> Option<Coverage> {
        match self {
            Self::One(guide) => guide.coverage,
            Self::ByZoom(_, coverage) => *coverage,
        }
    }

    /// The unit with this guide number, or table.
    pub fn on(self, unit: Unit) -> Unit {
        match self {
            Self::One(guide) => Unit { guide_number: Some(guide.number), ..unit },
            Self::ByZoom(zoom, _) => Unit { zoom: Some(zoom), ..unit },
        }
    }
}

impl Read for UnitGuide {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        if value.get("by_zoom").is_none() {
            return Guide::read(value, at, reader).map(Self::One);
        }
        let input = ZoomGuideInput::read(value, at, reader)?;
        let table_at = At::Field(at, "by_zoom");
        let mut rows: Vec<[f64; 2]> = Vec::new();
        for (index, row) in input.by_zoom.into_iter().enumerate() {
            let at = At::Index(&table_at, index);
            if rows.last().is_some_and(|before| before[0] >= row.focal_length_mm.0) {
                return reader.push_fault(&At::Field(&at, "focal_length_mm"), Fault::FocalLengthsNotRising);
            }
            let guide = Guide::metres(row.value, input.unit, input.iso);
            let guide = reader.checked(&At::Field(&at, "value"), guide)?;
            rows.push([row.focal_length_mm.0, guide.get()]);
        }
        Some(Self::ByZoom(Zoom { rows, at_mm: None }, input.coverage))
    }

    fn expected() -> String {
        Guide::expected()
    }
}

/// The unit at the zoom that stands beside it as `zoom_mm`: its table is read there, and the zoom is its coverage if it
/// states none. A table without a zoom is a missing field.
pub fn zoomed(unit: Unit, zoom: Option<FocalLength>, at: &At<'_>, reader: &mut Reader) -> Option<Unit> {
    let unit = zoomed_if_stated(unit, zoom, at, reader)?;
    if unit.needs_zoom() {
        return reader.push_fault(&At::Field(at, "zoom_mm"), InvalidValue::ZoomMissing);
    }
    Some(unit)
}

/// The same, where the light of the unit need not be known.
pub fn zoomed_if_stated(
    unit: Unit,
    zoom: Option<FocalLength>,
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<Unit> {
    match zoom {
        Some(FocalLength(zoom)) => reader.checked(&At::Field(at, "zoom_mm"), unit.zoomed_to(zoom)),
        None => Some(unit),
    }
}
