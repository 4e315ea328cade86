//! The mechanics side by side with outside programs on one basket, in the same session: ratios of CPU seconds.
//!
//! Ours comes from the bench `mechanics` that has just run, theirs from `bench/peers/time_peers.py`. Without Python or
//! network there are no peers: that is said, and nothing fails.

use std::path::PathBuf;
use std::process::{Command, Stdio};

use anyhow::{Context, Result};
use serde_json::Value;

use crate::machine;

/// Prints how many times faster the mechanics hangs the peers' basket.
pub fn compare() -> Result<()> {
    let Some(python) = python() else {
        eprintln!(
            "xtask: no ratios to the peers: bench/peers/setup could not make their Python environment (it needs python3 and the network once)"
        );
        return Ok(());
    };
    eprintln!("xtask: {} bench/peers/time_peers.py", python.display());
    let output = Command::new(python)
        .arg("bench/peers/time_peers.py")
        .current_dir(machine::root())
        .stderr(Stdio::inherit())
        .output()
        .context("the peers' Python cannot be started")?;
    if !output.status.success() {
        eprintln!("xtask: no ratios to the peers: bench/peers/time_peers.py failed ({})", output.status);
        return Ok(());
    }
    let told: Value = serde_json::from_slice(&output.stdout).context("time_peers.py told no JSON")?;
    let ours = [1, 8].map(|elements| (elements, ours_s(elements)));
    println!("\none basket of 25 hooks in a current, CPU seconds, and how many times ours (elements an interval)");
    for (elements, seconds) in ours {
        match seconds {
            Some(seconds) => println!("{seconds:>14.3e} s  gear, cold, {elements} an interval"),
            None => {
                println!("             ?    gear, {elements} an interval: the bench mechanics has left no estimate")
            }
        }
    }
    for peer in told["peers"].as_array().into_iter().flatten() {
        let what = format!("{} {}: {}", text(&peer["peer"]), text(&peer["version"]), text(&peer["what"]));
        let Some(seconds) = peer["seconds_per_basket"].as_f64() else { continue };
        let ratios: Vec<String> = ours
            .iter()
            .filter_map(|(elements, ours_s)| ours_s.map(|ours_s| format!("{:.0}× ({elements})", seconds / ours_s)))
            .collect();
        println!("{seconds:>14.3e} s  {what}: {}", ratios.join(", "));
    }
    Ok(())
}

/// The peers' Python, made where it is not there yet.
fn python() -> Option<PathBuf> {
    let output = Command::new("bash")
        .arg("bench/peers/setup")
        .current_dir(machine::root())
        .stderr(Stdio::null())
        .output()
        .ok()
        .filter(|output| output.status.success())?;
    let path = String::from_utf8(output.stdout).ok()?;
    Some(PathBuf::from(path.lines().last()?.trim())).filter(|path| path.exists())
}

/// What criterion wrote of our own basket, seconds.
fn ours_s(elements: u32) -> Option<f64> {
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| machine::root().join("target"), PathBuf::from);
    let path = target
        .join("criterion/one basket as the peers hang it")
        .join(format!("{elements} an interval"))
        .join("new/estimates.json");
    let estimates: Value = serde_json::from_str(&std::fs::read_to_string(path).ok()?).ok()?;
    Some(estimates["mean"]["point_estimate"].as_f64()? * 1e-9)
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or("")
}
