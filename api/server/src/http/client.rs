//! From where a request comes: the address that limits are counted by.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::sync::Once;

use actix_web::HttpRequest;
use ipnet::IpNet;

/// The proxies whose word is taken for where a request came from. Nobody else's is: whoever sends a request can
/// write these headers.
#[derive(Debug, Clone, Default)]
pub struct TrustedProxies(pub Vec<IpNet>);

impl TrustedProxies {
    fn hold(&self, address: IpAddr) -> bool {
        self.0.iter().any(|net| net.contains(&address))
    }
}

/// One proxy or a network of them: `192.0.2.7` or `192.0.2.0/24`.
///
/// # Errors
/// One line for the command line.
pub fn proxy(text: &str) -> Result<IpNet, String> {
    let net = text.parse::<IpNet>().or_else(|_no_network| text.parse::<IpAddr>().map(IpNet::from));
    net.map_err(|_neither| "give an address such as 192.0.2.7 or a network such as 192.0.2.0/24".to_owned())
}

/// The address of the client: of the other end of the connection, or where that is a trusted proxy, the last hop it
/// names in `Forwarded` (RFC 7239) or `X-Forwarded-For` that is not a trusted proxy itself.
///
/// A proxy usually writes one of the two and lets the other pass as it came. Where both are there and do not agree,
/// neither is believed.
pub fn client_address(request: &HttpRequest) -> IpAddr {
    let peer = request.peer_addr().map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |peer| peer.ip().to_canonical());
    let proxies = request.app_data::<TrustedProxies>();
    if !proxies.is_some_and(|proxies| proxies.hold(peer)) {
        warn_of_forgotten_proxy(request, peer);
        return peer;
    }
    let told = |name, read: fn(&str) -> Option<IpAddr>| {
        let lines: Vec<&str> =
            request.headers().get_all(name).map(|line| line.to_str().unwrap_or_default()).collect();
        (!lines.is_empty()).then(|| last_stranger(&lines.join(","), proxies, read))
    };
    match (told("forwarded", hop_of_forwarded), told("x-forwarded-for", hop)) {
        (Some(told), None) | (None, Some(told)) => told.unwrap_or(peer),
        (Some(Some(one)), Some(Some(other))) if one == other => one,
        _ => peer,
    }
}

/// The last hop that is not a trusted proxy; where all are, the first. None where a hop on the way cannot be read.
fn last_stranger(
    hops: &str,
    proxies: Option<&TrustedProxies>,
    read: fn(&str) -> Option<IpAddr>,
) -> Option<IpAddr> {
    let mut seen = None;
    for text in hops.rsplit(',') {
        let address = read(text)?;
        seen = Some(address);
        if !proxies.is_some_and(|proxies| proxies.hold(address)) {
            break;
        }
    }
    seen
}

/// `for=` of one element of `Forwarded`, such as `for="[2001:db8::1]:4711";proto=https`.
fn hop_of_forwarded(element: &str) -> Option<IpAddr> {
    element.split(';').find_map(|pair| {
        let (name, value) = pair.split_once('=')?;
        name.trim().eq_ignore_ascii_case("for").then(|| hop(value.trim().trim_matches('"'))).flatten()
    })
}

/// An address, with or without a port and brackets.
fn hop(text: &str) -> Option<IpAddr> {
    let text = text.trim();
    let address = match text.strip_prefix('[') {
        Some(rest) => rest.split_once(']')?.0.parse().ok()?,
        None => text
            .parse()
            .or_else(|_with_port| text.rsplit_once(':').map_or(text, |(host, _)| host).parse())
            .ok()?,
    };
    Some(IpAddr::to_canonical(&address))
}

/// Whom limits are counted by: an IPv4 address, or the first 64 bits of an IPv6 address, since a household is given all
/// that is behind them (RFC 6177, common practice).
pub fn household(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V4(_) => address,
        IpAddr::V6(v6) => IpAddr::V6(Ipv6Addr::from_bits(v6.to_bits() & !u128::from(u64::MAX))),
    }
}

/// A proxy that was not named makes one client of everybody; whoever keeps the server is told once.
fn warn_of_forgotten_proxy(request: &HttpRequest, peer: IpAddr) {
    static TOLD: Once = Once::new();
    let near = match peer {
        IpAddr::V4(v4) => v4.is_loopback() || v4.is_private(),
        IpAddr::V6(v6) => v6.is_loopback() || v6.is_unique_local(),
    };
    if near
        && (request.headers().contains_key("x-forwarded-for") || request.headers().contains_key("forwarded"))
    {
        TOLD.call_once(|| {
            tracing::warn!(
                %peer,
                "requests come by way of a proxy that is not named; if it is yours, name it with --trusted-proxy, \
                 or everybody behind it counts as one client"
            );
        });
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test fails where it is not so")]

    use actix_web::test::TestRequest;

    use super::*;

    fn from(peer: &str, proxies: &[&str], headers: &[(&str, &str)]) -> String {
        let nets = proxies.iter().map(|text| proxy(text).unwrap()).collect();
        let mut request = TestRequest::default()
            .peer_addr(format!("{peer}:4711").parse().unwrap())
            .app_data(TrustedProxies(nets));
        for header in headers {
            request = request.append_header(*header);
        }
        client_address(&request.to_http_request()).to_string()
    }

    #[test]
    fn nobody_but_a_trusted_proxy_says_where_a_request_came_from() {
        let said = [("x-forwarded-for", "192.0.2.60"), ("forwarded", "for=192.0.2.60")];
        assert_eq!(from("198.51.100.9", &[], &said), "198.51.100.9");
        assert_eq!(from("198.51.100.9", &["198.51.100.8", "203.0.113.0/24"], &said), "198.51.100.9");
        assert_eq!(from("198.51.100.9", &["198.51.100.9"], &said), "192.0.2.60");
        assert_eq!(from("198.51.100.9", &["198.51.100.0/24"], &said[..1]), "192.0.2.60");
        assert_eq!(from("198.51.100.9", &["198.51.100.9"], &[]), "198.51.100.9");
    }

    #[test]
    fn the_last_hop_that_is_no_proxy_counts_and_what_was_sent_before_it_does_not() {
        let near = ["10.0.0.0/8"];
        let hops = |text| from("10.0.0.1", &near, &[("x-forwarded-for", text)]);
        assert_eq!(hops("1.2.3.4, 192.0.2.60"), "192.0.2.60");
        assert_eq!(hops("1.2.3.4, 192.0.2.60, 10.0.0.2"), "192.0.2.60");
        assert_eq!(hops("10.0.0.3, 10.0.0.2"), "10.0.0.3");
        // Two lines are one list (RFC 9110, section 5.3).
        let lines = [("x-forwarded-for", "1.2.3.4"), ("x-forwarded-for", "192.0.2.60")];
        assert_eq!(from("10.0.0.1", &near, &lines), "192.0.2.60");
        // What cannot be read is nobody: the proxy stands for it.
        for garbled in ["", "nobody", "192.0.2.60, unknown", "192.0.2.60,"] {
            assert_eq!(hops(garbled), "10.0.0.1", "{garbled}");
        }
    }

    #[test]
    fn both_headers_count_only_where_they_agree() {
        let both =
            |one, other| from("10.0.0.1", &["10.0.0.1"], &[("forwarded", one), ("x-forwarded-for", other)]);
        assert_eq!(both("for=192.0.2.60", "192.0.2.60"), "192.0.2.60");
        assert_eq!(both("for=192.0.2.60", "192.0.2.61"), "10.0.0.1");
        assert_eq!(both("for=unknown", "192.0.2.61"), "10.0.0.1");
    }

    #[test]
    fn ports_brackets_and_mapped_addresses_are_read() {
        let forwarded = |text| from("10.0.0.1", &["10.0.0.1"], &[("forwarded", text)]);
        assert_eq!(
            forwarded("proto=https;For=\"[2001:db8:cafe::17]:4711\";by=10.0.0.1"),
            "2001:db8:cafe::17"
        );
        assert_eq!(forwarded("for=192.0.2.43, for=\"198.51.100.17:80\""), "198.51.100.17");
        assert_eq!(forwarded("for=_hidden"), "10.0.0.1");
        let listed = |text| from("10.0.0.1", &["10.0.0.1"], &[("x-forwarded-for", text)]);
        assert_eq!(listed("::ffff:192.0.2.60"), "192.0.2.60");
        assert_eq!(listed("2001:db8::1"), "2001:db8::1");
        assert_eq!(listed("192.0.2.60:4711"), "192.0.2.60");
    }

    #[test]
    fn a_household_of_ipv6_counts_as_one() {
        let of = |text: &str| household(text.parse().unwrap()).to_string();
        assert_eq!(of("2001:db8:1:2:3:4:5:6"), "2001:db8:1:2::");
        assert_eq!(of("2001:db8:1:2::9"), "2001:db8:1:2::");
        assert_eq!(of("192.0.2.60"), "192.0.2.60");
    }

    #[test]
    fn a_proxy_is_an_address_or_a_network() {
        assert_eq!(proxy("192.0.2.7").unwrap().to_string(), "192.0.2.7/32");
        assert_eq!(proxy("2001:db8::/32").unwrap().to_string(), "2001:db8::/32");
        assert!(proxy("merrow.example").unwrap_err().contains("192.0.2.7"));
    }
}
