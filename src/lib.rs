//! Stopwright: the lighting arithmetic of a flash studio, as an HTTP JSON API.
//!
//! - [`light`] is the maths: typed quantities in, typed answers out, no HTTP.
//! - [`api`] is HTTP: reading requests with every fault located, the route table, problems, OpenAPI.
//! - [`picture`] draws questions and their answers.
//! - [`config`] and [`run`] are the command line; [`ask`] asks the API in the same process.
//!
//! # A tour of the maths
//!
//! Everything is counted in stops of exposure; `+` is brighter. A camera's marks are rounded, so a mark
//! is read as the value that it stands for ([`light::marks`]), and f/5.6 to f/11 is exactly two stops:
//!
//! ```
//! use stopwright::light::{rules::Rules, stops::{Given, Target, convert}};
//!
//! let text = |text: &str| Given::Text(text.to_owned());
//! let answer = convert(&text("f/5.6"), &Target::To(text("f/11")), None, Rules::default());
//! assert_eq!(answer.map(|answer| answer.exposure_stops.get()), Ok(-2.0));
//! ```
//!
//! A flash unit has a rating and a power scale of its own. [`light::scale`] takes a label to stops below
//! full power and back, on the clicks that the unit has. Three steps down a dial is an eighth of the
//! energy:
//!
//! ```
//! use stopwright::light::{quantity::Joules, scale::{Grid, Scale, Style}};
//!
//! let scale = Scale::new(Style::Dial { full: 9.0, least: 2.0 }, Grid::Click(0.1))?;
//! let below = scale.setting("6")?;
//! assert_eq!(below.get(), 3.0);
//! assert_eq!(Scale::energy_at(Joules::new_unchecked(500.0), below).get(), 62.5);
//! # Ok::<(), stopwright::light::fault::Wrong>(())
//! ```
//!
//! [`light::equivalence`] swaps one unit for another, [`light::guide`] estimates energy from a guide
//! number and back with its assumptions, [`light::placement`] is the light of a source at a distance,
//! and [`light::balance`] sets many lights at once, with proof.
//!
//! # Limits of the model
//!
//! - Power scales are taken at their word, apart from an offset and corrections of a unit.
//! - Light adds up. Reflections from walls are not modelled; readings taken on set have them in, placements
//!   have not.
//! - A guide number is a beam and a joule is stored electricity. What lies between is an assumption, and
//!   every answer that leans on one lists it.

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
