//! A worked studio day, played through a real server.

use std::io;

/// Plays the day.
pub async fn play() -> io::Result<()> {
    Ok(())
}
