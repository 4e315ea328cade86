//! Handling times and conditions, counted by hand.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "tests")]

mod support;

use quantity::testing::assert_within;
use records::handling::handling;
use support::{at, fish, set_of};
use voyage::CatchFate;

#[test]
fn verif_median_and_longest_by_step() {
    let mut set = set_of(100);
    set.fish.clear();
    // Bled after 60, 90, 150 and 600 s; gutted after 300 and 900 s; a step before the rail does not count.
    for (number, bled_s, gutted_s) in
        [(1, 60.0, Some(300.0)), (2, 600.0, Some(900.0)), (3, 90.0, None), (4, 150.0, None)]
    {
        let mut caught = fish("a", number, "BET", CatchFate::Retained, None, Some((1, 3)));
        caught.at = at(20.0);
        caught.condition = Some(if number == 2 { "dead" } else { "alive" }.to_owned());
        caught.steps = vec![(caught.at.plus_seconds(bled_s), "bled".to_owned(), None)];
        caught.steps.extend(gutted_s.map(|after_s| (caught.at.plus_seconds(after_s), "gutted".to_owned(), None)));
        caught.steps.push((caught.at.plus_seconds(-5.0), "rinsed".to_owned(), None));
        set.fish.push(caught);
    }
    let mut let_go = fish("b", 5, "BSH", CatchFate::Released, None, Some((1, 4)));
    let_go.condition = None;
    set.fish.push(let_go);
    let told = handling(&set);
    assert_eq!((told.kept, told.kept_without_steps), (4, 0));
    let names: Vec<&str> = told.steps.iter().map(|step| step.step.as_str()).collect();
    assert_eq!(names, ["bled", "gutted"], "the soonest first, nothing before the rail");
    assert_within("median of four, s", told.steps[0].median_s, 120.0, 1e-9);
    assert_within("longest, s", told.steps[0].worst_s, 600.0, 1e-9);
    assert_eq!(told.steps[0].worst_fish, 2);
    assert_within("median of two, s", told.steps[1].median_s, 600.0, 1e-9);
    let bet = &told.at_the_rail[0];
    assert_eq!((bet.alive, bet.dead, bet.not_told), (3, 1, 0));
    let bsh = &told.at_the_rail[1];
    assert_eq!((bsh.not_told, bsh.released), (1, 1));
}
