//! Stopwright: the lighting arithmetic of a flash studio, as an HTTP JSON API.
//!
//! # The rooms, from the top
//!
//! A module imports only from modules below it in this list.
//!
//! - [`cli`]: the commands of the program: serve, ask, tour, man page and completions.
//! - [`app`]: the router and the stack of layers around it.
//! - [`web`]: the HTML pages and the files that they load.
//! - [`openapi`]: the OpenAPI document.
//! - [`endpoints`]: the handlers, one file for each topic, and the registry of calculations.
//! - [`drawing`]: answers drawn as SVG.
//! - [`response`]: a typed answer written as JSON or text.
//! - [`request`]: JSON or a query read into a typed request, with every error collected.
//! - [`wording`]: text that people read.
//! - [`server`]: HTTP without photography: listener, configuration, authentication, rate limits, metrics, caching.
//! - [`light`]: the lighting maths: typed quantities in, typed answers out, no HTTP.
//!
//! A request passes through them like this: bytes → [`request`] → a typed request of [`light`] → a pure function → a
//! typed answer → [`response`] or [`drawing`].
//!
//! # A tour of the maths
//!
//! Exposure is counted in stops; `+` is brighter. The marks on a camera are rounded, so a mark is read as the exact
//! value behind it ([`light::quantity::marks`]), and f/5.6 to f/11 is exactly two stops:
//!
//! ```
//! use stopwright::light::{quantity::rules::Rules, stops::{Given, Target, convert}};
//!
//! let text = |text: &str| Given::Text(text.to_owned());
//! let answer = convert(&text("f/5.6"), &Target::To(text("f/11")), None, Rules::default());
//! assert_eq!(answer.map(|answer| answer.exposure_stops.get()), Ok(-2.0));
//! ```
//!
//! A flash unit has a rating and its own power scale. [`light::unit::scale`] converts a label on the control to stops
//! below full power and back, using the clicks that the unit has. Three whole steps down a dial are an eighth of the
//! energy:
//!
//! ```
//! use stopwright::light::{quantity::Joules, unit::scale::{Grid, Scale, Style}};
//!
//! let scale = Scale::new(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(0.1))?;
//! let below = scale.setting("6")?;
//! assert_eq!(below.get(), 3.0);
//! assert_eq!(Scale::energy_at(Joules::new_unchecked(500.0), below).get(), 62.5);
//! # Ok::<(), stopwright::light::error::InvalidValue>(())
//! ```
//!
//! - [`light::equivalence`] replaces one unit by another and keeps the exposure.
//! - [`light::unit::guide`] estimates energy from a guide number and back, and lists its assumptions.
//! - [`light::set::placement`] computes the light of a source at a distance and an angle.
//! - [`light::balance`] finds settings for many lights at once, with proof.
//! - [`light::kit`] checks whether a kit can do a shoot.
//! - [`light::supply`] checks recycling, batteries, circuits and heads.
//! - [`light::measure`] turns photographed patches, ambient readings and motion into numbers.
//!
//! # Limits of the model
//!
//! - Power scales are assumed to be accurate, except for a unit's offset and corrections.
//! - Light adds up. Reflections from walls are not modelled: readings taken on set include them, placements do not.
//! - A guide number describes a beam, a joule is stored electricity. The link between them is an assumption, and every
//!   answer that relies on one lists it.

pub mod app;
pub mod cli;
pub mod drawing;
pub mod endpoints;
pub mod light;
pub mod openapi;
pub mod request;
pub mod response;
pub mod server;
pub mod web;
pub mod wording;
