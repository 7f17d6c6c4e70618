//! The procedures that come with the program.

use super::*;

#[test]
fn every_built_in_procedure_is_right() {
    let wrong: Vec<String> = built_in()
        .into_iter()
        .filter_map(|(name, text)| Procedure::parse(text).err().map(|errors| format!("{name}\n{}", told(&errors))))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
