//! The process is killed at random points: nothing acknowledged is missing, nothing is doubled,
//! the chain holds.

use std::collections::BTreeSet;
use std::process::{Child, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::run::{Desk, logger, unit};

const KILLS: usize = 200;
const FILES: u32 = 60;
const ROWS: u32 = 4000;

/// A small generator for waiting times; the seed is printed with a failure.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

fn list(k: usize) -> String {
    let mut text = String::from("unit,stow,size_type,full,set_point_c\n");
    for n in 0..40u32 {
        let tier = 82 + 2 * ((k + n as usize) % 4);
        text += &format!("{},{:03}01{tier},45R1,true,-18.0\n", unit(n), 2 + 4 * n);
    }
    text
}

fn start(d: &Desk, args: &[&str]) -> Child {
    let mut c = d.command(args);
    c.stdout(Stdio::piped()).stderr(Stdio::null());
    c.spawn().unwrap()
}

/// Runs a command and kills it after `wait`; true when it had acknowledged before.
fn killed(d: &Desk, args: &[&str], wait: Duration) -> bool {
    let mut child = start(d, args);
    sleep(wait);
    // SIGKILL on Unix: no handler can run.
    child.kill().unwrap();
    let out = child.wait_with_output().unwrap();
    out.status.success() || !out.stdout.is_empty()
}

#[test]
fn killed_at_random_points() {
    let d = Desk::new();
    for n in 0..FILES {
        d.file(&format!("log{n}.csv"), logger(n * (ROWS / 40), ROWS));
    }
    for k in 0..4 {
        d.file(&format!("list{k}.csv"), list(k));
    }
    // How long a whole command takes here, so that the kills fall all over it.
    let before = Instant::now();
    d.json(&["take", "log0.csv", "--voyage", "warm"]);
    let mut window_us = before.elapsed().as_micros() as u64;
    let seed = u64::from(std::process::id());
    let mut dice = Dice(seed);
    let mut acknowledged = BTreeSet::new();
    let (mut acks, mut cut) = (0usize, 0usize);
    // Kills go on until enough of them hit a command at work, whatever else the computer does.
    let mut k = 0;
    while k < KILLS || (cut < KILLS / 4 && k < 4 * KILLS) {
        k += 1;
        let wait = Duration::from_micros(dice.below(window_us));
        let file = format!("log{}.csv", dice.below(u64::from(FILES)));
        let is_load = dice.below(5) == 0;
        let list = format!("list{}.csv", dice.below(4));
        let args = if is_load { ["load", &list] } else { ["take", &file] };
        let all = [args[0], args[1], "--voyage", "v.holdfast", "--json"];
        if killed(&d, &all, wait) {
            acks += 1;
            if !is_load {
                acknowledged.insert(file);
            }
            window_us = (window_us * 98 / 100).max(2000);
        } else {
            cut += 1;
            window_us = window_us * 103 / 100;
        }
        if k % 20 == 0 && d.path().join("v.holdfast").exists() {
            let v = d.json(&["verify", "v.holdfast"]);
            assert_eq!(v["intact"], true, "seed {seed}, kill {k}: {v}");
        }
    }
    println!("{KILLS} kills: {cut} before the acknowledgement, {acks} after");
    assert!(
        cut > KILLS / 5 && acks > KILLS / 20,
        "kills fell on one side: {cut} / {acks}, seed {seed}"
    );
    for file in &acknowledged {
        let r = d.json(&["take", file, "--voyage", "v.holdfast"]);
        assert_eq!(r["already_held"], r["rows"], "seed {seed}: {file} was acknowledged and lost");
    }
    for n in 0..FILES {
        d.json(&["take", &format!("log{n}.csv"), "--voyage", "v.holdfast"]);
    }
    let each = u64::from(FILES * ROWS / 40);
    for k in [0, 17, 39] {
        let b = d.json(&["box", &unit(k), "--voyage", "v.holdfast"]);
        let held = b["readings"].as_array().unwrap().len() as u64;
        assert_eq!(held, each, "seed {seed}: readings missing or doubled");
    }
    assert_eq!(d.json(&["verify", "v.holdfast"])["intact"], true);
}
