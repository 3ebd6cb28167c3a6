//! The `probe` command: asks a running server whether it is ready.

use std::{io, time::Duration};

use crate::cli::args::Probe;

/// Fails if the server does not answer or is not ready.
pub async fn probe(flags: Probe) -> io::Result<()> {
    let url = format!("http://{}/readyz", flags.listen.reachable());
    // A proxy from the environment is for external hosts and may not reach this machine's own addresses.
    let client = reqwest::Client::builder().timeout(Duration::from_secs(5)).no_proxy();
    let client = client.build().map_err(io::Error::other)?;
    let response = client.get(&url).send().await.map_err(io::Error::other)?;
    if response.status().is_success() {
        Ok(())
    } else {
        Err(io::Error::other(format!("{url} answers {}", response.status())))
    }
}
