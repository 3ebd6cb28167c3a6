//! Where a request comes from: the peer, or what proxies that are trusted say of it.

use std::net::{IpAddr, Ipv6Addr, SocketAddr};

use axum::http::{HeaderMap, HeaderName};
use ipnet::IpNet;

const FORWARDED_FOR: HeaderName = HeaderName::from_static("x-forwarded-for");
/// A subscriber has a whole /64 of IPv6, so addresses within count as one caller.
const NETWORK_BITS: u32 = 64;

/// Networks whose word for `X-Forwarded-For` is taken.
#[derive(Debug, Clone, Default)]
pub struct Proxies(Vec<IpNet>);

impl Proxies {
    /// Proxies in these networks.
    pub const fn new(networks: Vec<IpNet>) -> Self {
        Self(networks)
    }

    /// The address that a request came from. Each proxy adds to the right what it saw, so the first address from the
    /// right that is no proxy of ours is the caller's; what stands left of it anyone can make up.
    pub fn client(&self, peer: IpAddr, headers: &HeaderMap) -> IpAddr {
        let mut client = peer.to_canonical();
        if !self.trusts(client) {
            return client;
        }
        let lines = headers.get_all(FORWARDED_FOR).iter().rev();
        let hops = lines.flat_map(|line| line.to_str().unwrap_or_default().rsplit(',').map(address));
        for hop in hops {
            // What cannot be read ends the chain: the proxy that sent it is then the caller.
            let Some(hop) = hop else { break };
            client = hop;
            if !self.trusts(client) {
                break;
            }
        }
        client
    }

    fn trusts(&self, address: IpAddr) -> bool {
        self.0.iter().any(|network| network.contains(&address))
    }
}

/// An address, with or without brackets and a port.
fn address(hop: &str) -> Option<IpAddr> {
    let hop = hop.trim();
    let bare = hop.strip_prefix('[').and_then(|hop| hop.strip_suffix(']')).unwrap_or(hop);
    let with_port = || hop.parse().map(|address: SocketAddr| address.ip());
    bare.parse().or_else(|_| with_port()).ok().map(|address: IpAddr| address.to_canonical())
}

/// The network that counts as one caller.
pub fn network(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V4(_) => address,
        IpAddr::V6(address) => {
            IpAddr::V6(Ipv6Addr::from_bits(address.to_bits() & !(u128::MAX >> NETWORK_BITS)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_trusted_proxies_are_believed() {
        // Addresses for documentation: RFC 5737 and RFC 3849.
        let networks = ["192.0.2.0/24", "2001:db8:1::/48"].map(|network| network.parse().ok());
        let proxies = Proxies::new(networks.into_iter().flatten().collect());
        let client = |peer: &str, lines: &[&str]| {
            let mut headers = HeaderMap::new();
            for line in lines {
                headers.extend(line.parse().ok().map(|value| (FORWARDED_FOR, value)));
            }
            peer.parse().map(|peer| proxies.client(peer, &headers).to_string()).unwrap_or_default()
        };
        for (peer, lines, expected) in [
            ("192.0.2.7", &[][..], "192.0.2.7"),
            ("192.0.2.7", &["198.51.100.4"], "198.51.100.4"),
            // Made up by the caller: whatever stands left of what our own proxy saw.
            ("192.0.2.7", &["203.0.113.1, 198.51.100.4"], "198.51.100.4"),
            ("192.0.2.7", &["203.0.113.1", "198.51.100.4, 192.0.2.9"], "198.51.100.4"),
            ("192.0.2.7", &["198.51.100.4, nonsense"], "192.0.2.7"),
            ("192.0.2.7", &["192.0.2.8, 192.0.2.9"], "192.0.2.8"),
            ("192.0.2.7", &["198.51.100.4:4444"], "198.51.100.4"),
            ("192.0.2.7", &["[2001:db8:2::1]:4444"], "2001:db8:2::1"),
            ("192.0.2.7", &["[2001:db8:2::1]"], "2001:db8:2::1"),
            ("198.51.100.4", &["203.0.113.1"], "198.51.100.4"),
            ("::ffff:192.0.2.7", &["::ffff:198.51.100.4"], "198.51.100.4"),
            ("2001:db8:1::1", &["2001:db8:2::1"], "2001:db8:2::1"),
        ] {
            assert_eq!(client(peer, lines), expected, "{peer} {lines:?}");
        }
    }

    #[test]
    fn neighbours_in_a_network_of_version_6_are_one_caller() {
        let one = |text: &str| text.parse().map(|address| network(address).to_string());
        assert_eq!(one("2001:db8:1:2:3:4:5:6"), Ok("2001:db8:1:2::".to_owned()));
        assert_eq!(one("198.51.100.4"), Ok("198.51.100.4".to_owned()));
    }
}
