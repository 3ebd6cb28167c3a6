//! Makes the client of the document at `STOPWRIGHT_OPENAPI30`, by progenitor, which takes no OpenAPI 3.1.

use std::{env, error::Error, fs, path::Path};

use progenitor_impl::{GenerationSettings, Generator, InterfaceStyle};

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo:rerun-if-env-changed=STOPWRIGHT_OPENAPI30");
    let document = env::var("STOPWRIGHT_OPENAPI30")?;
    println!("cargo:rerun-if-changed={document}");
    let document = serde_json::from_slice(&fs::read(document)?)?;
    let mut generator = Generator::new(GenerationSettings::default().with_interface(InterfaceStyle::Builder));
    let client = prettyplease::unparse(&syn::parse2(generator.generate_tokens(&document)?)?);
    fs::write(Path::new(&env::var("OUT_DIR")?).join("client.rs"), client)?;
    Ok(())
}
