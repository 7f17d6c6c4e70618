//! Which addresses are near by: those that only the network of a house has.

// Of the core library: addresses as values, nothing that reaches a network.
use core::net::{IpAddr, Ipv4Addr};

/// Addresses that are told at most: each makes the picture of a code larger.
const MOST: usize = 4;

/// Of the addresses of a machine those at which others on the same network reach it, likely ones first; that of the
/// machine itself where it is in no network.
pub fn near_by(found: impl IntoIterator<Item = IpAddr>) -> Vec<IpAddr> {
    let mut ranked: Vec<(u8, IpAddr)> = found.into_iter().filter_map(|ip| Some((rank(ip)?, ip))).collect();
    ranked.sort_unstable();
    ranked.dedup();
    let near: Vec<IpAddr> = ranked.into_iter().map(|(_, ip)| ip).take(MOST).collect();
    if near.is_empty() { vec![Ipv4Addr::LOCALHOST.into()] } else { near }
}

/// How likely another device gets here by it; `None`: not at all, or it is no address near by. The newer kind's address of
/// a single link is none that can be told: it holds only with the name an interface has on one machine.
fn rank(ip: IpAddr) -> Option<u8> {
    match ip {
        IpAddr::V4(v4) if v4.octets()[0] == 192 && v4.is_private() => Some(0),
        // Bridges inside a machine like these, too.
        IpAddr::V4(v4) if v4.is_private() => Some(if v4.octets()[0] == 10 { 1 } else { 2 }),
        IpAddr::V6(v6) if v6.is_unique_local() => Some(3),
        IpAddr::V4(v4) if v4.is_link_local() => Some(4),
        _ => None,
    }
}

/// A job may be fetched there: private, of one link, or this machine itself.
pub fn is_near(ip: IpAddr) -> bool {
    match ip.to_canonical() {
        IpAddr::V4(v4) => v4.is_private() || v4.is_link_local() || v4.is_loopback(),
        IpAddr::V6(v6) => v6.is_unique_local() || v6.is_unicast_link_local() || v6.is_loopback(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ips(texts: &[&str]) -> Vec<IpAddr> {
        texts.iter().map(|text| text.parse().unwrap()).collect()
    }

    #[test]
    fn what_others_reach_comes_first_and_nothing_of_the_world_is_offered() {
        let found = ips(&[
            "127.0.0.1",
            "203.0.113.9",
            "fe80::1",
            "172.17.0.1",
            "169.254.7.7",
            "10.1.2.3",
            "2001:db8::7",
            "fd00::7",
            "192.168.7.20",
            "192.168.7.20",
            "::1",
        ]);
        assert_eq!(near_by(found), ips(&["192.168.7.20", "10.1.2.3", "172.17.0.1", "fd00::7"]));
        assert_eq!(near_by(ips(&["203.0.113.9", "192.0.2.1", "::1"])), ips(&["127.0.0.1"]), "in no network near by");
    }

    #[test]
    fn only_addresses_near_by_are_gone_to() {
        let near = ["127.0.0.1", "10.0.0.1", "172.31.0.1", "192.168.0.1", "169.254.1.1", "fd12::1", "fe80::1", "::1"];
        assert!(ips(&near).into_iter().all(is_near));
        let far = ["8.8.4.4", "172.32.0.1", "100.64.0.1", "0.0.0.0", "2001:db8::1", "::", "::ffff:203.0.113.9"];
        assert_eq!(ips(&far).into_iter().find(|ip| is_near(*ip)), None);
        assert!(is_near("::ffff:192.168.0.1".parse().unwrap()), "the same address, written otherwise");
    }
}
