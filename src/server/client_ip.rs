//! The client's address: the peer's, or the one that trusted proxies report in `X-Forwarded-For`.

use std::net::{IpAddr, Ipv6Addr, SocketAddr};

use axum::http::{HeaderMap, HeaderName};
use ipnet::IpNet;

const FORWARDED_FOR: HeaderName = HeaderName::from_static("x-forwarded-for");
/// An IPv6 subscriber usually has a whole /64, so its addresses count as one caller.
const NETWORK_BITS: u32 = 64;

/// Trusted proxies: networks whose `X-Forwarded-For` is believed.
#[derive(Debug, Clone, Default)]
pub struct Proxies(Vec<IpNet>);

impl Proxies {
    /// Trusts these networks.
    pub const fn new(networks: Vec<IpNet>) -> Self {
        Self(networks)
    }

    /// The address of the client. Each proxy appends the address that it saw, so the client is the first address from
    /// the right that is not a trusted proxy. Anything further left can be forged.
    pub fn client(&self, peer: IpAddr, headers: &HeaderMap) -> IpAddr {
        let mut client = peer.to_canonical();
        if !self.trusts(client) {
            return client;
        }
        // Bytes, not text: a client may put bytes that are not text into the same header that a proxy then appends to.
        let lines = headers.get_all(FORWARDED_FOR).iter().rev();
        let hops = lines.flat_map(|line| line.as_bytes().rsplit(|byte| *byte == b',').map(parse_hop));
        for hop in hops {
            // A hop that cannot be parsed ends the chain: the proxy that added it then counts as the client.
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

/// Parses a network in CIDR notation (`10.0.0.0/8`), or a single address.
pub fn parse_network(text: &str) -> Result<IpNet, String> {
    let text = text.trim();
    let single = || text.parse().map(|address: IpAddr| IpNet::from(address.to_canonical()));
    let error = |_| "an address or a network is expected, as 10.0.0.1 or 10.0.0.0/8".to_owned();
    text.parse().or_else(|_| single()).map_err(error)
}

/// Parses an address, with or without brackets and a port.
fn parse_hop(hop: &[u8]) -> Option<IpAddr> {
    let hop = str::from_utf8(hop).ok()?.trim();
    let unbracketed = hop.strip_prefix('[').and_then(|hop| hop.strip_suffix(']')).unwrap_or(hop);
    let with_port = || hop.parse().map(|address: SocketAddr| address.ip());
    unbracketed.parse().or_else(|_| with_port()).ok().map(|address: IpAddr| address.to_canonical())
}

/// The network of an address that counts as one caller: the address itself for IPv4, its /64 for IPv6.
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
    use axum::http::HeaderValue;

    use super::*;

    /// The client's address, as text.
    fn client<'l>(proxies: &Proxies, peer: &str, lines: impl Iterator<Item = &'l [u8]>) -> String {
        let mut headers = HeaderMap::new();
        for line in lines.filter_map(|line| HeaderValue::from_bytes(line).ok()) {
            headers.append(FORWARDED_FOR, line);
        }
        peer.parse().map(|peer| proxies.client(peer, &headers).to_string()).unwrap_or_default()
    }

    #[test]
    fn only_trusted_proxies_are_believed() {
        // Addresses for documentation: RFC 5737 and RFC 3849.
        let networks = ["192.0.2.0/24", "2001:db8:1::/48"].map(|network| network.parse().ok());
        let proxies = Proxies::new(networks.into_iter().flatten().collect());
        let client =
            |peer: &str, lines: &[&str]| client(&proxies, peer, lines.iter().map(|line| line.as_bytes()));
        for (peer, lines, expected) in [
            ("192.0.2.7", &[][..], "192.0.2.7"),
            ("192.0.2.7", &["198.51.100.4"], "198.51.100.4"),
            // Forged by the client: anything left of what our own proxy saw.
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
    fn bytes_that_are_not_text_do_not_hide_what_a_proxy_appended() {
        let proxies = Proxies::new(parse_network("192.0.2.0/24").into_iter().collect());
        for (lines, expected) in [
            (&[&b"\xff, 198.51.100.4"[..]][..], "198.51.100.4"),
            (&[b"203.0.113.1\xff,198.51.100.4, 192.0.2.9"], "198.51.100.4"),
            (&[b"\xff\xfe", b"198.51.100.4"], "198.51.100.4"),
            // A proxy that appends such bytes itself counts as the client.
            (&[b"203.0.113.1, \xff"], "192.0.2.7"),
            (&[b"203.0.113.1, \xff, 192.0.2.9"], "192.0.2.9"),
        ] {
            let found = client(&proxies, "192.0.2.7", lines.iter().copied());
            assert_eq!(found, expected, "{lines:?}");
        }
    }

    #[test]
    fn a_single_address_is_a_network_of_one() {
        for (text, network) in [
            ("10.0.0.1", "10.0.0.1/32"),
            (" 10.0.0.1", "10.0.0.1/32"),
            ("10.0.0.0/8", "10.0.0.0/8"),
            ("2001:db8::1", "2001:db8::1/128"),
            ("::ffff:10.0.0.1", "10.0.0.1/32"),
        ] {
            assert_eq!(parse_network(text).map(|network| network.to_string()).as_deref(), Ok(network));
        }
        for wrong in ["", "nowhere", "10.0.0.1/33", "10.0.0", "[2001:db8::1]", "10.0.0.1:80"] {
            assert!(parse_network(wrong).is_err_and(|error| error.contains("10.0.0.0/8")), "{wrong}");
        }
    }

    #[test]
    fn addresses_in_one_ipv6_network_are_one_caller() {
        let one = |text: &str| text.parse().map(|address| network(address).to_string());
        assert_eq!(one("2001:db8:1:2:3:4:5:6"), Ok("2001:db8:1:2::".to_owned()));
        assert_eq!(one("198.51.100.4"), Ok("198.51.100.4".to_owned()));
    }
}
