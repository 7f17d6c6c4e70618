//! What the hub says of itself is what was agreed on.

mod shop;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_hub::problem::Code;
use shop::Shop;
use std::collections::BTreeSet;

const KEPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/openapi.json");

#[tokio::test]
async fn the_description_is_the_one_that_was_agreed_on() {
    let shop = Shop::open().await;
    let phone = shop::Phone::new(&shop, "Bench 1");
    let served = phone.request(reqwest::Method::GET, "/v1/openapi.json").send().await.unwrap().text().await.unwrap();
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(KEPT, format!("{served}\n")).unwrap();
    }
    let kept = std::fs::read_to_string(KEPT).unwrap();
    assert!(kept == format!("{served}\n"), "the description changed: look at it, then run with UPDATE=1");
    let read: serde_json::Value = serde_json::from_str(&served).unwrap();
    assert!(read["openapi"].as_str().unwrap().starts_with("3.1"));
    let paths: Vec<&str> = read["paths"].as_object().unwrap().keys().map(String::as_str).collect();
    for path in ["/v1/hub", "/v1/pairings", "/v1/token", "/v1/devices/me", "/v1/devices/me/entries", "/v1/changes"] {
        assert!(paths.contains(&path), "{path}");
    }
}

/// Another program reads the description and asks whatever it allows, and what it does not: as somebody with a token, and as
/// somebody without. What a signature is no description can say, so that what is well formed may still be refused.
#[tokio::test(flavor = "multi_thread")]
async fn whatever_is_asked_the_hub_answers_as_it_describes() {
    const CHECKS: &str = "not_a_server_error,status_code_conformance,content_type_conformance,\
                          response_headers_conformance,response_schema_conformance,ignored_auth,unsupported_method";
    let program = std::env::var_os("EVENWIRE_SCHEMATHESIS");
    let program = program.expect("EVENWIRE_SCHEMATHESIS names the program that tests/scripts/schemathesis.sh prints");
    let shop = Shop::open().await;
    let phone = shop.phone("Bench 1").await;
    let authority = STANDARD.encode(shop.hub().app.certificates.authority());
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("authority.pem");
    std::fs::write(&file, format!("-----BEGIN CERTIFICATE-----\n{authority}\n-----END CERTIFICATE-----\n")).unwrap();
    let mut asking = std::process::Command::new(program);
    asking
        .args(["run", &format!("https://127.0.0.1:{}/v1/openapi.json", phone.port), "--checks", CHECKS])
        .args(["--header", &format!("Authorization: Bearer {}", phone.token), "--tls-verify"])
        .arg(&file)
        .args(["--max-examples", "25", "--seed", "26", "--no-color", "--workers", "2"])
        .current_dir(folder.path());
    let ran = tokio::task::spawn_blocking(move || asking.output()).await.unwrap().unwrap();
    let said = String::from_utf8_lossy(&ran.stdout);
    assert!(ran.status.success(), "{said}{}", String::from_utf8_lossy(&ran.stderr));
    let asked = said.lines().find(|line| line.contains(" generated,") || line.ends_with(" generated"));
    println!("{}", asked.expect("it says how many it asked").trim());
    // Everything that is described was asked: nothing was passed over without a word.
    assert!(said.contains("Selected: 13/13") && said.contains("Tested: 13"), "{said}");
}

#[test]
fn each_code_is_one_word_and_an_error() {
    let words: BTreeSet<&str> = Code::ALL.iter().map(|code| code.word()).collect();
    assert_eq!(words.len(), Code::ALL.len());
    for code in Code::ALL {
        assert!(code.word().bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'-'), "{code:?}");
        assert!(code.status().is_client_error() || code.status().is_server_error(), "{code:?}");
    }
}
