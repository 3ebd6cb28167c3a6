//! What can be wrong with a question, as data: which part of it, and why. The sentences are in `wording::phrases`, the
//! places in a request in `request::place`.

/// A part of a question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Part {
    /// The aperture of the exposure.
    FNumber,
    /// The ISO speed of the exposure.
    Iso,
    /// The exposure time.
    ExposureTime,
    /// The sync time.
    SyncTime,
    /// The filters on the lens.
    LensFilters,
    /// All lights of a set.
    Lights,
    /// One light of a set, or a field of it.
    Light(usize, Option<Field>),
    /// All points of a set.
    Points,
    /// One point of a set, or a field of it.
    Point(usize, Option<Field>),
    /// The ratio of the two sides.
    Ratio,
    /// The point that the ratio of a point's target refers to.
    TargetPoint(usize),
    /// The f-number of a point's target.
    TargetFNumber(usize),
    /// The value of a lighting ratio.
    RatioValue,
    /// A reading or a placement, or a field of it.
    Contribution(Entry, Option<Field>),
    /// An entry for ambient light, or a field of it.
    Ambient(usize, Option<Field>),
    /// All boards of a set.
    Reflectors,
    /// One board of a set.
    Reflector(usize),
    /// One blocker of a set.
    Blocker(usize),
    /// The room of a set.
    Room,
    /// The only unit.
    Unit,
    /// All entries of a kit; its own index if there are several.
    Kit(Option<usize>),
    /// The unit of an entry of a kit; the kit's own index if there are several.
    KitUnit {
        /// The index of the kit.
        kit: Option<usize>,
        /// The index of the entry.
        entry: usize,
    },
    /// An entry of a kit; the kit's own index if there are several.
    KitEntry {
        /// The index of the kit.
        kit: Option<usize>,
        /// The index of the entry.
        entry: usize,
    },
    /// All shots.
    Shots,
    /// One circuit.
    Circuit(usize),
    /// A field of the unit that others are compared with.
    Reference(Field),
    /// A field of a candidate.
    Candidate(usize, Field),
    /// The largest number of flashes in one exposure.
    MaxPops,
    /// A part of a shot.
    Shot(usize, ShotPart),
    /// The meter's reading of the flash alone.
    FlashFNumber,
    /// The ambient light of a picture.
    AmbientLight,
    /// The value that a conversion begins with.
    From,
    /// The value that a conversion ends with.
    To,
    /// The shift of a conversion.
    Shift,
    /// Frames of one patch.
    Frames,
    /// Frames of the other unit in a comparison.
    OtherFrames,
    /// All readings of a unit.
    Readings,
    /// One reading of a unit.
    Reading(usize),
    /// The response of a camera.
    Response,
    /// The level that others are compared with.
    ReferenceLevel,
    /// A field of the question itself.
    Own(Field),
    /// A field of the reading of the only light.
    Metered(Field),
    /// All packs of a set.
    Packs,
    /// One pack of a set, or of the only kit.
    Pack(usize),
    /// One pack of one of several kits, or all of them.
    KitPack {
        /// The index of the kit.
        kit: usize,
        /// The index of the pack.
        pack: Option<usize>,
    },
    /// The settings of a round.
    RoundSettings(usize),
    /// One reading of a round: the index of the round, and its own.
    RoundReading(usize, usize),
}

impl Part {
    /// The only light of several that something is about, or else all of them.
    pub fn of_lights(lights: &[usize]) -> Self {
        if let [light] = lights { Self::Light(*light, None) } else { Self::Lights }
    }

    /// The same, for points.
    pub fn of_points(points: &[usize]) -> Self {
        if let [point] = points { Self::Point(*point, None) } else { Self::Points }
    }

    /// The same, for packs.
    pub fn of_packs(packs: &[usize]) -> Self {
        if let [pack] = packs { Self::Pack(*pack) } else { Self::Packs }
    }

    /// The same, for the boards of a set.
    pub fn of_reflectors(boards: &[usize]) -> Self {
        if let [board] = boards { Self::Reflector(*board) } else { Self::Reflectors }
    }

    /// The same, for the units of a kit.
    pub fn of_units(units: &[usize]) -> Self {
        if let [entry] = units { Self::KitUnit { kit: None, entry: *entry } } else { Self::Kit(None) }
    }

    /// The same part in one of several kits.
    #[must_use]
    pub const fn in_kit(self, index: usize) -> Self {
        match self {
            Self::KitUnit { entry, .. } => Self::KitUnit { kit: Some(index), entry },
            Self::KitEntry { entry, .. } => Self::KitEntry { kit: Some(index), entry },
            Self::Kit(_) => Self::Kit(Some(index)),
            Self::Packs => Self::KitPack { kit: index, pack: None },
            Self::Pack(pack) => Self::KitPack { kit: index, pack: Some(pack) },
            part => part,
        }
    }
}

/// A part of a shot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ShotPart {
    /// The aperture of its exposure.
    FNumber,
    /// The ISO speed of its exposure.
    Iso,
    /// The exposure time of its exposure.
    ExposureTime,
    /// The sync time beside it.
    SyncTime,
    /// The filters on the lens.
    LensFilters,
    /// A field of the light of a role.
    Role(usize, Field),
}

/// Where a contribution to the light of a set comes from: the index in the list of readings or of placements.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Entry {
    /// A reading.
    Reading(usize),
    /// A placement.
    Placement(usize),
}

/// A field of a light, a point or a contribution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Field {
    /// Its name.
    Name,
    /// Its unit.
    Unit,
    /// The light that it names.
    Light,
    /// The point that it names.
    Point,
    /// Its distance.
    Distance,
    /// Its position.
    Position,
    /// The position that it is aimed at.
    Aim,
    /// Its setting.
    Setting,
    /// Whether it keeps its setting.
    Hold,
    /// Its flashes in one exposure.
    Pops,
    /// The filters on it.
    Filters,
    /// Its f-number.
    FNumber,
    /// The ISO speed.
    Iso,
    /// The exposure time.
    ExposureTime,
    /// The sync time.
    SyncTime,
    /// Its guide number.
    GuideNumber,
    /// The zoom of its head.
    Zoom,
}

/// An error in one part of a question.
#[derive(Debug, Clone, PartialEq)]
pub struct InvalidPart {
    /// The part.
    pub part: Part,
    /// What is wrong with it.
    pub error: InvalidValue,
}

/// What is wrong with a value.
#[derive(Debug, Clone, PartialEq)]
pub enum InvalidValue {
    /// A value outside its bounds.
    OutOfRange {
        /// The quantity.
        what: &'static str,
        /// The value, to six significant digits.
        value: f64,
        /// The least value.
        least: f64,
        /// The greatest value.
        greatest: f64,
        /// The unit; empty if there is none.
        unit: &'static str,
    },
    /// A shift that leads outside the bounds.
    ShiftOutOfRange {
        /// The quantity.
        what: &'static str,
        /// Where it leads.
        value: f64,
        /// The least value.
        least: f64,
        /// The greatest value.
        greatest: f64,
        /// The unit; empty if there is none.
        unit: &'static str,
    },
    /// A text that is no value of its kind.
    Unreadable {
        /// The beginning of the text.
        text: String,
        /// What it should be.
        what: &'static str,
        /// The notation.
        notation: &'static str,
    },
    /// A text with a comma, which may separate decimals or thousands.
    Comma {
        /// The beginning of the text.
        text: String,
        /// What it should be.
        what: &'static str,
        /// The text with decimal points.
        with_points: String,
        /// The text without commas.
        without: String,
    },
    /// A text that divides by zero.
    DividesByZero {
        /// The beginning of the text.
        text: String,
        /// What it should be.
        what: &'static str,
    },
    /// A text of two numbers, perhaps with a plus sign that a query turned into a space.
    MissingSign {
        /// The beginning of the text.
        text: String,
        /// What it should be.
        what: &'static str,
        /// The text with a plus sign.
        with_plus: String,
    },

    // A conversion.
    /// A text of one kind where another is needed.
    OtherKind {
        /// The text.
        text: String,
        /// Its kind in words.
        is: &'static str,
        /// The kind that is needed.
        needed: &'static str,
        /// The notation of that kind.
        notation: &'static str,
    },
    /// A text that is no value of any kind.
    NoKind {
        /// The beginning of the text.
        text: String,
    },
    /// Values of different kinds.
    DifferentKinds {
        /// The beginning of the first text.
        from_text: String,
        /// What it may be.
        from: AnyOf,
        /// The beginning of the second text.
        to_text: String,
        /// What it may be.
        to: AnyOf,
    },
    /// A value that may be of several kinds.
    AmbiguousKind {
        /// The names of the kinds.
        kinds: Vec<&'static str>,
    },
    /// A number without a kind.
    BareNumber {
        /// The names of all kinds.
        kinds: Vec<&'static str>,
    },

    // A unit and its scale.
    /// A scale with a single setting.
    SingleSetting,
    /// A scale with too many settings.
    TooManySettings {
        /// The number of settings.
        count: u64,
        /// The most that are allowed.
        most: usize,
    },
    /// A text that is not a label of the scale.
    NotALabel {
        /// The beginning of the text.
        label: String,
        /// The scale.
        scale: LabelRange,
    },
    /// A label beyond the ends of the scale.
    BeyondScale {
        /// The label.
        label: String,
        /// The scale.
        scale: LabelRange,
    },
    /// A label between two settings.
    BetweenSettings {
        /// The label.
        label: String,
        /// The label of the nearest setting.
        nearest: String,
    },
    /// A unit that states an energy only, where its light is needed.
    UnknownBeam,
    /// A head on a pack whose light is not known.
    UnknownHeadBeam,
    /// A unit that lacks a value for a comparison.
    NotComparable {
        /// The unit's name.
        unit: Option<String>,
        /// The quantity that is compared, as in a request.
        by: &'static str,
        /// The fields that it lacks.
        lacks: &'static str,
    },
    /// A distance that only the candidate states.
    ReferenceDistanceMissing,
    /// A field without which nothing can be found.
    NotDetermined,

    // A set.
    /// A name that an earlier light or point has.
    DuplicateName {
        /// The name.
        name: String,
    },
    /// A name that nothing has.
    UnknownName {
        /// What it should name: `light`, `gel`.
        what: &'static str,
        /// The name.
        name: String,
        /// The names there are.
        known: Vec<String>,
    },
    /// A second reading or placement for a light at a point.
    StatedTwice {
        /// The light.
        light: String,
        /// The point.
        point: String,
    },
    /// A second entry of ambient light for a point.
    AmbientStatedTwice {
        /// The point.
        point: String,
    },
    /// Ambient light without an exposure time.
    ExposureTimeMissing,
    /// A table of guide numbers without the zoom at which it is read.
    ZoomMissing,
    /// A lamp without an exposure time.
    LampWithoutTime,
    /// A flash with high-speed sync, with an exposure time and no sync time.
    SyncTimeMissing,
    /// A light whose distance to a point is unknown.
    UnknownDistance {
        /// The light.
        light: String,
        /// The point.
        point: String,
    },
    /// A light at the position of a point.
    LightOnPoint {
        /// The light.
        light: String,
        /// The point.
        point: String,
    },
    /// A light aimed at its own position.
    AimedAtItself {
        /// The light.
        light: String,
    },
    /// A set without points.
    NoPoint,
    /// A point that neither a light nor ambient light reaches.
    UnlitPoint {
        /// The point.
        point: String,
    },
    /// A reading of lights of which none reaches the point, without ambient light.
    UnlitReading {
        /// The point.
        point: String,
    },
    /// Ratios that refer to each other in a circle.
    CircularRatios,

    /// Settings that take more energy than their pack has.
    PackOverdrawn {
        /// The pack.
        pack: String,
        /// What they take, J.
        takes_j: f64,
        /// What it has, J.
        energy_j: f64,
    },

    // Measurements.
    /// Frames that do not enclose a level.
    NotEnclosed {
        /// The level.
        level: f64,
    },
    /// Too few different frames for a curve.
    TooFewFrames,
    /// No reading that agrees with the others.
    NoReading,
    /// Light too far from the unit's rating.
    FarOffRating {
        /// How far, stops.
        stops: f64,
        /// The least value.
        least: f64,
        /// The greatest value.
        greatest: f64,
        /// The unit; empty if there is none.
        unit: &'static str,
    },
}

/// What a value may be, in words: one of these.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnyOf(pub Box<[&'static str]>);

/// The labels of a scale: its ends, and how labels in between look.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LabelRange {
    /// Any power over 8 stops.
    Continuous,
    /// Fractions of full power, from the first label to the last.
    Fractions(String, String),
    /// Other labels, from the first to the last.
    Labels(String, String),
}

impl InvalidValue {
    /// Adds the part of the question.
    pub const fn in_part(self, part: Part) -> InvalidPart {
        InvalidPart { part, error: self }
    }
}

/// The beginning of a text, for an error that quotes it.
pub fn beginning(text: &str) -> String {
    text.chars().take(40).collect()
}
