//! How often may be asked: by one address, for one name, and by all together.
//!
//! One address may ask less than is allowed for a name, and a name less than all together: whoever sits at one machine
//! locks out that machine, and nobody else. Each process counts for itself, each shop by itself. What a proxy says of where
//! somebody comes from is not believed: it is text that anybody can send.

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use evenwire_core::record::Hash;
use governor::{DefaultDirectRateLimiter, DefaultKeyedRateLimiter, Quota, RateLimiter};
use std::convert::Infallible;
use std::net::IpAddr;
use std::num::NonZeroU32;

/// A name may be tried from so many addresses at their full rate.
const ADDRESSES_OF_A_NAME: u32 = 3;
/// All together may ask as often as so many addresses.
const ADDRESSES_OF_ALL: u32 = 30;
/// Addresses and names that are remembered, before those that rested are forgotten.
const MOST_REMEMBERED: usize = 10_000;

/// From which address somebody asks; none where that says nothing: behind a balancer, or without a network.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Peer(pub Option<IpAddr>);

impl<S: Send + Sync> FromRequestParts<S> for Peer {
    type Rejection = Infallible;
    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Peer, Infallible> {
        Ok(parts.extensions.get().copied().unwrap_or_default())
    }
}

/// How often may be asked for something.
#[derive(Debug)]
pub struct Rate {
    by_address: DefaultKeyedRateLimiter<[u8; 16]>,
    by_name: DefaultKeyedRateLimiter<[u8; 16]>,
    all: DefaultDirectRateLimiter,
}

impl Rate {
    fn a_minute(most: u32) -> Rate {
        let quota =
            |times: u32| Quota::per_minute(NonZeroU32::new(most.saturating_mul(times)).unwrap_or(NonZeroU32::MIN));
        Rate {
            by_address: RateLimiter::keyed(quota(1)),
            by_name: RateLimiter::keyed(quota(ADDRESSES_OF_A_NAME)),
            all: RateLimiter::direct(quota(ADDRESSES_OF_ALL)),
        }
    }

    /// Whether somebody may ask once more, for `name` if it is about one. What is refused uses nothing up for others.
    pub fn allows(&self, peer: Peer, name: Option<&str>) -> bool {
        let of = |limiter: &DefaultKeyedRateLimiter<[u8; 16]>, key: Option<[u8; 16]>| {
            if limiter.len() > MOST_REMEMBERED {
                limiter.retain_recent();
            }
            key.is_none_or(|key| limiter.check_key(&key).is_ok())
        };
        let name = name.map(|name| {
            let mut key = [0; 16];
            key.copy_from_slice(&Hash::of(name.as_bytes()).0[..16]);
            key
        });
        of(&self.by_address, peer.0.map(network)) && of(&self.by_name, name) && self.all.check().is_ok()
    }
}

/// An address as it is counted: of the newer kind whoever has one has all that begin with the same 64 bits.
fn network(address: IpAddr) -> [u8; 16] {
    let mut key = [0; 16];
    match address.to_canonical() {
        IpAddr::V4(address) => key[12..].copy_from_slice(&address.octets()),
        IpAddr::V6(address) => key[..8].copy_from_slice(&address.octets()[..8]),
    }
    key
}

/// How often a shop may be asked.
#[derive(Debug)]
pub struct Rates {
    most: [u32; 3],
    balancers: Vec<IpAddr>,
    /// Codes of invitations: 50 bits at three hundred a minute are not guessed in ten minutes.
    pub codes: Rate,
    /// Tokens: a shop's devices all at once, and not a machine that tries signatures.
    pub tokens: Rate,
    /// Passwords of the office.
    pub passwords: Rate,
}

impl Rates {
    /// What is usual for one shop.
    pub fn of_a_shop() -> Rates {
        Rates::a_minute(10, 300, 10)
    }

    /// So many codes, tokens and passwords a minute from one address; at least one of each.
    pub fn a_minute(codes: u32, tokens: u32, passwords: u32) -> Rates {
        let [codes_rate, tokens_rate, passwords_rate] = [codes, tokens, passwords].map(Rate::a_minute);
        Rates {
            most: [codes, tokens, passwords],
            balancers: Vec::new(),
            codes: codes_rate,
            tokens: tokens_rate,
            passwords: passwords_rate,
        }
    }

    /// The same where these addresses bring everybody's connections: they are not counted as addresses.
    pub fn behind(self, balancers: Vec<IpAddr>) -> Rates {
        Rates { balancers, ..self }
    }

    /// As many for another shop.
    pub fn for_another(&self) -> Rates {
        let [codes, tokens, passwords] = self.most;
        Rates::a_minute(codes, tokens, passwords).behind(self.balancers.clone())
    }

    /// Where a connection comes from, as far as it is to be counted.
    pub fn peer(&self, address: IpAddr) -> Peer {
        let address = address.to_canonical();
        Peer((!self.balancers.contains(&address)).then_some(address))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tries(rate: &Rate, peer: Peer, name: Option<&str>) -> usize {
        (0..1_000).take_while(|_| rate.allows(peer, name)).count()
    }

    fn at(last: u8) -> Peer {
        Peer(Some(IpAddr::from([192, 0, 2, last])))
    }

    #[test]
    fn one_machine_locks_out_itself_alone() {
        let rates = Rates::a_minute(1, 1, 5);
        let rate = &rates.passwords;
        assert_eq!(tries(rate, at(1), Some("toma")), 5);
        assert_eq!(tries(rate, at(1), Some("ines")), 0, "another name from the same machine");
        assert_eq!(tries(rate, at(2), Some("toma")), 5, "the same name from another machine");
        assert_eq!(tries(rate, at(3), Some("toma")), 5);
        assert_eq!(tries(rate, at(4), Some("toma")), 0, "three machines are enough for one name");
        assert_eq!(tries(rate, at(4), Some("ines")), 4, "it used one of its own");
    }

    #[test]
    fn all_together_have_an_end_too() {
        let rates = Rates::a_minute(1, 1, 5);
        let came: usize = (0..=255).map(|last| tries(&rates.passwords, at(last), None)).sum();
        assert_eq!(came, 150);
    }

    #[test]
    fn a_balancers_address_is_nobodys() {
        let balancer = IpAddr::from([192, 0, 2, 9]);
        let rates = Rates::a_minute(5, 1, 1).behind(vec![balancer]);
        assert_eq!((rates.peer(balancer), rates.for_another().peer(balancer)), (Peer(None), Peer(None)));
        assert_eq!(rates.peer("::ffff:192.0.2.9".parse().unwrap()), Peer(None));
        assert_eq!(tries(&rates.codes, rates.peer(balancer), Some("a")), 15, "as many as a name may");
        assert_eq!(rates.peer(IpAddr::from([192, 0, 2, 8])), at(8));
    }

    #[test]
    fn a_network_of_the_newer_kind_is_one() {
        let of = |text: &str| network(text.parse().unwrap());
        assert_eq!(of("2001:db8:0:7::1"), of("2001:db8:0:7:ffff::2"));
        assert_ne!(of("2001:db8:0:7::1"), of("2001:db8:0:8::1"));
        assert_eq!(of("192.0.2.1"), of("::ffff:192.0.2.1"));
        assert_ne!(of("192.0.2.1"), of("192.0.2.2"));
    }
}
