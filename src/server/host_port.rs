//! An address or host name with a port, as flags state where to listen.

use std::{
    fmt, io,
    net::{Ipv4Addr, Ipv6Addr, SocketAddr},
    str::FromStr,
};

use tokio::net::TcpListener;

/// A host and a port: `127.0.0.1:8080`, `[::1]:8080` or `localhost:8080`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HostPort {
    /// An address.
    Address(SocketAddr),
    /// A host name, looked up when it is needed.
    Name(String, u16),
}

impl HostPort {
    /// Binds a listener. For a name, to the first of its addresses that can be bound, in the system's order.
    pub async fn listen(&self) -> io::Result<TcpListener> {
        match self {
            Self::Address(address) => TcpListener::bind(address).await,
            Self::Name(name, port) => TcpListener::bind((name.as_str(), *port)).await,
        }
    }

    /// Where this machine can reach a server that listens here.
    #[must_use]
    pub fn reachable(&self) -> Self {
        match self {
            Self::Address(address) => Self::Address(reachable(*address)),
            Self::Name(..) => self.clone(),
        }
    }
}

impl FromStr for HostPort {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if let Ok(address) = text.parse() {
            return Ok(Self::Address(address));
        }
        let is_name_byte = |byte: u8| byte.is_ascii_alphanumeric() || b"-._".contains(&byte);
        // Digits and dots alone are a mistyped address, which some systems would read as a different one.
        let is_name = |name: &str| {
            name.bytes().all(is_name_byte) && name.bytes().any(|byte| !byte.is_ascii_digit() && byte != b'.')
        };
        let parts = text.rsplit_once(':').filter(|(name, _)| is_name(name));
        parts
            .and_then(|(name, port)| Some(Self::Name(name.to_owned(), port.parse().ok()?)))
            .ok_or("a host and a port are expected, as 127.0.0.1:8080, [::1]:8080 or localhost:8080")
    }
}

impl fmt::Display for HostPort {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Address(address) => address.fmt(out),
            Self::Name(name, port) => write!(out, "{name}:{port}"),
        }
    }
}

/// The address at which this machine can reach a server that listens on `address`.
pub fn reachable(mut address: SocketAddr) -> SocketAddr {
    if address.ip().is_unspecified() {
        let loopback =
            if address.is_ipv4() { Ipv4Addr::LOCALHOST.into() } else { Ipv6Addr::LOCALHOST.into() };
        address.set_ip(loopback);
    }
    address
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_is_an_address_or_a_name() {
        for text in ["127.0.0.1:0", "[::1]:8080", "localhost:0", "db-1.set_2.example:65535"] {
            assert_eq!(text.parse().map(|parsed: HostPort| parsed.to_string()).as_deref(), Ok(text));
        }
        for wrong in
            ["", "localhost", ":8080", "localhost:", "localhost:65536", "1.2.3:80", "::1:80", "a b:80"]
        {
            assert!(wrong.parse::<HostPort>().is_err(), "{wrong}");
        }
    }
}
