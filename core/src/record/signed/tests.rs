//! Signatures: made as published, found out when anything at all was changed.

use super::*;
use proptest::prelude::*;

fn bytes<const N: usize>(hex: &str) -> [u8; N] {
    let byte = |at: usize| u8::from_str_radix(&hex[at * 2..at * 2 + 2], 16).unwrap();
    assert_eq!(hex.len(), N * 2);
    std::array::from_fn(byte)
}

fn key(seed: u8) -> DeviceKey {
    DeviceKey::from_seed([seed; 32])
}

fn head() -> SignedHead {
    let job = SignedJob::of(Uuid::from_u128(7), [Hash::of(b"opened"), Hash::of(b"closed")]);
    SignedHead { device: Uuid::from_u128(1), sequence: 42, hash: Hash::of(b"closed"), job: Some(job) }
}

/// Seed, public key, message, signature: RFC 8032, 7.1, TEST 1, 2, 3 and SHA(abc).
const RFC_8032: [(&str, &str, &str, &str); 4] = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
    (
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f",
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac17ad9bef1177331a704",
    ),
];

#[test]
fn published_signatures_of_rfc_8032() {
    for (seed, public, message, signature) in RFC_8032 {
        let key = DeviceKey::from_seed(bytes(seed));
        let message: Vec<u8> = (0..message.len() / 2).map(|at| bytes::<1>(&message[at * 2..at * 2 + 2])[0]).collect();
        assert_eq!(key.public(), PublicKey(bytes(public)));
        assert_eq!(key.sign_bytes(&message), bytes(signature));
        assert_eq!(key.public().assert_signed(&message, &bytes(signature)), Ok(()));
        let other = [&message[..], b"!"].concat();
        assert_eq!(key.public().assert_signed(&other, &bytes(signature)), Err(SignatureError::Wrong));
    }
}

#[test]
fn the_published_jws_of_rfc_8037() {
    // Appendix A.1 (key), A.2 (public key), A.4 (signing), A.5 (verifying).
    let seed = BASE64URL.decode("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A").unwrap();
    let key = DeviceKey::from_seed(seed.try_into().unwrap());
    assert_eq!(String::from(key.public()), "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo");
    let (header, payload) = (r#"{"alg":"EdDSA"}"#, b"Example of Ed25519 signing");
    let jws = key.compact(header, payload);
    assert_eq!(
        jws,
        "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc.\
         hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
    );
    assert_eq!(key.public().read_compact(header, &jws), Ok(payload.to_vec()));
    assert_eq!(key.public().verify(HEAD, &jws), Err(SignatureError::Header), "ours says what it is and whose");
}

#[test]
fn a_fingerprint_is_the_beginning_of_the_sha_256_of_the_key_in_groups() {
    // SHA-256 of the public key of RFC 8037 A.2, by sha256sum.
    let key = PublicKey::try_from("11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo".to_owned()).unwrap();
    assert_eq!(key.fingerprint(), "21fe-31df-a154-a261-626b-f854-046f-d227");
    assert_eq!(
        format!("{:?}", DeviceKey::from_seed([1; 32])).matches('-').count(),
        7,
        "and the secret key tells no more"
    );
}

#[test]
fn a_key_has_one_spelling() {
    let text = String::from(key(1).public());
    assert_eq!(PublicKey::try_from(text.clone()), Ok(key(1).public()));
    let loose = format!("{}{}", &text[..42], (text.as_bytes()[42] + 1) as char);
    for wrong in ["", &text[1..], &format!("{text}="), &format!("{text}A"), &loose, &format!(" {text}")] {
        assert_eq!(PublicKey::try_from(wrong.to_owned()), Err(NotAKey), "{wrong:?}");
    }
}

#[test]
fn a_head_is_read_back_by_its_key_and_as_nothing_else() {
    let jws = head().sign(&key(1));
    assert_eq!(SignedHead::verify(&key(1).public(), &jws), Ok(head()));
    let header = jws.split('.').next().unwrap();
    let header = String::from_utf8(BASE64URL.decode(header).unwrap()).unwrap();
    let kid = key(1).public().fingerprint();
    assert_eq!(header, format!(r#"{{"alg":"EdDSA","typ":"evenwire-head","kid":"{kid}"}}"#));
    assert_eq!(SignedHead::verify(&key(2).public(), &jws), Err(SignatureError::Header));
    assert_eq!(key(1).public().verify("evenwire-other", &jws), Err(SignatureError::Header));
    // Another key that claims to be this one.
    let claimed = key(2).compact(&header, &serde_json::to_vec(&head()).unwrap());
    assert_eq!(SignedHead::verify(&key(1).public(), &claimed), Err(SignatureError::Wrong));
    // A signature of the right key over something that is no head.
    for other in ["{}", "", r#"{"device":"00000000-0000-0000-0000-000000000001"}"#] {
        let jws = key(1).sign(HEAD, other.as_bytes());
        assert!(matches!(SignedHead::verify(&key(1).public(), &jws), Err(SignatureError::Payload(_))), "{other}");
    }
    let added = serde_json::to_string(&head()).unwrap().replacen('{', r#"{"more":1,"#, 1);
    let jws = key(1).sign(HEAD, added.as_bytes());
    assert!(matches!(SignedHead::verify(&key(1).public(), &jws), Err(SignatureError::Payload(_))));
}

#[test]
fn a_header_that_says_the_same_otherwise_is_refused() {
    let kid = key(1).public().fingerprint();
    for header in [
        format!(r#"{{"typ":"evenwire-head","alg":"EdDSA","kid":"{kid}"}}"#),
        format!(r#"{{"alg":"EdDSA", "typ":"evenwire-head","kid":"{kid}"}}"#),
        format!(r#"{{"alg":"Ed25519","typ":"evenwire-head","kid":"{kid}"}}"#),
        format!(r#"{{"alg":"none","typ":"evenwire-head","kid":"{kid}"}}"#),
        format!(r#"{{"alg":"EdDSA","typ":"evenwire-head","kid":"{kid}","crit":["exp"]}}"#),
    ] {
        let jws = key(1).compact(&header, &serde_json::to_vec(&head()).unwrap());
        assert_eq!(SignedHead::verify(&key(1).public(), &jws), Err(SignatureError::Header), "{header}");
    }
}

#[test]
fn keys_under_which_anything_verifies_are_none() {
    // Points of small order, among them the neutral element: with R of the same sort and S = 0 they fit many texts.
    for weak in [bytes::<32>(&format!("01{}", "00".repeat(31))), [0; 32]] {
        let weak = PublicKey(weak);
        let mut signature = [0; 64];
        signature[0] = 1;
        let jws = format!("{}.e30.{}", BASE64URL.encode(weak.header(HEAD)), BASE64URL.encode(signature));
        assert!(SignedHead::verify(&weak, &jws).is_err_and(|e| !matches!(e, SignatureError::Payload(_))));
    }
    assert_eq!(PublicKey([2; 32]).assert_signed(b"", &[0; 64]), Err(SignatureError::Key), "not on the curve");
}

#[test]
fn a_job_is_the_hashes_of_its_entries_in_their_order() {
    let (id, one, two) = (Uuid::from_u128(7), Hash::of(b"1"), Hash::of(b"2"));
    let both = SignedJob::of(id, [one, two]);
    assert_eq!(both, SignedJob { id, entries: 2, hash: Hash::of_two(&one.0, &two.0) });
    assert_ne!(SignedJob::of(id, [two, one]).hash, both.hash);
    assert_eq!(SignedJob::of(id, []), SignedJob { id, entries: 0, hash: Hash::of(b"") });
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_changed_byte_of_a_signed_head_is_found(at in any::<prop::sample::Index>(), to in any::<u8>()) {
        let jws = head().sign(&key(1));
        let mut changed = jws.clone().into_bytes();
        let at = at.index(changed.len());
        prop_assume!(changed[at] != to);
        changed[at] = to;
        // What is no text any more does not come this far.
        if let Ok(changed) = String::from_utf8(changed) {
            prop_assert!(SignedHead::verify(&key(1).public(), &changed).is_err(), "{}", changed);
        }
    }

    #[test]
    fn any_text_is_a_signature_or_refused(text in "\\PC{0,300}", key_bytes in any::<[u8; 32]>()) {
        prop_assert!(SignedHead::verify(&PublicKey(key_bytes), &text).is_err());
    }

    #[test]
    fn whatever_is_signed_is_read_back_by_its_key_alone(seed in 3u8.., payload in prop::collection::vec(any::<u8>(), 0..200)) {
        let jws = key(seed).sign("evenwire-test", &payload);
        prop_assert_eq!(key(seed).public().verify("evenwire-test", &jws), Ok(payload));
        prop_assert!(key(1).public().verify("evenwire-test", &jws).is_err());
    }
}

/// Every byte of one, every bit of it.
#[test]
fn every_flipped_bit_of_a_jws_is_found() {
    let jws = head().sign(&key(1));
    for at in 0..jws.len() {
        for bit in 0..8 {
            let mut changed = jws.clone().into_bytes();
            changed[at] ^= 1 << bit;
            if let Ok(changed) = String::from_utf8(changed) {
                assert!(SignedHead::verify(&key(1).public(), &changed).is_err(), "byte {at}, bit {bit}");
            }
        }
    }
}
