//! Runs of the world, from a seed.

use super::world::{Dice, World};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};

/// Turns of one run.
const TURNS: u64 = 400;
/// Ten years, milliseconds.
const TEN_YEARS: i64 = 315_576_000_000;

fn from_environment(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().map_or(otherwise, |text| text.parse().expect("a number"))
}

/// What happens to clock, machine and ledger.
fn world_event(world: &mut World, dice: &mut Dice) {
    match dice.below(20) {
        0..7 => world.pass(dice.below(90_000)),
        7..9 => world.pass(dice.below(20 * 60_000)),
        9 => world.pass(dice.below(5 * 3_600_000)),
        10..13 => world.set_wall(*dice.one_of(&[-TEN_YEARS, TEN_YEARS, 0, 6_000])),
        13..15 => world.kill(),
        15 => world.another_between(dice),
        16 => world.reboot(dice.below(600_000)),
        17 => world.readable = !world.readable,
        18 => world.carried_elsewhere(),
        _ => {
            let back = dice.below(60).min(world.entries.len() as u64);
            world.restored(world.entries.len() - usize::try_from(back).expect("few"));
        }
    }
}

fn run(seed: u64) -> (BTreeMap<&'static str, u64>, u64) {
    let mut dice = Dice::new(seed);
    let mut world = World::new(seed);
    // Some runs are calm and get deep, some are wild.
    let (nonsense, events) = *dice.one_of(&[(100, 20), (300, 60), (1_000, 200), (4_000, 500)]);
    for _ in 0..TURNS {
        if dice.in_10_000(events) {
            world_event(&mut world, &mut dice);
        } else if dice.in_10_000(nonsense) {
            world.anything(&mut dice);
        } else {
            if !world.readable && dice.in_10_000(2_000) {
                world.readable = true;
            }
            world.pass(dice.below(20_000));
            world.sensible(&mut dice);
        }
    }
    world.same_as_rebuilt();
    let mut seen = world.truth.seen;
    seen.insert("refused", world.refused);
    let begun = world.truth.jobs.values().filter(|job| job.has_procedure()).count();
    seen.insert("procedures begun", begun as u64);
    let own = world.truth.jobs.values().filter(|job| job.has_procedure() && job.own_file).count();
    seen.insert("of them changed files", own as u64);
    (seen, TURNS)
}

#[test]
fn nothing_gets_ahead_of_what_makes_it_safe() {
    let steps = from_environment("EVENWIRE_STEPS", 2_000);
    let mut seed = from_environment("EVENWIRE_SEED", 20_260_301);
    let mut all: BTreeMap<&'static str, u64> = BTreeMap::new();
    let mut taken = 0;
    while taken < steps {
        let (seen, turns) = catch_unwind(AssertUnwindSafe(|| run(seed))).unwrap_or_else(|why| {
            eprintln!("to see it again: EVENWIRE_SEED={seed} EVENWIRE_STEPS=1");
            resume_unwind(why)
        });
        seen.into_iter().for_each(|(what, times)| *all.entry(what).or_default() += times);
        taken += turns;
        seed += 1;
    }
    println!("{taken} turns: {all:?}");
    // A world in which nothing is ever done keeps every rule.
    for what in ["steps done", "readings", "refused", "closed as repaired", "closed otherwise", "supply seen"] {
        assert!(all.get(what).is_some_and(|times| *times > 0), "{what}: {all:?}");
    }
}
