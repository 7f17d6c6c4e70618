//! PINs to hashes. A PIN is looked at here and nowhere else, and nothing of it is kept but the hash.

use argon2::password_hash::{PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use argon2::{Algorithm, Argon2, Params, Version};
use evenwire_core::record::{Pin, PinHash};

/// Memory of one hash, KiB: the default of the library, and the first choice of common guidance for Argon2id.
const MEMORY_KIB: u32 = 19 * 1024;
/// Passes over it.
const PASSES: u32 = 2;

fn argon2() -> Argon2<'static> {
    let params = Params::new(MEMORY_KIB, PASSES, 1, None).expect("within what Argon2 allows");
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// Hashes a PIN with 16 random bytes. `None`: the system gives no random bytes.
pub(crate) fn hash(pin: &Pin) -> Option<PinHash> {
    let mut salt = [0u8; 16];
    getrandom::fill(&mut salt).ok()?;
    let salt = SaltString::encode_b64(&salt).expect("16 bytes are a salt");
    let hash = argon2().hash_password(pin.digits().as_bytes(), &salt).ok()?;
    Some(PinHash(hash.to_string()))
}

/// The PIN is the one that was hashed. A hash that cannot be read, or that asks for more memory or time than ours, fits
/// no PIN.
pub(crate) fn fits(pin: &Pin, hash: &PinHash) -> bool {
    let Ok(hash) = PasswordHash::new(&hash.0) else { return false };
    let ours =
        Params::try_from(&hash).is_ok_and(|p| p.m_cost() <= MEMORY_KIB && p.t_cost() <= PASSES && p.p_cost() == 1);
    ours && argon2().verify_password(pin.digits().as_bytes(), &hash).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pin_fits_its_own_hash_and_no_other() {
        let one = hash(&Pin::typed("4711")).unwrap();
        let other = hash(&Pin::typed("4711")).unwrap();
        assert_ne!(one, other, "each has a salt of its own");
        assert!(fits(&Pin::typed("4711"), &one) && fits(&Pin::typed(" 4711 "), &other));
        for wrong in ["4712", "471", "47111", "", "1174"] {
            assert!(!fits(&Pin::typed(wrong), &one), "{wrong}");
        }
        assert!(!one.0.contains("4711"));
    }

    #[test]
    fn a_hash_that_is_none_or_asks_for_too_much_fits_nothing() {
        let ours = hash(&Pin::typed("4711")).unwrap().0;
        assert!(ours.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{ours}");
        let greedy = ours.replace("m=19456", "m=4194304");
        let long = ours.replace("t=2", "t=400000000");
        for text in ["", "4711", "$argon2id$", &ours[..40], &greedy, &long] {
            assert!(!fits(&Pin::typed("4711"), &PinHash(text.into())), "{text}");
        }
    }
}
