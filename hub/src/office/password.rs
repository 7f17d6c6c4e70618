//! Passwords to hashes. A password is looked at here and nowhere else, and nothing of it is kept but the hash.

use argon2::password_hash::{PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use argon2::{Algorithm, Argon2, Params, Version};
use std::ops::RangeInclusive;
use std::sync::LazyLock;

/// Memory of one hash, KiB: the default of the library, and the first choice of common guidance for Argon2id.
const MEMORY_KIB: u32 = 19 * 1024;
/// Passes over it.
const PASSES: u32 = 2;
/// Characters of a password.
const LENGTH: RangeInclusive<usize> = 10..=200;

/// What a password is compared with where nobody has that name: it takes as long, and fits never.
static NOBODY: LazyLock<String> = LazyLock::new(|| hash_of("nobody is called so").unwrap_or_default());

fn argon2() -> Argon2<'static> {
    let params = Params::new(MEMORY_KIB, PASSES, 1, None).expect("within what Argon2 allows");
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

fn hash_of(password: &str) -> Option<String> {
    let salt = SaltString::encode_b64(&crate::app::random::<16>()).ok()?;
    argon2().hash_password(password.as_bytes(), &salt).ok().map(|hash| hash.to_string())
}

fn fits_hash(password: &str, hash: &str) -> bool {
    let Ok(hash) = PasswordHash::new(hash) else { return false };
    let ours =
        Params::try_from(&hash).is_ok_and(|p| p.m_cost() <= MEMORY_KIB && p.t_cost() <= PASSES && p.p_cost() == 1);
    ours && argon2().verify_password(password.as_bytes(), &hash).is_ok()
}

/// Whether it has as many characters as one has to have.
pub(super) fn is_long_enough(password: &str) -> bool {
    LENGTH.contains(&password.chars().count())
}

/// Hashes a password with 16 random bytes, on a thread that may take its time. `None`: it cannot be done.
pub(super) async fn hash(password: String) -> Option<String> {
    tokio::task::spawn_blocking(move || hash_of(&password)).await.ok().flatten()
}

/// Whether the password is the one that was hashed. Without a hash it takes as long, and is not.
pub(super) async fn fits(password: String, hash: Option<String>) -> bool {
    let compare = move || {
        let known = hash.as_deref().filter(|hash| !hash.is_empty());
        let same = fits_hash(&password, known.unwrap_or(&NOBODY));
        same && known.is_some()
    };
    tokio::task::spawn_blocking(compare).await.unwrap_or(false)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_fits_its_own_hash_and_no_other() {
        let (one, other) = (hash_of("copper kettle").unwrap(), hash_of("copper kettle").unwrap());
        assert_ne!(one, other, "each has a salt of its own");
        assert!(one.starts_with("$argon2id$v=19$m=19456,t=2,p=1$") && !one.contains("copper"), "{one}");
        assert!(fits_hash("copper kettle", &one) && fits_hash("copper kettle", &other));
        for wrong in ["copper kettl", "Copper kettle", "copper kettle ", ""] {
            assert!(!fits_hash(wrong, &one), "{wrong}");
        }
        let greedy = one.replace("m=19456", "m=4194304");
        for none in ["", "copper kettle", &one[..40], &greedy] {
            assert!(!fits_hash("copper kettle", none), "{none}");
        }
    }

    #[tokio::test]
    async fn nobody_has_no_password() {
        for hash in [None, Some(String::new())] {
            assert!(!fits("nobody is called so".into(), hash).await);
        }
    }

    #[test]
    fn a_password_has_ten_characters_whatever_they_are() {
        assert!(!is_long_enough("äöüäöüäöü") && is_long_enough("äöüäöüäöüß"));
        assert!(is_long_enough(&"x".repeat(200)) && !is_long_enough(&"x".repeat(201)));
    }
}
